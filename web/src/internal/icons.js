// @ts-check
/** Drawn for this page on a grid of 24: open line work of one weight, square ends. */
import { svg } from "./dom.js";

/**
 * Path data drawn as lines; `fill:` paths are solid.
 * @type {Record<string, string[]>}
 */
const DRAWINGS = {
  // A worked stone, whole; cut by a plumb line; and fading to dots.
  one: ["M6 20V8l3-4h6l3 4v12z"],
  swipe: ["M12 2v20", "M10 4H9L6 8v12h4", "fill:M14 4h1l3 4v12h-4z"],
  blend: ["M9 4L6 8v12h6V4z", "M14.5 5.5v.01M17 8v.01M14.5 8.5v.01M17 11v.01M14.5 11.5v.01M17 14v.01M14.5 14.5v.01M17 17v.01M14.5 17.5v.01M17 20v.01"],
  // Two outlines that do not quite meet.
  difference: ["M5 18V8l3-4h4l3 4v10z", "M9 20V10l3-4h4l3 4v10z"],
  // Courses of a wall under a stone: what something rests on.
  grounds: ["M8 9V5h8v4", "M4 9h16v5H4zM4 14h16v5H4z", "M12 9v5M8 14v5M16 14v5"],
  // A caption card on its cord; a lamp low over relief; the letter that opens a colophon.
  label: ["M4 10h16v10H4z", "M7 10l5-6 5 6", "M7.5 13.5h6M7.5 16.5h9"],
  light: ["M3 19c2 0 2-3 4.5-3s2.5 3 4.5 3 2-3 4.5-3 2.5 3 4.5 3", "M5 4l4 4M3 9l4.5 1.5M10.5 3L11.5 7.5"],
  about: ["M5 4h14v16H5z", "M9 8h6M12 8v8M9 16h6"],
  close: ["M6 6l12 12M18 6L6 18"],
  more: ["M7 10l5 5 5-5"],
  back: ["M14 6l-6 6 6 6"],
  again: ["M19 12a7 7 0 1 1-2.5-5.400", "M17 2v5h-5"],
  out: ["M9 5H5v14h14v-4", "M13 5h6v6M19 5l-9 9"],
  warn: ["M12 4l9 16H3z", "M12 10v5M12 17.5v.01"],
};

/** @param {string} name @returns {SVGSVGElement} */
export function icon(name) {
  const paths = (DRAWINGS[name] ?? []).map((drawing) => drawing.startsWith("fill:")
    ? svg("path", { d: drawing.slice(5), fill: "currentColor" })
    : svg("path", { d: drawing, fill: "none" }));
  return svg("svg", {
    class: "icon", viewBox: "0 0 24 24", width: 24, height: 24, "aria-hidden": "true", focusable: "false",
    stroke: "currentColor", "stroke-width": 1.5, "stroke-linejoin": "bevel", "stroke-linecap": "round",
  }, paths);
}
