// @ts-check
/** What the layers say at one point of the surface. */
import { html } from "../dom.js";
import { decimal, labInWords } from "../i18n.js";
import { keepButton } from "../measuring/keep.js";

/** @typedef {import("../context.js").Context} Context */

/** Below this the gamut costs less than a code value does: nothing worth a mark. */
const WORTH_A_MARK = 0.1;

/** @param {Context} ctx @param {import("../context.js").Probe} probe */
export function readings(ctx, probe) {
  const { t, text, dossier, language } = ctx;
  const number = (/** @type {number} */ value) => value.toLocaleString(language, { maximumSignificantDigits: 3 });
  const bands = probe.bands.map(({ layer, value, unit }) => {
    const entry = dossier.layers.get(layer);
    return html("tr", {}, html("th", { scope: "row", dir: "auto" }, entry ? text(entry.title) : layer), html("td", { dir: "auto" }, `${number(value)} ${unit ?? ""}`));
  });
  if (probe.colours.length + bands.length === 0) return html("section", {});
  return html("section", { class: "readings" },
    html("h3", {}, t("readings")),
    html("p", { class: "note" }, t("readings.note")),
    coarser(ctx),
    probe.colours.map((colour) => colourEntry(ctx, colour)),
    bands.length > 0 && html("table", {}, html("caption", { class: "note" }, t("choose.bands")), html("tbody", {}, bands)),
    keepButton(ctx, probe));
}

/** Places are found on what is loaded of the surface: said where a finer level exists. @param {Context} ctx */
function coarser({ handle, t, language }) {
  const level = handle.surface_level();
  return level && level.level < level.of && html("p", { class: "note" }, t("readings.level", { off: decimal(level.error_mm, language, 2) }));
}

/** @param {Context} ctx @param {import("../../types.d.ts").ProbeColour} colour */
function colourEntry(ctx, colour) {
  const { t, text, dossier, language } = ctx;
  const entry = dossier.states.get(colour.state);
  const swatch = html("span", { class: "swatch", "aria-hidden": "true" });
  swatch.style.backgroundColor = `rgb(${colour.srgb.join(" ")})`;
  const digits = (/** @type {number} */ value) => decimal(value, language, 1);
  const [l, c, h] = colour.lch_d50;
  const line = (/** @type {string} */ name, /** @type {string} */ value) => html("div", {}, html("dt", {}, name), html("dd", { dir: "ltr" }, value));
  return html("div", { class: "colour" }, swatch,
    html("div", {},
      html("p", { class: "name", dir: "auto" }, entry ? text(entry.title) : colour.state),
      html("dl", {},
        line("CIELAB", labInWords(colour.lab_d50, language)),
        line("LCh", `${digits(l)} · ${digits(c)} · ${digits(h)}°`),
        line("sRGB", colour.srgb.join(" ")),
        colour.gamut_delta_e_2000 > WORTH_A_MARK && line(t("readings.gamut"), `ΔE00 ${digits(colour.gamut_delta_e_2000)}`),
        colour.claimed && line(t("readings.claimed"), `${labInWords(colour.claimed.lab_d50, language)} · ΔE00 ${digits(colour.claimed.delta_e_2000)}`),
        colour.under_lamp && line(t("readings.lamp"), labInWords(colour.under_lamp.lab_d50, language)))));
}
