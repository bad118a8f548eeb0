// @ts-check
/** Where a dossier's files come from: a folder on a server (also of one mesh), or a zip. */
import { ViewerError } from "./errors.js";
import { fetchBytes } from "./fetch.js";
import { ZipError, entriesOf, unpack } from "./zip.js";

/**
 * @typedef {object} Reading
 * @property {AbortSignal} signal
 * @property {import("./fetch.js").Progress} [progress]
 * @property {number} [stall_ms] how long the server may be silent; holds for everything read later
 */

/**
 * @typedef {object} Source
 * @property {string} name of the document, which `read` gives
 * @property {string} address of the document, or of the archive that it is in
 * @property {string | null} folder address of the folder that the files lie in; null: an archive
 * @property {() => string[] | null} list every file; null: only the document tells
 * @property {(path: string, bytes: Uint8Array) => void} add a file that is not saved yet
 * @property {(path: string, reading: Reading) => Promise<Uint8Array>} read
 * @property {(path: string, media_type: string) => Promise<{href: string, download: boolean}>} link for a person to follow
 * @property {(path: string, media_type: string) => Promise<string>} picture address for an `img`
 * @property {() => void} close
 */

/**
 * @param {string} src of the element
 * @param {Reading} reading
 * @returns {Promise<{source: Source, document: Uint8Array}>}
 */
export async function openSource(src, reading) {
  const address = documentAddress(src);
  if (OTHER_MESHES.test(address.pathname)) throw new ViewerError({ key: "kind", file: lastPart(address), detail: "" });
  if (/\.zip$/i.test(address.pathname)) {
    const source = withAdded(await openZip(address, reading));
    return { source, document: await source.read(source.name, reading) };
  }
  const source = withAdded(folder(address, reading.stall_ms));
  return { source, document: await source.read(source.name, reading) };
}

/** Files of surfaces in other formats, which a person may well try. */
const OTHER_MESHES = /\.(obj|mtl|ply|stl|fbx|dae|3ds|x3d|wrl|usd[acz]?|las|laz|xyz|off|step|stp|iges)$/i;

/** What a `src` names, for messages. @param {string} src */
export function nameOf(src) {
  return lastPart(documentAddress(src));
}

/** A folder with a dossier, the JSON itself, one surface, or a zip. @param {string} src */
function documentAddress(src) {
  const address = new URL(src, document.baseURI);
  if (!/\.(json|glb|gltf|zip)$/i.test(address.pathname) && !OTHER_MESHES.test(address.pathname)) {
    if (!address.pathname.endsWith("/")) address.pathname += "/";
    address.pathname += "dossier.json";
  }
  return address;
}

/** @param {URL} address */
function lastPart(address) {
  const part = address.pathname.split("/").pop() ?? "";
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

/** What openers give, before files are added to it. @typedef {Omit<Source, "add">} Given */

/**
 * A source that also gives what somebody has laid beside the dossier and not saved yet.
 * @param {Given} given @returns {Source}
 */
function withAdded(given) {
  /** @type {Map<string, {bytes: Uint8Array, address: string}>} */
  const added = new Map();
  /** @param {string} path @param {string} type */
  const addressOf = (path, type) => {
    const file = added.get(path);
    if (file && !file.address) file.address = URL.createObjectURL(new Blob([/** @type {BlobPart} */ (file.bytes)], { type: harmless(type) }));
    return file?.address;
  };
  return {
    ...given,
    list: () => given.list()?.concat([...added.keys()]) ?? null,
    add: (path, bytes) => void added.set(path, { bytes, address: "" }),
    read: async (path, reading) => added.get(path)?.bytes.slice() ?? given.read(path, reading),
    link: async (path, type) => {
      const href = addressOf(path, type);
      return href ? { href, download: true } : given.link(path, type);
    },
    picture: async (path, type) => addressOf(path, type) ?? given.picture(path, type),
    close: () => {
      for (const { address } of added.values()) if (address) URL.revokeObjectURL(address);
      added.clear();
      given.close();
    },
  };
}

/** @param {URL} address of the document @param {number | undefined} stall_ms @returns {Given} */
function folder(address, stall_ms) {
  const base = new URL(".", address).href;
  const name = lastPart(address);
  /** @param {string} path */
  const at = (path) => (path === name ? address.href : new URL(`./${path.split("/").map(encodeURIComponent).join("/")}`, base).href);
  return {
    name, address: address.href, folder: base, list: () => null,
    read: (path, { signal, progress }) => fetchBytes(at(path), { signal, file: path, progress, stall_ms }),
    link: async (path) => ({ href: at(path), download: false }),
    picture: async (path) => at(path),
    close: () => {},
  };
}

/** Types that a new page shows without running anything in it. */
const HARMLESS = /^(image\/(png|jpeg|webp|gif|avif)|text\/(csv|plain)|application\/pdf)$/;

/** A page made of an attachment would have the rights of this one: what could run is only saved. @param {string} type */
const harmless = (type) => (HARMLESS.test(type) ? type : "application/octet-stream");

/** @param {URL} address @param {Reading} reading @returns {Promise<Given>} */
async function openZip(address, { signal, progress, stall_ms }) {
  const file = lastPart(address);
  const archive = await fetchBytes(address.href, { signal, file, progress, stall_ms });
  const entries = inWords(file, () => entriesOf(archive));
  if (!entries.has("dossier.json")) throw new ViewerError({ key: "zip", file, detail: "There is no dossier.json in it. Zip the folder of a dossier." });
  /** @type {Map<string, string>} */
  const made = new Map();
  /** @param {string} path */
  const read = async (path) => {
    const entry = entries.get(path);
    if (!entry) throw new ViewerError({ key: "missing", file: path, detail: "" });
    try {
      return await unpack(archive, entry);
    } catch (error) {
      throw error instanceof ZipError ? new ViewerError({ key: "zip", file: path, detail: error.message }) : error;
    }
  };
  /** @param {string} path @param {string} type */
  const addressOf = async (path, type) => {
    const known = made.get(`${type} ${path}`);
    if (known) return known;
    const address = URL.createObjectURL(new Blob([/** @type {BlobPart} */ (await read(path))], { type }));
    made.set(`${type} ${path}`, address);
    return address;
  };
  return {
    name: "dossier.json", address: address.href, folder: null, list: () => [...entries.keys()],
    read,
    link: async (path, type) => ({ href: await addressOf(path, harmless(type)), download: true }),
    picture: addressOf,
    close: () => {
      for (const address of made.values()) URL.revokeObjectURL(address);
      made.clear();
    },
  };
}

/** @template T @param {string} file @param {() => T} work @returns {T} */
function inWords(file, work) {
  try {
    return work();
  } catch (error) {
    throw error instanceof ZipError ? new ViewerError({ key: "zip", file, detail: error.message }) : error;
  }
}
