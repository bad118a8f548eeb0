// @ts-check
/**
 * Drafts: what is not saved yet, kept in this browser (IndexedDB), so that a closed tab or a power cut
 * takes no work away. A draft belongs to one dossier, by address and id, and to the tab that writes it:
 * two tabs do not write over one another's. A tab that is open holds a lock of its draft's name, so
 * that only what nobody works on is offered.
 */

/**
 * @typedef {object} Draft
 * @property {string} key
 * @property {string} dossier
 * @property {number} revision that it was made from
 * @property {number} when milliseconds since 1970
 * @property {string} text of `dossier.json`
 * @property {{sheet: string, bytes: Uint8Array}[]} maps region maps that differ, as PNG
 * @property {{path: string, bytes: Uint8Array}[]} files laid beside it
 */

/** @typedef {Pick<LockManager, "request" | "query">} Locks */

const [DATABASE, STORE, BY_DOSSIER] = ["ganosis-drafts", "drafts", "dossier"];

export class Drafts {
  #dossier;
  #key;
  #store;
  #locks;
  #ended = new AbortController();

  /**
   * @param {object} options
   * @param {string} options.address of the document
   * @param {string} options.id of the dossier
   * @param {IDBFactory | undefined} [options.database] undefined: this browser keeps nothing
   * @param {Locks | undefined} [options.locks] only where the page came by a safe way (Web Locks, W3C)
   * @param {string} [options.tab] of all tabs this one
   */
  constructor({ address, id, database = globalThis.indexedDB, locks = globalThis.navigator?.locks, tab = randomName() }) {
    this.#dossier = `${address}\n${id}`;
    this.#key = `${this.#dossier}\n${tab}`;
    this.#locks = locks;
    this.#store = database ? opened(database) : null;
    this.#store?.catch(() => {});
    void locks?.request(this.#key, { signal: this.#ended.signal }, () => new Promise((done) => {
      this.#ended.signal.addEventListener("abort", () => done(null), { once: true });
    })).catch(() => {});
  }

  /** Drafts of this dossier that no open tab works on, the latest first. @returns {Promise<Draft[]>} */
  async left() {
    const store = await this.#ready();
    if (!store) return [];
    /** @type {Draft[]} */
    const all = await settled(store.transaction(STORE).objectStore(STORE).index(BY_DOSSIER).getAll(this.#dossier));
    const held = new Set((await this.#locks?.query())?.held?.map(({ name }) => name) ?? []);
    return all.filter(({ key }) => key !== this.#key && !held.has(key)).sort((a, b) => b.when - a.when);
  }

  /** Keeps the draft of this tab. @param {Omit<Draft, "key" | "dossier">} draft @returns {Promise<boolean>} false: this browser keeps nothing */
  async keep(draft) {
    const store = await this.#ready();
    if (!store) return false;
    await settled(store.transaction(STORE, "readwrite").objectStore(STORE).put({ ...draft, key: this.#key, dossier: this.#dossier }));
    return true;
  }

  /** @param {string} [key] of another draft than this tab's */
  async forget(key = this.#key) {
    const store = await this.#ready();
    if (store) await settled(store.transaction(STORE, "readwrite").objectStore(STORE).delete(key));
  }

  /** Lets go of this tab's draft, which stays. */
  async close() {
    this.#ended.abort();
    (await this.#ready())?.close();
  }

  async #ready() {
    try {
      return await this.#store;
    } catch {
      // Private windows of some browsers have no database.
      return null;
    }
  }
}

const randomName = () => Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16).padStart(2, "0")).join("");

/** @param {IDBFactory} database @returns {Promise<IDBDatabase>} */
function opened(database) {
  const request = database.open(DATABASE, 1);
  request.onupgradeneeded = () => {
    request.result.createObjectStore(STORE, { keyPath: "key" }).createIndex(BY_DOSSIER, "dossier");
  };
  return settled(request);
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
function settled(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error ?? new Error("This browser could not keep the draft."));
  });
}
