// @ts-check
/**
 * The worker of the desk: loads `viewer/desk.js` and answers one call after the other. What it needs of
 * the dossier's files it asks of the page, which knows whether they come from a server or an archive.
 */
import { bring, read, serve } from "../serving.js";
import { BASE } from "../site/base.js";

/** @typedef {{needs(method: string, values: string): string[]} & Record<string, (...values: any[]) => any>} Handle */
/** @typedef {import("../serving.js").Answer} Answer */

const MODULE = new URL("viewer/desk.js", BASE);
const WASM = new URL("viewer/desk_bg.wasm", BASE);

/** @type {Handle | null} */
let desk = null;

serve(answer, "The desk came upon a fault of its own and must be opened again; your draft is kept. ");

/** @param {string} method @param {any} values @returns {Promise<Answer>} */
async function answer(method, values) {
  if (method === "open") return open(values.document);
  if (!desk) throw new Error("The desk is not open.");
  const handle = desk;
  const told = JSON.stringify(method === "restore" || method === "package" ? {} : values);
  await bring(() => handle.needs(method, told));
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
    case "package": {
      const bytes = call(method, JSON.stringify(values.document), values.pictures);
      return { result: bytes, transfer: [bytes.buffer] };
    }
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
