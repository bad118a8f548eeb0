// @ts-check
/**
 * Patterns that tell certainty and the kind of a state without colour. Ink
 * grows sparser as the ground under a claim grows weaker: solid, close hatch,
 * wide hatch, dots, an empty broken frame. For states the line itself: whole,
 * broken, dotted, as drawings of reconstructions part what stands from what is
 * supplied (common practice, no source).
 */
import { svg, uniqueId } from "./dom.js";

/** @typedef {import("../types.d.ts").Certainty} Certainty */
/** @typedef {import("../types.d.ts").StateKind} StateKind */

/** Strongest first. @type {readonly Certainty[]} */
export const CERTAINTIES = ["measured", "observed", "continued", "comparative", "conjectural"];

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
      : svg("rect", { ...frame, fill: certainty === "measured" ? "currentColor" : `url(#${id})` }));
}

/** @param {string} certainty @param {string} id */
function tileOf(certainty, id) {
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
