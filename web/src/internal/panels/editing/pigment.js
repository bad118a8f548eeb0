// @ts-check
/** A pigment of the palette: its measured colour, how well it is known, and its caution. */
import { html } from "../../dom.js";
import { entryOf, idFor, kept } from "./choices.js";
import { clearanceField } from "./clearance.js";
import { elementsField, faults, FormFault, labelled, numberField } from "./fields.js";
import { merged } from "./steps.js";
import { textsField } from "./texts.js";

/** @typedef {import("../../context.js").Context} Context */

/** @param {Context} ctx @param {string | null} id @param {Record<string, unknown>} given @returns {import("./form.js").Form} */
export function pigmentForm(ctx, id, given) {
  const { t } = ctx;
  const entry = entryOf(ctx, "palette", id, { ...given });
  const title = textsField(ctx, { label: t("form.name"), value: entry.title, required: true });
  const swatch = html("span", { class: "swatch", "aria-hidden": "true" });
  // Limits of CIELAB for surface colours: L* by definition; a* and b* amply.
  const lab = [["L*", 0, 100], ["a*", -128, 128], ["b*", -128, 128]].map(([name, min, max], index) =>
    numberField(ctx, String(name), entry.lab_d50?.[index], { min: Number(min), max: Number(max) }));
  const colour = html("fieldset", { class: "entry lab" }, html("legend", {}, t("form.lab")), swatch, lab.map(({ element }) => element));
  const values = () => lab.map(({ element }) => element.querySelector("input")?.valueAsNumber ?? Number.NaN);
  const show = () => {
    const now = values();
    swatch.style.backgroundColor = now.every(Number.isFinite) ? `lab(${now.join(" ")})` : "transparent";
  };
  colour.addEventListener("input", show);
  show();
  const readings = numberField(ctx, t("form.readings"), entry.readings, { min: 0, step: 1 });
  const spread = numberField(ctx, t("form.spread"), entry.spread_delta_e, { min: 0 });
  const elements = elementsField(ctx, entry.elements ?? []);
  const earliest = numberField(ctx, t("form.earliest"), entry.earliest_year, { step: 1 });
  const latest = numberField(ctx, t("form.latest"), entry.latest_year, { step: 1 });
  const source = textsField(ctx, { label: t("form.source"), value: entry.source });
  const caution = textsField(ctx, { label: t("form.caution"), value: entry.caution, lines: 2 });
  const file = html("input", { type: "file", accept: ".csv,text/csv" });
  const spectrum = labelled(t("form.spectrum"), file, entry.spectrum ?? t("form.spectrum.note"));
  faults(spectrum, file);
  const clearance = clearanceField(ctx, entry);
  return {
    fields: [title.element, colour, readings.element, spread.element, spectrum, elements.element, earliest.element, latest.element, source.element, caution.element, clearance.element],
    async read() {
      const numbers = lab.map((field) => field.read());
      const given_of = numbers.filter((value) => value !== undefined).length;
      if (given_of !== 0 && given_of !== 3) throw new FormFault(t("form.lab_whole"), colour.querySelector("input") ?? undefined);
      const chosen = file.files?.[0];
      const path = chosen ? await ctx.session?.attach(chosen) : entry.spectrum;
      const made = merged(entry, {
        id: idFor(ctx, "palette", id), title: title.read(), lab_d50: given_of === 3 ? numbers : undefined, readings: readings.read(), spread_delta_e: spread.read(), spectrum: path,
        elements: elements.read(), earliest_year: earliest.read(), latest_year: latest.read(), source: source.read(), caution: caution.read(), ...clearance.read(),
      });
      return kept(ctx, "palette", id, made, made.title);
    },
  };
}
