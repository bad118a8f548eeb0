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
  // A glass on its stem over a worked edge; two stones side by side; one stone, now outlined, now full.
  loupe: ["M12 3a6.500 6.500 0 1 0 .01 0M12 16v5M10 21h4", "M8.500 12l2-4h3l2 4"],
  pair: ["M3 20V9l2-3h3l2 3v11z", "M14 20V9l2-3h3l2 3v11z"],
  blink: ["M4 16V7l2-3h5l2 3v9z", "fill:M11 20v-9l2-3h5l2 3v9z"],
  // Courses of a wall under a stone: what something rests on.
  grounds: ["M8 9V5h8v4", "M4 9h16v5H4zM4 14h16v5H4z", "M12 9v5M8 14v5M16 14v5"],
  // A caption card on its cord; a lamp low over relief; the letter that opens a colophon.
  label: ["M4 10h16v10H4z", "M7 10l5-6 5 6", "M7.5 13.5h6M7.5 16.5h9"],
  light: ["M3 19c2 0 2-3 4.5-3s2.5 3 4.5 3 2-3 4.5-3 2.5 3 4.5 3", "M5 4l4 4M3 9l4.5 1.5M10.5 3L11.5 7.5"],
  // Paint in section: coats on the stone, the upper ones lost towards the right.
  layers: ["M3 16.500c3-1.500 6 1 9 0s6-1.500 9 0V21H3z", "M3 12.500c3-1.500 6 1 9 0 2.500-.800 4-1.200 6-.800l.500 4", "M3 8.500c2.500-1.200 5 .700 7.500.200l.500 4", "M3 4.500c1.300-.500 2.500-.300 3.800.100l.400 4", "M7.500 19h.01M12 18.800h.01M16.500 19h.01"],
  about: ["M5 4h14v16H5z", "M9 8h6M12 8v8M9 16h6"],
  // Lines held against a straightedge, of which one falls short and one goes beyond; two stones that part.
  audit: ["M15.500 3v18", "M3 6h12M3 10.500h7M3 15h18M3 19h12"],
  partings: ["M10 4H6L4 8v12h5l2-5-2-4z", "M14 4h4l2 4v12h-5l2-5-2-4z"],
  // Two jaws over a worked edge, with the span between them; a probe's mark set down on its card.
  measure: ["M4 4v7M20 4v7", "M4 7h16M7 5L4 7l3 2M17 5l3 2-3 2", "M4 20v-3c3-4 6 2 9-2s5 0 7 2v3z"],
  keep: ["M5 4h14v16H5z", "M12 7v6M9 10h6", "M8.500 16.500h7"],
  // A folder of sheets, tied with a bow; a place earlier, a place later; a sheet between crop marks.
  portfolio: ["M3 4h15v16H3z", "M6 4v16", "M18 12l-3-2v4z", "M18 12l3-2v4z"],
  // A part of a stone that is filled.
  region: ["M5 4h14v16H5z", "fill:M5 12l7-3 7 3v8H5z"],
  // A tour: a lamp's cone thrown forward; two wicks; a step to the next knot of a cord, and back.
  play: ["M7 5v14l11-7z"],
  pause: ["M9 5v14M15 5v14"],
  later: ["M3 12h13", "M12 7l5 5-5 5", "fill:M19 10.500h3v3h-3z"],
  earlier: ["M21 12H8", "M12 7l-5 5 5 5", "fill:M2 10.500h3v3H2z"],
  up: ["M12 19V6", "M6.500 11L12 5.500l5.500 5.500"],
  down: ["M12 5v13", "M6.500 13l5.500 5.500 5.500-5.500"],
  print: ["M7 7h10v10H7z", "M7 2v3M17 2v3M7 19v3M17 19v3M2 7h3M2 17h3M19 7h3M19 17h3"],
  // Editing: a pencil and its line; a spot under a beam; a statement and its signature; a pin's cross; a brush on
  // an edge; drawers; lines struck out; a sheet laid in its pocket.
  editing: ["M5 15l1-4.500L14.500 2l3.500 3.500L9.500 14z", "M12.500 4L16 7.500", "M4 20c3-3 4 2 7 0s4-2 5 0 2 1 4 0"],
  evidence: ["M12 3v9", "M8 3l4 9 4-9", "M5 17c3-3 11-3 14 0s-11 5-14 0z", "fill:M11 16h2v2h-2z"],
  claim: ["M5 3h14v18H5z", "M8 7h8M8 10.500h5", "M8 17c1-4 3-3 2 0s1.500-2.500 2.500-1.500.500 2 1.500 1.500 1-1 2-1"],
  pin: ["M10 8v12M4 14h12", "M13 11l6-6"],
  drawing: ["M14 10l6-6M14 10c-3 0-3 2-5 4s-4 1-6 5c5 2 10 0 12-3 2-2 1-4-1-6z"],
  workbench: ["M4 5h16v14H4z", "M4 12h16", "M10 8.500h4M10 15.500h4"],
  add: ["M12 5v14M5 12h14"],
  remove: ["M4 7h16M4 12h16M4 17h10", "M6 21L18 3"],
  undo: ["M9 5L4 10l5 5", "M4 10h10a5 5 0 0 1 0 10h-3"],
  redo: ["M15 5l5 5-5 5", "M20 10H10a5 5 0 0 0 0 10h3"],
  save: ["M6 11V3h9l3 3v5", "M9 7h5", "M3 11h5c0 2 1.500 3.500 4 3.500s4-1.500 4-3.500h5v10H3z"],
  close: ["M6 6l12 12M18 6L6 18"],
  more: ["M7 10l5 5 5-5"],
  // Nearer, farther; the whole stone on its floor.
  nearer: ["M12 5v14M5 12h14"],
  farther: ["M5 12h14"],
  whole: ["M9 17V9l1.500-2.500h3L15 9v8z", "M4 17h16", "M6 20.500h12"],
  back: ["M14 6l-6 6 6 6"],
  again: ["M19 12a7 7 0 1 1-2.5-5.400", "M17 2v5h-5"],
  // A sheet leaving a slot.
  out: ["M7 16V3h10v13", "M10 7h4M10 10.500h4", "M5 16H3v5h18v-5h-2"],
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
