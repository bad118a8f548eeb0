// @ts-check
/**
 * The porter: opens meshes and greyscale images before the viewer takes them in, in a worker, so that the
 * page never waits. All pictures of a page share one. Where a page's policy allows no worker the same is
 * done on the page.
 */
import { Remote } from "../remote.js";
import { sentenceOf } from "../errors.js";
import { BASE } from "../site/base.js";

/** @typedef {import("./porting.js").OpenedMesh} OpenedMesh */
/** @typedef {import("./porting.js").MeshTree} MeshTree */
/** @typedef {import("./porting.js").Grey} Grey */
/** @typedef {import("../source.js").Source} Source */

/** A module's memory never shrinks: after a mesh of more bytes its worker is let go (a choice of ours). */
const LARGE_BYTES = 64 << 20;

/** Without a picture the worker waits so long for one, ms: pictures that take turns share it (a choice of ours). */
const UNUSED_MS = 10_000;

/** @type {Remote | null} */
let remote = null;
/** No worker can be had. @type {Promise<typeof import("./porting.js")> | null} */
let here = null;
/** Calls that are not answered yet. */
let calls = 0;
/** The worker holds much memory that nobody needs any more. */
let heavy = false;
/** The open pictures by their numbers. @type {Map<number, Porter>} */
const pictures = new Map();
let last = 0;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let timer;

/** The worker, which starts when it is first asked for. */
function worker() {
  if (remote || here) return remote;
  /** @param {string} own number of the picture and path @param {import("../source.js").Reading} reading */
  const read = async (own, reading) => {
    const colon = own.indexOf(":");
    return fileOf(pictures.get(Number(own.slice(0, colon))), own.slice(colon + 1), reading);
  };
  try {
    remote = new Remote({ worker: new URL("internal/porter/worker.js", BASE), name: "porter", source: /** @type {Source} */ ({ read }) });
  } catch {
    here = import("./porting.js");
  }
  return remote;
}

/** @param {Porter | undefined} porter @param {string} path @param {import("../source.js").Reading} reading */
function fileOf(porter, path, reading) {
  if (!porter?.source) throw new Error("there is no dossier");
  return porter.source.read(path, reading);
}

/** Gives memory back: another worker starts when one is needed. */
function rest() {
  clearTimeout(timer);
  if (calls > 0) return;
  if (heavy) end();
  else if (pictures.size === 0) timer = setTimeout(() => { if (calls === 0 && pictures.size === 0) end(); }, UNUSED_MS);
}

function end() {
  heavy = false;
  remote?.close();
  remote = null;
}

export class Porter {
  #number = (last += 1);
  /** Where the files beside a mesh come from. @type {Source | null} */
  source = null;

  /** @param {AbortSignal} signal closes it */
  constructor(signal) {
    pictures.set(this.#number, this);
    signal.addEventListener("abort", () => this.close(), { once: true });
    worker();
  }

  close() {
    if (!pictures.delete(this.#number)) return;
    if (pictures.size > 0) void remote?.call("forget", { picture: this.#number }).catch(() => {});
    rest();
  }

  /** @param {Uint8Array} bytes @param {string} path of the file @returns {Promise<OpenedMesh>} */
  async open(bytes, path) {
    const opened = await this.#call("open", bytes, path);
    heavy ||= opened.arrays.reduce((/** @type {number} */ sum, /** @type {Uint8Array} */ { byteLength }) => sum + byteLength, bytes.byteLength) > LARGE_BYTES;
    return opened;
  }

  /** Of the mesh opened last. @returns {Promise<MeshTree | null>} */
  tree() { return this.#call("tree"); }

  /** @param {Uint8Array} bytes of a PNG @returns {Promise<Grey>} */
  grey(bytes) { return this.#call("grey", bytes); }

  /** @param {"open" | "tree" | "grey"} method @param {Uint8Array} [bytes] @param {string} [path] @returns {Promise<any>} */
  async #call(method, bytes, path = "") {
    const asked = worker();
    if (asked) {
      // A piece of an archive lies inside the archive's own memory, which must stay here.
      const own = bytes?.slice();
      calls += 1;
      try {
        return await asked.call(method, { picture: this.#number, path, ...(own && { bytes: own }) }, own ? [own.buffer] : []);
      } catch (error) {
        if (asked.ran || !pictures.has(this.#number)) throw error;
        // The worker never ran: a policy forbids it, or its script cannot be had.
        if (remote === asked) remote = null;
        here ??= import("./porting.js");
      } finally {
        calls -= 1;
        // A mesh is followed by its tree.
        if (method !== "open") rest();
      }
    }
    if (!here || !pictures.has(this.#number)) throw new Error("The porter was closed.");
    const { grey, open, tree } = await here;
    if (method === "tree") return tree(this.#number);
    if (method === "grey") return grey(bytes ?? new Uint8Array());
    return open(this.#number, bytes ?? new Uint8Array(), path, async (name) => {
      try {
        return await fileOf(this, name, { signal: new AbortController().signal });
      } catch (error) {
        throw new Error(`${name}: ${sentenceOf(error)}`);
      }
    });
  }
}
