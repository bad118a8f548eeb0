// @ts-check
/**
 * Patterns that tell certainty and the kind of a state without colour. Ink
 * grows sparser as the ground under a claim grows weaker: nearly solid, close hatch,
 * wide hatch, dots, an empty broken frame. For states the line itself: whole,
 * broken, dotted, as drawings of reconstructions part what stands from what is
 * supplied (common practice, no source).
 */
import { svg, uniqueId } from "./dom.js";

/** @typedef {import("../types.d.ts").Certainty} Certainty */
/** @typedef {import("../types.d.ts").StateKind} StateKind */

/** Strongest first. @type {readonly Certainty[]} */
export const CERTAINTIES = ["measured", "observed", "continued", "comparative", "conjectural"];

/** All ink but for fine joints: a square of a tile of 8 px. */
const JOINTED = "M0.7 0.7H7.3V7.3H0.7z";
const WIDTH_PX = 44;
const HEIGHT_PX = 20;

/** @param {string} certainty @returns {SVGSVGElement} */
export function certaintyPattern(certainty) {
  const id = uniqueId("pattern");
  const frame = { x: 0.75, y: 0.75, width: WIDTH_PX - 1.5, height: HEIGHT_PX - 1.5, stroke: "currentColor", "stroke-width": 1.5 };
  const tile = tileOf(certainty, id);
  return svg("svg", { class: "pattern", viewBox: `0 0 ${WIDTH_PX} ${HEIGHT_PX}`, width: WIDTH_PX, height: HEIGHT_PX, "aria-hidden": "true", "data-certainty": certainty },
    tile && svg("defs", {}, tile),
    certainty === "conjectural"
      ? svg("rect", { ...frame, fill: "none", "stroke-dasharray": "4 3.2" })
      : svg("rect", { ...frame, fill: `url(#${id})` }));
}

/** @param {string} certainty @param {string} id */
function tileOf(certainty, id) {
  if (certainty === "measured") {
    return svg("pattern", { id, width: 8, height: 8, patternUnits: "userSpaceOnUse" }, svg("path", { d: JOINTED, fill: "currentColor" }));
  }
  if (certainty === "observed" || certainty === "continued") {
    const gap = certainty === "observed" ? 3.4 : 7;
    return svg("pattern", { id, width: gap, height: gap, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
      svg("path", { d: `M0 0V${gap}`, stroke: "currentColor", "stroke-width": certainty === "observed" ? 3.2 : 1.8 }));
  }
  if (certainty === "comparative") {
    return svg("pattern", { id, width: 6, height: 6, patternUnits: "userSpaceOnUse" },
      svg("circle", { cx: 3, cy: 3.3, r: 1.15, fill: "currentColor" }));
  }
  return null;
}

/** How the line over a state's title is broken, in px. @type {Record<string, string>} */
const KIND_DASHES = { "as-found": "", "evidence-based": "14 5", hypothetical: "2 5", band: "1 1.5" };

/** A rule as long as the room it is given. @param {string} kind of a state, or `band` */
export function kindRule(kind) {
  return svg("svg", { class: "kind-rule", width: "100%", height: 3, "aria-hidden": "true", "data-kind": kind },
    svg("line", { x1: 0, y1: 1.5, x2: "100%", y2: 1.5, stroke: "currentColor", "stroke-width": 3, "stroke-dasharray": KIND_DASHES[kind] || "none" }));
}

/**
 * Patterns over the surface, by the number that the viewer gives: the same
 * lines, gaps and dots as `shaders/lib/patterns.wgsl` draws. `gap` and `width`
 * in px; `turn` in degrees.
 * @type {Record<number, {gap: number, width: number, turn: number} | "solid" | "dots" | "dashes" | "grid">}
 */
const SURFACE_PATTERNS = {
  1: "solid",
  2: { gap: 5, width: 2.6, turn: 45 },
  3: { gap: 9, width: 1.8, turn: 45 },
  4: "dots",
  5: "dashes",
  6: { gap: 7, width: 1.6, turn: 0 },
  7: { gap: 7, width: 1.6, turn: 90 },
  8: "grid",
};

/** @param {number} number @returns {SVGSVGElement} */
export function surfacePattern(number) {
  const id = uniqueId("surface-pattern");
  const drawn = SURFACE_PATTERNS[number];
  const line = { stroke: "currentColor" };
  /** @param {number} width @param {number} height @param {number} turn @param {...SVGElement} ink */
  const tile = (width, height, turn, ...ink) =>
    svg("pattern", { id, width, height, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${turn})` }, ...ink);
  const made = () => {
    if (drawn === "solid") return tile(8, 8, 0, svg("path", { d: JOINTED, fill: "currentColor" }));
    if (drawn === "dots") return tile(7, 7, 0, svg("circle", { cx: 3.5, cy: 3.5, r: 1.3, fill: "currentColor" }));
    if (drawn === "dashes") return tile(12, 8, 135, svg("path", { d: "M6 2v4", ...line, "stroke-width": 1.4 }));
    if (drawn === "grid") return tile(10, 10, 0, svg("path", { d: "M5 0v10M0 5h10", ...line, "stroke-width": 1.4 }));
    if (typeof drawn === "object") return tile(drawn.gap, drawn.gap, drawn.turn, svg("path", { d: `M${drawn.gap / 2} 0v${drawn.gap}`, ...line, "stroke-width": drawn.width }));
    return null;
  };
  const pattern = made();
  return svg("svg", { class: "pattern", viewBox: `0 0 ${WIDTH_PX} ${HEIGHT_PX}`, width: WIDTH_PX, height: HEIGHT_PX, "aria-hidden": "true" },
    pattern && svg("defs", {}, pattern),
    svg("rect", { x: 0.75, y: 0.75, width: WIDTH_PX - 1.5, height: HEIGHT_PX - 1.5, stroke: "currentColor", "stroke-width": 1.5, fill: pattern ? `url(#${id})` : "none" }));
}
