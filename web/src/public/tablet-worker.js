// @ts-check
/**
 * Keeps a tablet's page and dossier on the tablet. The page says what to keep, by address and SHA-256; a
 * list that is here whole is answered from, and the one before it is dropped only then.
 */

/** The scope of a service worker, of which the page's types know nothing. @type {any} */
const scope = self;
const NAME = "ganosis-tablet ";
/** Stands in a cache whose list is whole. */
const WHOLE = new URL("whole", scope.registration.scope).href;

scope.addEventListener("install", () => scope.skipWaiting());
scope.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(scope.clients.claim()));

/** Caches that are whole, the newest first. @returns {Promise<Cache[]>} */
async function whole() {
  const names = (await caches.keys()).filter((name) => name.startsWith(NAME)).sort().reverse();
  const all = await Promise.all(names.map((name) => caches.open(name)));
  const marks = await Promise.all(all.map((cache) => cache.match(WHOLE)));
  return all.filter((_, index) => marks[index]);
}

scope.addEventListener("fetch", (/** @type {any} */ event) => {
  const { request } = event;
  // The page asks for its list past this, to hear of what is new.
  if (request.method !== "GET" || request.cache === "no-store" || !request.url.startsWith(scope.location.origin)) return;
  event.respondWith((async () => {
    const [cache] = await whole();
    return (await cache?.match(request, { ignoreSearch: request.mode === "navigate" })) ?? fetch(request);
  })());
});

/** @param {Response} response */
async function digest(response) {
  const bits = await crypto.subtle.digest("SHA-256", await response.clone().arrayBuffer());
  return [...new Uint8Array(bits)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** @param {{name: string, files: {url: string, sha256: string | null}[]}} list @param {(done: number) => void} progress */
async function keep({ name, files }, progress) {
  const old = await whole();
  const cache = await caches.open(NAME + name);
  let done = 0;
  for (const { url, sha256 } of files) {
    // What is known by its hash and was kept before is not fetched again.
    const before = sha256 ? await Promise.all([cache, ...old].map((one) => one.match(url))) : [await cache.match(url)];
    let found = null;
    for (const one of before) if (one && (!sha256 || await digest(one) === sha256)) found ??= one;
    if (!found) {
      found = await fetch(url, { cache: "no-store" });
      if (!found.ok) throw new Error(`${url}: HTTP ${found.status}`);
      if (sha256 && await digest(found) !== sha256) throw new Error(`${url} is not what the list says; lay the viewer out again.`);
    }
    await cache.put(url, found);
    progress(++done);
  }
  await cache.put(WHOLE, new Response(JSON.stringify({ files: done })));
  for (const other of await caches.keys()) if (other.startsWith(NAME) && other !== NAME + name) await caches.delete(other);
}

scope.addEventListener("message", (/** @type {any} */ event) => {
  const [port] = event.ports;
  event.waitUntil(keep(event.data, (done) => port.postMessage({ done })).then(
    () => port.postMessage({ whole: true }),
    (error) => port.postMessage({ error: String(error instanceof Error ? error.message : error) }),
  ));
});
