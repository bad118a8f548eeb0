// @ts-check
/**
 * Work in a worker, so that the page never waits. Calls are answered in the order in which they are made;
 * what is refused is an Error with a sentence for people. The worker asks for files of the dossier here,
 * where it is known whether they come from a server or an archive.
 */
import { sentenceOf } from "./errors.js";

/** @typedef {import("./source.js").Source} Source */

export class Remote {
  /** @type {Worker} */
  #worker;
  /** @type {Map<number, {resolve: (value: any) => void, reject: (error: Error) => void}>} */
  #waiting = new Map();
  #last = 0;
  /** Whether the worker's script has run. */
  ran = false;
  /** Asked before the worker's script ran, which would not have heard it. @type {{message: object, transfer: Transferable[]}[] | null} */
  #early = [];
  #closed = new AbortController();

  /**
   * @param {object} options
   * @param {URL} options.worker address of the worker's script
   * @param {string} options.name of what works there
   * @param {Source} options.source the dossier's files
   * @param {AbortSignal | undefined} [options.signal] closes it
   */
  constructor({ worker, name, source, signal }) {
    this.name = name;
    this.source = source;
    this.#worker = startWorker(worker, `ganosis ${name}`);
    this.#worker.addEventListener("message", ({ data }) => void this.#heard(data));
    this.#worker.addEventListener("error", (event) => this.#broke(event.message || `The worker of the ${name} could not be started.`));
    signal?.addEventListener("abort", () => this.close(), { once: true });
  }

  close() {
    this.#closed.abort();
    this.#worker.terminate();
    this.#broke(`The ${this.name} was closed.`);
  }

  /** @param {string} method @param {object} [values] @param {Transferable[]} [transfer] @returns {Promise<any>} */
  call(method, values = {}, transfer = []) {
    if (this.#closed.signal.aborted) return Promise.reject(new Error(`The ${this.name} was closed.`));
    this.#last += 1;
    const id = this.#last;
    return new Promise((resolve, reject) => {
      this.#waiting.set(id, { resolve, reject });
      const message = { id, method, values };
      if (this.#early) this.#early.push({ message, transfer });
      else this.#worker.postMessage(message, transfer);
    });
  }

  /** @param {{id: number, result?: unknown, error?: {message: string, findings?: unknown}} | {need: number, path: string}} message */
  async #heard(message) {
    if ("need" in message) return void this.#give(message.need, message.path);
    const early = this.#early ?? [];
    this.ran = true;
    this.#early = null;
    for (const { message: waiting, transfer } of early) this.#worker.postMessage(waiting, transfer);
    const waiting = this.#waiting.get(message.id);
    this.#waiting.delete(message.id);
    if (!message.error) return waiting?.resolve(message.result);
    const { findings } = message.error;
    waiting?.reject(Object.assign(new Error(message.error.message), findings ? { findings } : {}));
  }

  /** Brings the worker a file of the dossier. @param {number} need @param {string} path */
  async #give(need, path) {
    try {
      const bytes = await this.source.read(path, { signal: this.#closed.signal });
      // An entry of an archive lies inside the archive's own memory, which must stay here.
      const own = bytes.byteLength === bytes.buffer.byteLength ? bytes : bytes.slice();
      this.#worker.postMessage({ given: need, bytes: own }, [own.buffer]);
    } catch (error) {
      if (this.#closed.signal.aborted) return;
      this.#worker.postMessage({ given: need, error: whyNot(error) });
    }
  }

  /** @param {string} message */
  #broke(message) {
    for (const { reject } of this.#waiting.values()) reject(new Error(message));
    this.#waiting.clear();
  }
}

/** Why a file could not be had, in a sentence of the worker's language. @param {unknown} error */
function whyNot(error) {
  const trouble = error instanceof Error && "trouble" in error ? /** @type {import("./errors.js").Trouble} */ (error.trouble) : null;
  if (trouble?.key === "missing") return "the file is not there";
  return trouble?.detail || sentenceOf(error);
}

/**
 * A worker of a module. A browser takes a worker's script from the page's own origin only: where the
 * viewer lies elsewhere, a script made here imports it (the page's policy must allow `worker-src blob:`).
 * @param {URL} address @param {string} name
 */
function startWorker(address, name) {
  if (address.origin === location.origin) return new Worker(address, { type: "module", name });
  // An import that runs is a script's; one that stands at the head would count as a worker of that origin.
  const script = URL.createObjectURL(new Blob([`import(${JSON.stringify(address.href)}).catch((error) => setTimeout(() => { throw error; }));`], { type: "text/javascript" }));
  const worker = new Worker(script, { type: "module", name });
  // Revoked only once it runs: it is fetched later than this line.
  worker.addEventListener("message", () => URL.revokeObjectURL(script), { once: true });
  return worker;
}
