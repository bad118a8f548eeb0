// @ts-check
/** Reading a small table of comma-separated values (RFC 4180), for plots. */

/**
 * @param {string} text
 * @returns {string[][]} rows of fields; lines that are empty or begin with `#` are left out
 */
export function parseCsv(text) {
  /** @type {string[][]} */
  const rows = [];
  /** @type {string[]} */
  let row = [];
  let field = "";
  let quoted = false;
  const endRow = () => {
    row.push(field);
    const blank = row.length === 1 && row[0]?.trim() === "";
    if (!blank && !row[0]?.startsWith("#")) rows.push(row);
    row = [];
    field = "";
  };
  const source = text.replace(/^\uFEFF/, "");
  for (let at = 0; at < source.length; at += 1) {
    const character = source[at] ?? "";
    if (quoted) {
      if (character !== '"') field += character;
      else if (source[at + 1] === '"') { field += '"'; at += 1; }
      else quoted = false;
    } else if (character === '"' && field === "") quoted = true;
    else if (character === ",") { row.push(field); field = ""; }
    else if (character === "\n" || character === "\r") {
      if (character === "\r" && source[at + 1] === "\n") at += 1;
      endRow();
    } else field += character;
  }
  if (field !== "" || row.length > 0) endRow();
  return rows;
}

/**
 * The first two columns as a curve.
 * @param {string} text
 * @returns {{x_title: string, y_title: string, points: [number, number][]} | null}
 *   null: fewer than two rows of numbers, so there is nothing to plot
 */
export function curveOf(text) {
  const rows = parseCsv(text);
  /** @type {[number, number][]} */
  const points = [];
  let titles = ["", ""];
  rows.forEach((row, index) => {
    const [x, y] = [numeric(row[0]), numeric(row[1])];
    if (x !== null && y !== null) points.push([x, y]);
    else if (index === 0) titles = [row[0]?.trim() ?? "", row[1]?.trim() ?? ""];
  });
  if (points.length < 2) return null;
  points.sort((a, b) => a[0] - b[0]);
  return { x_title: titles[0] ?? "", y_title: titles[1] ?? "", points };
}

/** @param {string | undefined} field */
function numeric(field) {
  if (field === undefined || field.trim() === "") return null;
  const value = Number(field);
  return Number.isFinite(value) ? value : null;
}

/**
 * A column name of a data file as a person writes it: `wavelength_nm` is
 * "wavelength (nm)". @param {string} name
 */
export function columnTitle(name) {
  const known = /^(.*)_(nm|um|mm|m|kev|ev|s|deg|percent|counts|cm-1|per_cm)$/i.exec(name);
  if (!known) return name.replaceAll("_", " ");
  /** @type {Record<string, string>} */
  const written = { um: "µm", kev: "keV", ev: "eV", deg: "°", percent: "%", "cm-1": "cm⁻¹", per_cm: "cm⁻¹" };
  const unit = String(known[2]).toLowerCase();
  return `${String(known[1]).replaceAll("_", " ")} (${written[unit] ?? unit})`;
}
