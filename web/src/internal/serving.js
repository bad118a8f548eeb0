// @ts-check
/**
 * The side of a worker: answers one call after the other. What it needs of the dossier's files it asks of
 * the page, which knows whether they come from a server or an archive.
 */
import { sentenceOf } from "./errors.js";

/** @typedef {{result: unknown, transfer?: Transferable[]}} Answer */

/** The scope of a worker, of which the page's types know nothing. @type {{postMessage(message: unknown, transfer?: Transferable[]): void, addEventListener(type: "message", listen: (event: MessageEvent) => void): void}} */
const port = /** @type {any} */ (self);
/** What came: the file, or why there is none. @type {Map<string, Blob | string>} */
const files = new Map();
/** @type {Map<number, (message: {bytes?: Uint8Array, error?: string}) => void>} */
const asked = new Map();
let last = 0;
/** @type {Promise<void>} */
let queue = Promise.resolve();

/**
 * Answers calls from now on.
 * @param {(method: string, values: any) => Promise<Answer>} answer @param {string} broken said before a fault of the module itself
 */
export function serve(answer, broken) {
  /** @param {{id: number, method: string, values: any}} call */
  const run = async ({ id, method, values }) => {
    try {
      const { result, transfer = [] } = await answer(method, values);
      port.postMessage({ id, result }, transfer);
    } catch (error) {
      const findings = error instanceof Error ? Reflect.get(error, "findings") : undefined;
      const fault = error instanceof WebAssembly.RuntimeError ? broken : "";
      port.postMessage({ id, error: { message: fault + sentenceOf(error), findings } });
    }
  };
  port.addEventListener("message", ({ data }) => {
    if ("given" in data) asked.get(data.given)?.(data);
    else queue = queue.then(() => run(data));
  });
  // Says that this script runs, which the page waits for before it lets go of its address.
  port.postMessage({ id: 0 });
}

/** Fetches what a call needs before it runs; a file that names others brings them in the next round. @param {() => string[]} needs */
export async function bring(needs) {
  // What could not be had may be there by now.
  for (const [path, file] of files) if (typeof file === "string") files.delete(path);
  for (;;) {
    const missing = needs().filter((path) => !files.has(path));
    if (missing.length === 0) return;
    for (const path of missing) files.set(path, await ask(path));
  }
}

/** Files wait outside the module's memory, which holds one of them at a time. @param {string} path @returns {Promise<Blob | string>} */
async function ask(path) {
  last += 1;
  const need = last;
  const given = await /** @type {Promise<{bytes?: Uint8Array, error?: string}>} */ (new Promise((resolve) => {
    asked.set(need, resolve);
    port.postMessage({ need, path });
  }));
  asked.delete(need);
  return given.bytes ? new Blob([/** @type {BlobPart} */ (given.bytes)]) : given.error ?? "the file is not there";
}

/** For the module, which cannot wait. @param {string} path @returns {Uint8Array} */
export function read(path) {
  const file = files.get(path);
  if (!(file instanceof Blob)) throw new Error(file ?? "the file was not fetched");
  const reader = /** @type {new () => {readAsArrayBuffer(file: Blob): ArrayBuffer}} */ (Reflect.get(self, "FileReaderSync"));
  return new Uint8Array(new reader().readAsArrayBuffer(file));
}
