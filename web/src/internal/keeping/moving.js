// @ts-check
/** Pictures that move: once around the object, or from one state to the other and back. No DOM in the list of frames. */
import { ZipWriter } from "../desk/zipping.js";
import { GifWriter } from "./gif.js";
import { drawInParts } from "./tiles.js";
import { PngWriter } from "./png.js";
import { textsOf } from "./xmp.js";
import { aboutOf, drawerOf, tileFor } from "./picture.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */
/** @typedef {"turn" | "swipe" | "blend"} Way */
/** @typedef {{way: Way, frames: number, width: number, height: number, signal: AbortSignal, progress: (done: number) => void}} Moving */

export const WAYS = /** @type {const} */ (["turn", "swipe", "blend"]);
/** Fewest and most frames: a choice of ours. */
export const FRAMES = { least: 2, most: 720 };
/** WCAG 2.2, 2.3.1: no more than three flashes a second. */
const MOST_CHANGES_PER_SECOND = 3;

/**
 * What the frame `index` of `count` shows in place of the view. The last one comes before the first again.
 * @param {View} view @param {Way} way @param {number} index @param {number} count @returns {Partial<View>}
 */
export function frameOf(view, way, index, count) {
  const share = index / count;
  if (way === "turn") return { ...view, camera: { ...view.camera, azimuth_deg: wrapped(view.camera.azimuth_deg + 360 * share) } };
  // To and fro without a jolt at the ends.
  return { ...view, compare: way, count: 2, position: (1 - Math.cos(2 * Math.PI * share)) / 2 };
}

/** Into −180 to 180. @param {number} degrees */
const wrapped = (degrees) => ((((degrees + 180) % 360) + 360) % 360) - 180;

/** How often a second the picture changes as a whole, and whether that is too often. @param {Way} way @param {number} frames @param {number} per_second */
export function changesOf(way, frames, per_second) {
  const changes = ((way === "turn" ? 1 : 2) * per_second) / frames;
  return { changes, too_fast: changes > MOST_CHANGES_PER_SECOND };
}

/** Every frame as a PNG, numbered, in a zip. @param {Context} ctx @param {Moving} moving @returns {Promise<Blob>} */
export async function numberedSet(ctx, { way, frames, width, height, signal, progress }) {
  const view = ctx.view();
  const texts = textsOf(aboutOf(ctx, view, width, height));
  const writer = new ZipWriter();
  const digits = String(frames).length;
  for (let index = 0; index < frames; index += 1) {
    const png = new PngWriter({ width, height, texts });
    try {
      await drawInParts({ handle: drawerOf(ctx), view: frameOf(view, way, index, frames), width, height, tile: tileFor(ctx), signal, band: (rows) => png.write(rows) });
    } catch (error) {
      await png.abandon();
      throw error;
    }
    writer.add(`${way}-${String(index + 1).padStart(digits, "0")}.png`, new Uint8Array(await (await png.finish()).arrayBuffer()));
    progress(index + 1);
  }
  return writer.finish();
}

/** Frames as a GIF, which any program shows. @param {Context} ctx @param {Moving & {per_second: number}} moving @returns {Promise<Blob>} */
export async function asGif(ctx, { way, frames, width, height, per_second, signal, progress }) {
  const view = ctx.view();
  const { title, creator, rights } = aboutOf(ctx, view, width, height);
  const writer = new GifWriter({ width, height, per_second, comment: [title, creator, rights].join("\n") });
  const whole = new Uint8Array(4 * width * height);
  for (let index = 0; index < frames; index += 1) {
    await drawInParts({ handle: drawerOf(ctx), view: frameOf(view, way, index, frames), width, height, tile: tileFor(ctx), signal, band: (rows, y) => whole.set(rows, 4 * y * width) });
    writer.add(whole);
    progress(index + 1);
  }
  return writer.finish();
}

/** Containers and codecs that a browser may write. */
const KINDS = ["video/webm;codecs=vp9", "video/webm;codecs=vp8", "video/webm"];

/** What this browser can record, or null. @returns {string | null} */
export function recordable() {
  if (typeof MediaRecorder === "undefined" || !("requestFrame" in (globalThis.CanvasCaptureMediaStreamTrack?.prototype ?? {}))) return null;
  return KINDS.find((kind) => MediaRecorder.isTypeSupported(kind)) ?? null;
}

/**
 * Frames as WebM. The browser stamps each with its own clock; while one is drawn the clock of the recording
 * stands still.
 * @param {Context} ctx @param {Moving & {per_second: number}} moving @returns {Promise<Blob>}
 */
export async function recorded(ctx, { way, frames, width, height, per_second, signal, progress }) {
  const kind = recordable();
  const canvas = document.createElement("canvas");
  Object.assign(canvas, { width, height });
  const drawing = canvas.getContext("2d");
  if (!kind || !drawing) throw new Error("This browser records no moving pictures. Take the numbered set.");
  const view = ctx.view();
  const stream = canvas.captureStream(0);
  const [track] = /** @type {CanvasCaptureMediaStreamTrack[]} */ (stream.getVideoTracks());
  // As many bits as keep paint free of blocks: a choice of ours.
  const recorder = new MediaRecorder(stream, { mimeType: kind, videoBitsPerSecond: Math.min(60e6, 0.25 * width * height * per_second) });
  /** @type {Blob[]} */
  const parts = [];
  const ended = new Promise((resolve, reject) => {
    recorder.addEventListener("dataavailable", ({ data }) => parts.push(data));
    recorder.addEventListener("stop", resolve);
    recorder.addEventListener("error", () => reject(new Error("The browser broke the recording off. Make it smaller, or take the numbered set.")));
  });
  ended.catch(() => {});
  try {
    for (let index = 0; index < frames; index += 1) {
      await drawInParts({
        handle: drawerOf(ctx), view: frameOf(view, way, index, frames), width, height, tile: tileFor(ctx), signal,
        band: (rows, y) => drawing.putImageData(new ImageData(new Uint8ClampedArray(rows), width), 0, y),
      });
      if (index === 0) recorder.start();
      else recorder.resume();
      track?.requestFrame();
      await rest(1000 / per_second);
      recorder.pause();
      progress(index + 1);
    }
  } finally {
    if (recorder.state !== "inactive") recorder.stop();
    track?.stop();
  }
  await ended;
  return new Blob(parts, { type: "video/webm" });
}

/** @param {number} ms */
const rest = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });
