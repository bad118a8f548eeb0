// Stand-ins for what a browser has and Node has not: a database in memory, and locks between tabs.

/** A request of IndexedDB: settles in a later task, as the standard has it. */
function request(work) {
  const made = { onsuccess: null, onerror: null, onupgradeneeded: null, result: undefined, error: null };
  setTimeout(() => {
    try {
      made.result = work(made);
      made.onsuccess?.();
    } catch (error) {
      made.error = error;
      made.onerror?.();
    }
  }, 0);
  return made;
}

/** As much of `indexedDB` as drafts use; what is kept is cloned in and out. */
export function database() {
  const stores = new Map();
  const store = (name) => {
    const { keyPath, indexes, rows } = stores.get(name);
    return {
      createIndex: (index, path) => indexes.set(index, path),
      put: (row) => request(() => void rows.set(row[keyPath], structuredClone(row))),
      delete: (key) => request(() => void rows.delete(key)),
      index: (index) => ({
        getAll: (value) => request(() => [...rows.values()].filter((row) => row[indexes.get(index)] === value).map((row) => structuredClone(row))),
      }),
    };
  };
  const opened = {
    createObjectStore: (name, { keyPath }) => {
      stores.set(name, { keyPath, indexes: new Map(), rows: new Map() });
      return store(name);
    },
    transaction: () => ({ objectStore: store }),
    close: () => {},
  };
  return {
    rows: (name) => [...(stores.get(name)?.rows.values() ?? [])],
    open: () => request((made) => {
      made.result = opened;
      if (stores.size === 0) made.onupgradeneeded?.();
      return opened;
    }),
  };
}

/** As much of `navigator.locks` as drafts use. */
export function locks() {
  const held = new Set();
  return {
    async request(name, { signal }, work) {
      held.add(name);
      try {
        return await work({ name });
      } finally {
        held.delete(name);
        signal.throwIfAborted();
      }
    },
    query: async () => ({ held: [...held].map((name) => ({ name })) }),
  };
}
