// @ts-check
/** The worker of the tripod: loads `viewer/tripod.js` and answers one call after the other. */
import { bring, read, serve } from "../serving.js";
import { BASE } from "../site/base.js";

/** @typedef {import("../serving.js").Answer} Answer */

const MODULE = new URL("viewer/tripod.js", BASE);
const WASM = new URL("viewer/tripod_bg.wasm", BASE);

/** The module's class, and the one of it. @type {any} */
let Handle = null;
/** @type {any} */
let tripod = null;

serve(answer, "What finds poses came upon a fault of its own: open the page again. ");

/** @param {string} method @param {any} values @returns {Promise<Answer>} */
async function answer(method, values) {
  if (method === "open") return open(values.surface);
  if (!tripod) throw new Error("The tripod is not open.");
  switch (method) {
    case "geometry": {
      const { positions, corners, spans } = tripod.geometry();
      return { result: { positions, corners, spans: JSON.parse(spans) }, transfer: [positions.buffer, corners.buffer] };
    }
    case "take": {
      const shown = tripod.take(values.bytes, values.name, undefined, values.largest_px);
      return { result: shown, transfer: [shown.rgba.buffer] };
    }
    case "solve": return { result: tripod.solve(JSON.stringify(values)) };
    case "agree": return agree(values);
    case "read": return { result: tripod.read(values.text, values.file, values.photo) };
    case "frame": return { result: Handle.frame(JSON.stringify(values.posed)) };
    case "points": return { result: Handle.points_text(JSON.stringify(values.pairs)) };
    case "poses": return { result: Handle.poses_text(JSON.stringify(values.surface), JSON.stringify(values.posed)) };
    default: throw new Error(`The tripod does not know ${method}.`);
  }
}

/** @param {{posed: object, files: Record<string, string>, without: string[]}} values `files`: paths by the names of sheets @returns {Promise<Answer>} */
async function agree({ posed, files, without }) {
  await bring(() => Object.values(files));
  /** @type {string[]} */
  const sheets = tripod.sheets();
  const images = sheets.map((sheet) => { const path = files[sheet]; return path === undefined ? null : read(path); });
  return { result: tripod.agree(JSON.stringify(posed), images, JSON.stringify(without)) };
}

/** @param {string} surface path of its file @returns {Promise<Answer>} */
async function open(surface) {
  const module = await import(MODULE.href);
  await module.default({ module_or_path: WASM });
  Handle = module.Tripod;
  await bring(() => [surface]);
  const bytes = read(surface);
  /** @type {string[]} */
  const named = Handle.needs(bytes);
  await bring(() => named.map((name) => Handle.beside(surface, name)));
  tripod = new Handle(bytes, (/** @type {string} */ name) => read(Handle.beside(surface, name)));
  return { result: null };
}
