// @ts-check
/** What was measured, in words, as text and as a table. No DOM here. */
import { lengthInWords } from "../scale.js";

/** @typedef {import("./notebook.js").Measurement} Measurement */
/** @typedef {import("../i18n.js").Translate} Translate */
/** @typedef {{t: Translate, language: string}} Words */

/** More digits than that no mesh of an object carries. */
const DIGITS = 4;

/** @param {number} value */
const rounded = (value) => Number(value.toPrecision(DIGITS));

/** @param {number} metres @param {string} language */
export function length(metres, language) {
  if (metres === 0) return lengthInWords(0, language);
  return metres < 0 ? `\u2212${lengthInWords(rounded(-metres), language)}` : lengthInWords(rounded(metres), language);
}

/** In the unit that leaves few digits. @param {number} m2 @param {string} language */
export function area(m2, language) {
  /** @type {[string, number][]} */
  const units = [["m²", 1], ["cm²", 1e-4], ["mm²", 1e-6]];
  const [unit, size] = units.find(([, size]) => m2 >= size) ?? /** @type {[string, number]} */ (units.at(-1));
  return `${rounded(m2 / size).toLocaleString(language)} ${unit}`;
}

/** @param {number} degrees @param {string} language */
export function angle(degrees, language) {
  return `${(Math.round(degrees * 10) / 10).toLocaleString(language, { minimumFractionDigits: 1 })}°`;
}

/** Name and value of each result, the most wanted first. @param {Words} words @param {Measurement} measurement @returns {[string, string][]} */
export function results({ t, language }, { kind, result }) {
  /** @type {[string, string][]} */
  const rows = [];
  const say = (/** @type {string} */ name, /** @type {string} */ value) => rows.push([t(name), value]);
  if (result.straight_m !== undefined) say("measure.straight", length(result.straight_m, language));
  if (kind === "profile" || kind === "distance") {
    const { surface_m } = result;
    say(kind === "profile" ? "measure.along_cut" : "measure.over", surface_m === null || surface_m === undefined ? t("measure.apart") : length(surface_m, language));
  }
  if (result.area_m2 !== undefined) say("measure.area", result.area_m2 === null ? t("measure.parts_nothing") : area(result.area_m2, language));
  if (result.perimeter_m !== undefined) say("measure.perimeter", length(result.perimeter_m, language));
  if (result.angle_deg !== undefined) say("measure.angle", angle(result.angle_deg, language));
  if (result.highest_m !== undefined) say("measure.highest", length(result.highest_m, language));
  if (result.lowest_m !== undefined) say("measure.lowest", length(result.lowest_m, language));
  return rows;
}

/** The one value that stands on the picture. @param {Words} words @param {Measurement} measurement */
export function shortest({ language }, { kind, result }) {
  if (kind === "loop") return result.area_m2 === null ? length(result.perimeter_m ?? 0, language) : area(result.area_m2 ?? 0, language);
  if (kind === "profile") return "↕ " + length((result.highest_m ?? 0) - (result.lowest_m ?? 0), language);
  if (kind === "distance") return length(result.surface_m ?? result.straight_m ?? 0, language);
  return angle(result.angle_deg ?? 0, language);
}

/** One line a measurement. @param {Words} words @param {Measurement[]} all */
export function asText(words, all) {
  return all.map((one) => `${one.number.toLocaleString(words.language)}. ${words.t(`measure.${one.kind}`)}: ${
    results(words, one).map(([name, value]) => `${name} ${value}`).join("; ")}`).join("\n");
}

/** Field and column of the table: numbers as machines read them, in mm, mm² and degrees. @type {[keyof import("../desk/types.d.ts").Measured & string, string, number][]} */
const COLUMNS = [
  ["straight_m", "straight_mm", 1e3], ["surface_m", "surface_mm", 1e3], ["angle_deg", "angle_deg", 1], ["perimeter_m", "perimeter_mm", 1e3],
  ["area_m2", "area_mm2", 1e6], ["lowest_m", "lowest_mm", 1e3], ["highest_m", "highest_mm", 1e3], ["triangles", "triangles", 1],
];

/** @param {number} value */
const figure = (value) => String(Number(value.toPrecision(7)));

/** As RFC 4180 has it. @param {Measurement[]} all */
export function asCsv(all) {
  const head = ["number", "kind", ...COLUMNS.map(([, column]) => column), "places_mm"];
  const rows = all.map(({ number, kind, places, result }) => [
    number, kind,
    ...COLUMNS.map(([field, , factor]) => (typeof result[field] === "number" ? figure(/** @type {number} */ (result[field]) * factor) : "")),
    places.map(({ position }) => position.map((metres) => figure(metres * 1e3)).join(" ")).join("; "),
  ]);
  return [head, ...rows].map((row) => row.join(",")).join("\r\n") + "\r\n";
}

/** Samples of a profile in mm. @param {[number, number][]} samples_m */
export function profileCsv(samples_m) {
  return ["along_mm,height_mm", ...samples_m.map((pair) => pair.map((metres) => figure(metres * 1e3)).join(","))].join("\r\n") + "\r\n";
}
