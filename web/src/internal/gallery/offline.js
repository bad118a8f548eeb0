// @ts-check
/** Keeping everything on the tablet: asks the service worker to, by the list of the viewer and of the dossier. */
import { hex } from "./code.js";

const KEPT = "ganosis-gallery-kept";

/** Fields of a dossier that name a file beside it. */
const NAMES_A_FILE = new Set(["file", "spectrum", "audio", "captions"]);

/** Every file that a document names, wherever: also fields that this version does not know. @param {unknown} value @returns {string[]} */
export function filesIn(value) {
  if (Array.isArray(value)) return value.flatMap(filesIn);
  if (typeof value !== "object" || value === null) return [];
  return Object.entries(value).flatMap(([name, inner]) => (typeof inner === "string" ? (NAMES_A_FILE.has(name) && !/^[a-z][a-z0-9+.-]*:|^$/i.test(inner) ? [inner] : []) : filesIn(inner)));
}

/** Letters of a tile's name. */
const NAME_LETTERS = 16;

/** Lists of tiles that a document names. @param {any} document @returns {string[]} */
export function tileLists(document) {
  const images = [...(document.layers ?? []), document.region_map].flatMap((one) => one?.images ?? []);
  return images.flatMap((image) => (typeof image.tiles?.index === "string" ? [image.tiles.index] : []));
}

/** Every tile of a list, each file once. @param {string} index path of the list @param {{ending: string, levels: {names: string}[]}} list */
export function tileFiles(index, { ending, levels }) {
  const folder = index.slice(0, index.lastIndexOf("/") + 1);
  const names = levels.map(({ names: all }) => all).join("");
  const found = Array.from({ length: Math.floor(names.length / NAME_LETTERS) }, (_, at) => names.slice(at * NAME_LETTERS, (at + 1) * NAME_LETTERS));
  return [...new Set(found)].map((name) => `${folder}${name.slice(0, 2)}/${name}.${ending}`);
}

/** What is kept whole. @returns {Promise<{name: string, files: number, when: string} | null>} */
export async function keptNow() {
  try {
    return JSON.parse(localStorage.getItem(KEPT) ?? "null");
  } catch {
    return null;
  }
}

/**
 * Everything that this page may ask for: `{url, sha256}`, the hash where a list tells it.
 * @param {URL} base folder of the viewer's own files @param {string} src of the dossier
 */
async function listOf(base, src) {
  const get = async (/** @type {URL} */ url) => {
    const response = await fetch(url, { cache: "no-store" });
    if (!response.ok) throw new Error(`${url}: HTTP ${response.status}`);
    return response;
  };
  const { files } = await (await get(new URL("files.json", base))).json();
  /** @type {Map<string, string | null>} */
  const list = new Map(Object.entries(files).map(([path, hash]) => [new URL(path, base).href, String(hash)]));
  const address = new URL(src, document.baseURI);
  if (/\.(zip|glb|gltf)$/i.test(address.pathname)) list.set(address.href, null);
  else {
    if (!/\.json$/i.test(address.pathname)) address.pathname = `${address.pathname.replace(/\/?$/, "/")}dossier.json`;
    const bytes = await (await get(address)).arrayBuffer();
    list.set(address.href, await digest(bytes));
    const dossier = JSON.parse(new TextDecoder().decode(bytes));
    const add = (/** @type {string} */ file) => {
      const url = new URL(file.split("/").map(encodeURIComponent).join("/"), address);
      list.set(url.href, null);
      return url;
    };
    for (const file of filesIn(dossier)) add(file);
    for (const index of tileLists(dossier)) for (const file of tileFiles(index, await (await get(add(index))).json())) add(file);
    const surface = dossier.surface?.file;
    if (typeof surface === "string" && /\.gltf$/i.test(surface)) {
      const mesh = new URL(surface, address);
      const gltf = await (await get(mesh)).json();
      for (const { uri } of [...(gltf.buffers ?? []), ...(gltf.images ?? [])]) if (uri && !/^data:/.test(uri)) list.set(new URL(uri, mesh).href, null);
    }
  }
  return [...list].map(([url, sha256]) => ({ url, sha256 }));
}

/** @param {BufferSource} bytes */
const digest = async (bytes) => hex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));

/**
 * Keeps all of it; without a network what was kept before stays.
 * @param {{base: URL, src: string, progress?: (done: number, of: number) => void}} options
 * @returns {Promise<"kept" | "as-before" | "impossible">}
 */
export async function keepAll({ base, src, progress }) {
  const workers = navigator.serviceWorker;
  if (!workers || !globalThis.crypto?.subtle) return "impossible";
  await workers.register(new URL("tablet-worker.js", base));
  const { active } = await workers.ready;
  if (!active) return "impossible";
  let files;
  try {
    files = await listOf(base, src);
  } catch (error) {
    if (await keptNow()) return "as-before";
    throw error;
  }
  const print = await digest(new TextEncoder().encode(JSON.stringify(files)));
  const before = await keptNow();
  // The hour first, so that the newest list is told by its name; a list that is the same keeps its name.
  const name = before?.name.endsWith(print.slice(0, 12)) ? before.name : `${new Date().toISOString().slice(0, 19)} ${print.slice(0, 12)}`;
  await new Promise((done, fail) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = ({ data }) => {
      if (data.whole) done(null);
      else if (data.error) fail(new Error(data.error));
      else progress?.(data.done, files.length);
    };
    active.postMessage({ name, files }, [port2]);
  });
  localStorage.setItem(KEPT, JSON.stringify({ name, files: files.length, when: new Date().toISOString() }));
  await navigator.storage?.persist?.().catch(() => false);
  return "kept";
}
