// @ts-check
/** The scale of a band layer: the map's colours, the range and its unit. */
import { html } from "../dom.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Layer} Layer */

/** @param {Context} ctx @param {Layer} layer @param {import("../../types.d.ts").LayerLook} look */
export function legend(ctx, layer, look) {
  const [from, to] = layer.range ?? [0, 1];
  const [low = from, high = to] = look.ends.map((end) => from + end * (to - from));
  const number = (/** @type {number} */ value) => value.toLocaleString(ctx.language, { maximumSignificantDigits: 4 });
  const unit = layer.unit ?? "";
  return html("div", { class: "legend", role: "img", dir: "ltr", "aria-label": ctx.t("band.scale", { low: number(low), high: number(high), unit }) },
    mapBar(ctx.handle.band_map(look.map)),
    html("div", { class: "figures" },
      html("span", {}, number(low)), html("span", {}, number((low + high) / 2)), html("span", {}, `${number(high)} ${unit}`)));
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
