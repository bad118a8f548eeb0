// @ts-check
/** A mussel shell with paint in it: in such shells painters kept what they had ground. */
import { svg } from "../dom.js";

/** @param {readonly number[] | null} lab CIELAB D50; null: nothing in it */
export function shell(lab) {
  const paint = svg("path", { class: "paint", d: "M13 33C9 22 17 10 31 9c14-1 27 6 30 15 1 5-3 9-9 11-15 5-33 6-39-2z" });
  if (lab) paint.style.fill = `lab(${lab.join(" ")})`;
  else paint.setAttribute("class", "paint bare");
  return svg("svg", { class: "mussel", viewBox: "0 0 72 46", width: 72, height: 46, "aria-hidden": "true", focusable: "false" },
    svg("path", { class: "rim", d: "M7 35C2 22 13 5 31 4c18-1 35 9 37 21 1 7-5 12-13 15-19 6-41 7-48-5z" }), paint,
    svg("path", { class: "lines", fill: "none", d: "M7 35c-2 3-2 5 1 7 4 2 9 2 14 2" }));
}
