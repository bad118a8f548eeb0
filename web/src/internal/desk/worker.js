// @ts-check
/**
 * The worker of the desk: loads `viewer/desk.js` and answers one call after the other. What it needs of
 * the dossier's files it asks of the page, which knows whether they come from a server or an archive.
 */
import { sentenceOf } from "../errors.js";

/** @typedef {{needs(method: string, values: string): string[]} & Record<string, (...values: any[]) => any>} Handle */
/** @typedef {{result: unknown, transfer?: Transferable[]}} Answer */

/** The scope of a worker, of which the page's types know nothing. @type {{postMessage(message: unknown, transfer?: Transferable[]): void, addEventListener(type: "message", listen: (event: MessageEvent) => void): void}} */
const port = /** @type {any} */ (self);
const MODULE = new URL("../../viewer/desk.js", import.meta.url);
const WASM = new URL("../../viewer/desk_bg.wasm", import.meta.url);

/** @type {Handle | null} */
let desk = null;
/** What came: the file, or why there is none. @type {Map<string, Blob | string>} */
const files = new Map();
/** @type {Map<number, (message: {bytes?: Uint8Array, error?: string}) => void>} */
const asked = new Map();
let last = 0;
/** @type {Promise<void>} */
let queue = Promise.resolve();

port.addEventListener("message", ({ data }) => {
  if ("given" in data) asked.get(data.given)?.(data);
  else queue = queue.then(() => run(data));
});
// Says that this script runs, which the page waits for before it lets go of its address.
port.postMessage({ id: 0 });

/** @param {{id: number, method: string, values: any}} call */
async function run({ id, method, values }) {
  try {
    const { result, transfer = [] } = await answer(method, values);
    port.postMessage({ id, result }, transfer);
  } catch (error) {
    const findings = error instanceof Error ? Reflect.get(error, "findings") : undefined;
    const broken = error instanceof WebAssembly.RuntimeError ? "The desk came upon a fault of its own and must be opened again; your draft is kept. " : "";
    port.postMessage({ id, error: { message: broken + (sentenceOf(error)), findings } });
  }
}

/** @param {string} method @param {any} values @returns {Promise<Answer>} */
async function answer(method, values) {
  if (method === "open") return open(values.document);
  if (!desk) throw new Error("The desk is not open.");
  await bring(desk, method, values);
  switch (method) {
    case "document": case "areas": case "audit": case "annotations": case "files": return { result: call(method) };
    case "compare": return { result: call(method, values.left, values.right) };
    case "measure": return { result: call(method, JSON.stringify(values)) };
    case "differences": return { result: call(method, Float64Array.from(values.pairs)) };
    case "spot": return { result: call(method, values.number) };
    case "hints": return { result: call(method, values.evidence) };
    case "apply": return outcome(call(method, JSON.stringify(values.steps), values.label));
    case "undo": case "redo": return outcome(call(method));
    case "merge_annotations": {
      const { outcome: changed, report } = call(method, values.text, values.label ?? "annotations");
      const { result, transfer = [] } = outcome(changed);
      return { result: { outcome: result, report }, transfer };
    }
    case "relief_step": return { result: reliefStep() };
    case "relief": {
      const numbers = call(method);
      return { result: numbers, transfer: [numbers.buffer] };
    }
    case "to_save": return { result: call("prepare") };
    case "renamed": return { result: call(method, values.sheet, values.path) };
    case "keep": return outcome(call(method, values.mark, values.revision));
    case "draft": return { result: call(method) };
    case "restore": return outcome(call(method, values.text, values.maps, values.label ?? "draft"));
    default: return outcome(call("draw", method, JSON.stringify(values)));
  }
}

/** @param {string} method @param {unknown[]} values @returns {any} */
function call(method, ...values) {
  const handle = /** @type {Handle} */ (desk);
  return /** @type {(...values: unknown[]) => unknown} */ (handle[method]).apply(handle, values);
}

/** Vertices that are looked at before the clock is: a choice of ours, some milliseconds of rays. */
const SLICE = 64;
/** How long other calls wait at most (ms): a choice of ours; an answer within it still feels like one (a tenth of a second seems at once, a second keeps the thought). */
const STEP_MS = 200;

/** Share of the vertices that are done. @returns {number} */
function reliefStep() {
  const end = performance.now() + STEP_MS;
  let share = 0;
  do share = call("relief_step", SLICE);
  while (share < 1 && performance.now() < end);
  return share;
}

/** @param {import("./types.d.ts").Outcome} changed @returns {Answer} */
function outcome(changed) {
  return { result: changed, transfer: changed.rects.map(({ texels }) => texels.buffer) };
}

/** @param {Uint8Array} document @returns {Promise<Answer>} */
async function open(document) {
  const module = await import(MODULE.href);
  await module.default({ module_or_path: WASM });
  desk = new module.Desk(document, read);
  return { result: null };
}

/** Fetches what a call needs before it runs; a file that names others brings them in the next round. @param {Handle} handle @param {string} method @param {unknown} values */
async function bring(handle, method, values) {
  // What could not be had may be there by now.
  for (const [path, file] of files) if (typeof file === "string") files.delete(path);
  for (;;) {
    const missing = handle.needs(method, JSON.stringify(method === "restore" ? {} : values)).filter((path) => !files.has(path));
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
function read(path) {
  const file = files.get(path);
  if (!(file instanceof Blob)) throw new Error(file ?? "the file was not fetched");
  const reader = /** @type {new () => {readAsArrayBuffer(file: Blob): ArrayBuffer}} */ (Reflect.get(self, "FileReaderSync"));
  return new Uint8Array(new reader().readAsArrayBuffer(file));
}
