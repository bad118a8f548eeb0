// @ts-check
/** What the layers say at one point of the surface. */
import { html } from "../dom.js";
import { labInWords } from "./claim.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @param {import("../context.js").Probe} probe */
export function readings(ctx, probe) {
  const { t, text, dossier, language } = ctx;
  const number = (/** @type {number} */ value) => value.toLocaleString(language, { maximumSignificantDigits: 3 });
  const colours = probe.colours.map(({ state, lab_d50, srgb }) => {
    const swatch = html("span", { class: "swatch", "aria-hidden": "true" });
    swatch.style.backgroundColor = `rgb(${srgb.join(" ")})`;
    const entry = dossier.states.get(state);
    return html("tr", {}, html("th", { scope: "row", dir: "auto" }, swatch, entry ? text(entry.title) : state), html("td", {}, labInWords(lab_d50, language)));
  });
  const bands = probe.bands.map(({ layer, value, unit }) => {
    const entry = dossier.layers.get(layer);
    return html("tr", {}, html("th", { scope: "row", dir: "auto" }, entry ? text(entry.title) : layer), html("td", {}, `${number(value)} ${unit}`));
  });
  if (colours.length + bands.length === 0) return html("section", {});
  return html("section", { class: "readings" },
    html("h3", {}, t("readings")),
    html("table", {}, html("caption", { class: "note" }, t("readings.note")), html("tbody", {}, colours, bands)));
}
