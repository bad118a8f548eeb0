// @ts-check
/** From a `src` to an open dossier: its document and the viewer, fetched side by side. */
import { createHandle, giveBack, probeBackends } from "./backend.js";
import { Porter } from "./porter/porter.js";
import { openSource } from "./source.js";

/**
 * @typedef {object} Opened
 * @property {import("../types.d.ts").ViewerHandle} handle
 * @property {import("./backend.js").BackendName} backend
 * @property {HTMLCanvasElement} canvas
 * @property {import("./source.js").Source} source
 * @property {import("./porter/porter.js").Porter} porter
 * @property {Uint8Array} document as it was read
 * @property {Ahead | null} ahead
 */

/**
 * The mesh, which comes while the viewer itself is still on its way.
 * @typedef {object} Ahead
 * @property {string} path of its file
 * @property {Promise<import("./porter/porter.js").OpenedMesh>} mesh
 * @property {Parameters<import("./fetch.js").Progress>} come bytes so far, and of how many
 * @property {import("./fetch.js").Progress} heard told of what comes; whoever waits puts its own in place
 */

/** Gives everything back. @param {Omit<Opened, "document" | "ahead">} opened */
export function close({ handle, backend, canvas, source, porter }) {
  porter.close();
  source.close();
  giveBack({ handle, canvas, backend });
}

/**
 * @param {object} options
 * @param {string} options.src
 * @param {string | null} options.backend only this one, when given
 * @param {number | undefined} options.stall_ms how long a server may be silent
 * @param {number | undefined} options.tile_mib memory for tiles
 * @param {URL} options.base folder of the viewer's own files
 * @param {AbortSignal} options.signal
 * @param {() => HTMLCanvasElement} options.freshCanvas
 * @param {(what: "viewer" | "start", received: number, total: number | null) => void} options.progress
 * @param {import("./modes.js").Mode["arrange"]} [options.arrange] changes the document first
 * @returns {Promise<Opened | null>} null: ended meanwhile
 */
export async function openDossier({ src, backend, stall_ms, tile_mib, base, signal, freshCanvas, progress, arrange }) {
  const reading = openSource(src, { signal, ...(stall_ms && { stall_ms }), progress: (received, total) => progress("start", received, total) });
  const making = probeBackends(backend).then((backends) => createHandle({
    backends, base, freshCanvas, tile_mib, progress: (received, total) => progress("viewer", received, total),
  }));
  // Its module comes meanwhile.
  const porter = new Porter(signal);
  /** @type {Ahead | null} */
  let ahead = null;
  reading.then(({ source, document }) => {
    porter.source = source;
    ahead = meshAhead(source, document, porter, signal);
  }).catch(() => {});
  const [read, made] = await Promise.allSettled([reading, making]);
  const failed = read.status === "rejected" ? read : made.status === "rejected" ? made : null;
  if (failed || signal.aborted) {
    porter.close();
    if (made.status === "fulfilled") giveBack(made.value);
    if (read.status === "fulfilled") read.value.source.close();
    if (signal.aborted) return null;
    throw failed?.reason;
  }
  const { source, document: found } = /** @type {PromiseFulfilledResult<Awaited<typeof reading>>} */ (read).value;
  const document = await arrange?.({ source, document: found }) ?? found;
  const opened = { ...(/** @type {PromiseFulfilledResult<Awaited<typeof making>>} */ (made)).value, source, porter, document, ahead };
  try {
    opened.handle.open(source.name, document);
  } catch (error) {
    close(opened);
    throw error;
  }
  // Reading the document is a task of its own, and what the page does with it another.
  await new Promise((done) => { setTimeout(done); });
  if (signal.aborted) {
    close(opened);
    return null;
  }
  return opened;
}

/** @param {import("./source.js").Source} source @param {Uint8Array} document @param {Porter} porter @param {AbortSignal} signal @returns {Ahead | null} */
function meshAhead(source, document, porter, signal) {
  const path = meshOf(source.name, document);
  if (!path) return null;
  /** @type {Ahead} */
  const ahead = { path, come: [0, null], heard: () => {}, mesh: Promise.reject(new Error("not begun")) };
  ahead.mesh.catch(() => {});
  const bytes = path === source.name ? Promise.resolve(document)
    : source.read(path, { signal, progress: (...come) => { ahead.come = come; ahead.heard(...come); } });
  ahead.mesh = bytes.then((file) => porter.open(file, path));
  // Who waits for it hears of a failure.
  ahead.mesh.catch(() => {});
  return ahead;
}

/** The path of the mesh that is wanted first; "" where the viewer will say what is wrong. @param {string} name @param {Uint8Array} document */
function meshOf(name, document) {
  const text = new TextDecoder().decode(document.subarray(0, 4));
  if (text === "glTF") return name;
  try {
    const json = JSON.parse(new TextDecoder().decode(document));
    if (json.asset && !json.format) return name;
    const path = json.surface?.levels?.[0]?.file ?? json.surface?.file;
    return typeof path === "string" ? path : "";
  } catch {
    return "";
  }
}
