// @ts-check
/** The scale of a band layer: the map's colours, the range and its unit. */
import { html } from "../dom.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Layer} Layer */

/** @param {Context} ctx @param {Layer} layer @param {import("../../types.d.ts").LayerLook} look */
export function legend(ctx, layer, look) {
  const { low, high, unit, figures } = bandScale(ctx, layer, look);
  return html("div", { class: "legend", role: "img", dir: "ltr", "aria-label": ctx.t("band.scale", { low, high, unit }) },
    mapBar(ctx.handle.band_map(look.map)),
    html("div", { class: "figures" }, figures.map((figure) => html("span", {}, figure))));
}

/** The ends of a band's scale, and what stands below it, in words. @param {Context} ctx @param {Layer} layer @param {import("../../types.d.ts").LayerLook} look */
export function bandScale(ctx, layer, look) {
  const [from, to] = layer.range ?? [0, 1];
  const [low = from, high = to] = look.ends.map((end) => from + end * (to - from));
  const number = (/** @type {number} */ value) => value.toLocaleString(ctx.language, { maximumSignificantDigits: 4 });
  const unit = layer.unit ?? "";
  return { low: number(low), high: number(high), unit, figures: [number(low), number((low + high) / 2), `${number(high)} ${unit}`] };
}

/** The upper end of a scale of differences and what stands below it, in words. @param {Context} ctx @param {number} end in ΔE00 */
export function differenceScale({ language }, end) {
  const number = (/** @type {number} */ value) => value.toLocaleString(language, { maximumSignificantDigits: 3 });
  return { words: `0–${number(end)} ΔE00`, figures: [number(0), number(end / 2), `${number(end)} ΔE00`] };
}

/** The band map as a strip. @param {Uint8Array} map 256 RGB triples of 8 bits */
export function mapBar(map) {
  const steps = Math.floor(map.length / 3);
  const canvas = html("canvas", { width: steps, height: 1, "aria-hidden": "true" });
  const drawing = canvas.getContext("2d");
  if (!drawing || steps === 0) return canvas;
  const pixels = drawing.createImageData(steps, 1);
  for (let at = 0; at < steps; at += 1) {
    pixels.data.set([map[at * 3] ?? 0, map[at * 3 + 1] ?? 0, map[at * 3 + 2] ?? 0, 255], at * 4);
  }
  drawing.putImageData(pixels, 0, 0);
  return canvas;
}
