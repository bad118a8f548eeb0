// @ts-check
/**
 * The porter: opens meshes and greyscale images before the viewer takes them in, in a worker, so that the
 * page never waits. Where a page's policy allows no worker the same is done on the page.
 */
import { Remote } from "../remote.js";
import { sentenceOf } from "../errors.js";

/** @typedef {import("./porting.js").OpenedMesh} OpenedMesh */
/** @typedef {import("./porting.js").MeshTree} MeshTree */
/** @typedef {import("./porting.js").Grey} Grey */
/** @typedef {import("../source.js").Source} Source */

/** A module's memory never shrinks: after a mesh of more bytes its worker is let go (a choice of ours). */
const LARGE_BYTES = 64 << 20;

export class Porter {
  /** @type {Remote | null} */
  #remote = null;
  /** Calls that are not answered yet. */
  #calls = 0;
  /** The worker holds much memory that nobody needs any more. */
  #heavy = false;
  /** No worker can be had. @type {Promise<typeof import("./porting.js")> | null} */
  #here = null;
  #closed = false;
  /** Where the files beside a mesh come from. @type {Source | null} */
  source = null;

  /** @param {AbortSignal} signal closes it */
  constructor(signal) {
    signal.addEventListener("abort", () => this.close(), { once: true });
    this.#worker();
  }

  close() {
    this.#closed = true;
    this.#remote?.close();
    this.#remote = null;
  }

  /** @param {Uint8Array} bytes @param {string} path of the file @returns {Promise<OpenedMesh>} */
  async open(bytes, path) {
    const opened = await this.#call("open", bytes, { path });
    this.#heavy ||= [bytes, ...opened.arrays].reduce((sum, { byteLength }) => sum + byteLength, 0) > LARGE_BYTES;
    return opened;
  }

  /** Of the mesh opened last. @returns {Promise<MeshTree | null>} */
  async tree() {
    const tree = await this.#call("tree", null, {});
    this.#rest();
    return tree;
  }

  /** @param {Uint8Array} bytes of a PNG @returns {Promise<Grey>} */
  grey(bytes) { return this.#call("grey", bytes, {}); }

  #worker() {
    if (this.#remote || this.#closed || this.#here) return this.#remote;
    try {
      this.#remote = new Remote({
        worker: new URL("./worker.js", import.meta.url), name: "porter", source: /** @type {Source} */ ({ read: (path, reading) => this.#file(path, reading) }),
      });
    } catch {
      this.#here = import("./porting.js");
    }
    return this.#remote;
  }

  /** @param {string} path @param {import("../source.js").Reading} reading */
  #file(path, reading) {
    if (!this.source) throw new Error("there is no dossier yet");
    return this.source.read(path, reading);
  }

  /** @param {"open" | "tree" | "grey"} method @param {Uint8Array | null} bytes @param {{path?: string}} values @returns {Promise<any>} */
  async #call(method, bytes, values) {
    const remote = this.#worker();
    if (remote) {
      // A piece of an archive lies inside the archive's own memory, which must stay here.
      const own = bytes?.slice();
      this.#calls += 1;
      try {
        return await remote.call(method, own ? { ...values, bytes: own } : values, own ? [own.buffer] : []);
      } catch (error) {
        if (remote.ran || this.#closed) throw error;
        // The worker never ran: a policy forbids it, or its script cannot be had.
        if (this.#remote === remote) this.#remote = null;
        this.#here ??= import("./porting.js");
      } finally {
        this.#calls -= 1;
      }
    }
    if (this.#closed || !this.#here) throw new Error("The porter was closed.");
    const { grey, open, tree } = await this.#here;
    if (method === "tree") return tree();
    if (method === "grey") return grey(bytes ?? new Uint8Array());
    return open(bytes ?? new Uint8Array(), values.path ?? "", async (path) => {
      try {
        return await this.#file(path, { signal: new AbortController().signal });
      } catch (error) {
        throw new Error(`${path}: ${sentenceOf(error)}`);
      }
    });
  }

  /** Gives the memory of a large mesh back; another worker starts when one is needed. */
  #rest() {
    if (!this.#heavy || this.#calls > 0) return;
    this.#heavy = false;
    this.#remote?.close();
    this.#remote = null;
  }
}
