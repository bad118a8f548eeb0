// @ts-check
/** Finding out what the browser can draw with, and fetching the viewer built for it. */
import { ViewerError, sentenceOf } from "./errors.js";
import { totalBytes } from "./fetch.js";
import { watchPrograms } from "./programs.js";

/** @typedef {import("../types.d.ts").ViewerModule} ViewerModule */
/** @typedef {import("../types.d.ts").ViewerHandle} ViewerHandle */
/** @typedef {"webgpu" | "webgl2"} BackendName */
/** @typedef {import("./fetch.js").Progress} Progress */

/** One module a page, however many elements. @type {Map<string, {module: Promise<ViewerModule>, told: Set<Progress>}>} */
const modules = new Map();

/** @param {string | null} asked only this one, when given @returns {Promise<BackendName[]>} in the order to try */
export async function probeBackends(asked) {
  if (asked === "webgl2" || asked === "webgpu") return [asked];
  const gpu = /** @type {{requestAdapter(): Promise<unknown>} | undefined} */ (Reflect.get(navigator, "gpu"));
  const adapter = await Promise.resolve(gpu?.requestAdapter()).catch(() => null);
  return adapter ? ["webgpu", "webgl2"] : ["webgl2"];
}

/**
 * @param {BackendName} backend @param {URL} base @param {Progress} [progress]
 * @returns {Promise<ViewerModule>}
 */
export function loadModule(backend, base, progress) {
  const address = new URL(`viewer/viewer-${backend}.js`, base).href;
  let loading = modules.get(address);
  if (!loading) {
    /** @type {Set<Progress>} */
    const told = new Set();
    const module = start(address, (received, total) => told.forEach((tell) => tell(received, total)));
    loading = { module, told };
    modules.set(address, loading);
    module.catch(() => modules.delete(address)).finally(() => told.clear());
  }
  if (progress) loading.told.add(progress);
  return loading.module;
}

/** @param {string} address @param {Progress} progress @returns {Promise<ViewerModule>} */
async function start(address, progress) {
  const [module, response] = await Promise.all([
    /** @type {Promise<ViewerModule>} */ (import(address)),
    fetch(address.replace(/\.js$/, "_bg.wasm")),
  ]);
  if (!response.ok) throw new Error(`HTTP ${response.status}`);
  await module.default({ module_or_path: counted(response, progress) });
  return module;
}

/** The same response, counted as it passes, so that it still compiles while it arrives. @param {Response} response @param {Progress} progress */
function counted(response, progress) {
  if (!response.body) return response;
  const total = totalBytes(response);
  let received = 0;
  const counter = new TransformStream({
    transform(chunk, controller) {
      received += chunk.length;
      progress(received, total);
      controller.enqueue(chunk);
    },
  });
  return new Response(response.body.pipeThrough(counter), { headers: { "content-type": "application/wasm" } });
}

/**
 * Makes a handle with the first backend that works. A canvas takes one kind of
 * context for life, so every try gets a new one.
 * @param {object} options
 * @param {BackendName[]} options.backends
 * @param {URL} options.base
 * @param {() => HTMLCanvasElement} options.freshCanvas puts a new canvas in place of the last
 * @param {Progress} options.progress
 * @param {number | undefined} options.tile_mib memory for tiles, in place of the usual 192
 * @returns {Promise<{handle: ViewerHandle, canvas: HTMLCanvasElement, backend: BackendName}>}
 */
export async function createHandle({ backends, base, freshCanvas, progress, tile_mib }) {
  /** @type {unknown} */
  let last = null;
  for (const backend of backends) {
    try {
      const module = await loadModule(backend, base, progress);
      const canvas = freshCanvas();
      if (backend === "webgl2") prepareWebgl(canvas);
      const handle = await module.Viewer.create(canvas, { antialias: true, reduced_motion: matchMedia("(prefers-reduced-motion: reduce)").matches, wide_gamut: matchMedia("(color-gamut: p3)").matches, ...(tile_mib && { tile_mib }) });
      return { handle, canvas, backend };
    } catch (error) {
      last = error;
    }
  }
  if (last instanceof ViewerError) throw last;
  throw new ViewerError({ key: "graphics", file: "", detail: sentenceOf(last) });
}

/**
 * The viewer later gets this same context, with these attributes. A canvas that has its size by then is not made anew
 * for the first picture.
 * @param {HTMLCanvasElement} canvas
 */
export function prepareWebgl(canvas) {
  const { clientWidth, clientHeight } = canvas;
  if (clientWidth > 0 && clientHeight > 0) {
    canvas.width = Math.round(clientWidth * devicePixelRatio);
    canvas.height = Math.round(clientHeight * devicePixelRatio);
  }
  const context = canvas.getContext("webgl2", { alpha: false, antialias: false, powerPreference: "high-performance" });
  if (!context) throw new ViewerError({ key: "graphics", file: "", detail: "WebGL 2" });
  watchPrograms(canvas, context);
}

/**
 * Gives a graphics device back at once: a page has few, and one that waits to be collected still counts.
 * @param {{handle: ViewerHandle, canvas: HTMLCanvasElement, backend: BackendName}} made
 */
export function giveBack({ handle, canvas, backend }) {
  if (backend === "webgpu") handle.lose();
  handle.free();
  if (backend === "webgl2") canvas.getContext("webgl2")?.getExtension("WEBGL_lose_context")?.loseContext();
}
