// @ts-check
/** How much a finding matters, by shape and word: whole, half, hollow. */
import { svg } from "../dom.js";

/** Gravest first. @type {readonly ["error", "warning", "note"]} */
export const SEVERITIES = ["error", "warning", "note"];

/** @param {string} severity */
export function severityMark(severity) {
  const outline = "M9 1.5l7.5 7.5L9 16.500 1.500 9z";
  return svg("svg", { class: "severity", viewBox: "0 0 18 18", width: 18, height: 18, "aria-hidden": "true", "data-severity": severity },
    svg("path", { d: outline, fill: severity === "error" ? "currentColor" : "none", stroke: "currentColor", "stroke-width": 1.5 }),
    severity === "warning" && svg("path", { d: "M9 1.500V16.500L1.500 9z", fill: "currentColor" }));
}
