// @ts-check
/** An observation: what was looked at where, with what, and what was found. Begins with what is likely. */
import { html } from "../../dom.js";
import { CAUTION_OF } from "../evidence.js";
import { edited, entryOf, idFor, kept, pigmentChoices, regionChoices } from "./choices.js";
import { clearanceField } from "./clearance.js";
import { elementsField, lineField, selectField } from "./fields.js";
import { filesField } from "./files.js";
import { personField } from "./people.js";
import { pickField } from "./pick.js";
import { placeField } from "./place.js";
import { lastOf, likelyTechnique, rememberTechnique } from "./remember.js";
import { merged, today } from "./steps.js";
import { textsField } from "./texts.js";

/** @typedef {import("../../context.js").Context} Context */

export const TECHNIQUES = [
  "xrf", "micrograph", "cross-section", "sem-edx", "raman", "ftir", "reflectance-spectrum", "colorimetry", "visible",
  "uvl", "uvr", "irr", "vil", "raking-light", "document", "comparison",
];
/** Techniques that tell elements; those whose answer is dark or bright; those that stand nowhere on the surface. */
const ELEMENTAL = ["xrf", "sem-edx"];
const ANSWERING = ["uvl", "uvr", "irr", "vil"];
const ELSEWHERE = ["document", "comparison"];

/** @param {Context} ctx @param {string | null} id @param {Record<string, unknown>} given @returns {import("./form.js").Form} */
export function evidenceForm(ctx, id, given) {
  const { t, text, dossier } = ctx;
  const document = edited(ctx);
  const fresh = id === null;
  const item = entryOf(ctx, "evidence", id, { technique: likelyTechnique(ctx.handle, document), date: today(), ...given });
  const technique = selectField(t("form.technique"), TECHNIQUES.map((word) => [word, t(`technique.${word}`)]), item.technique);
  const region = pickField(ctx, { label: t("card.region"), all: () => regionChoices(ctx), chosen: item.region ? [item.region] : [], single: true, changed: () => suggest() });
  const title = textsField(ctx, { label: t("form.title"), value: fresh ? undefined : item.title });
  const place = placeField(ctx, {
    anchor: item.anchor, at_once: fresh && !item.anchor && !ELSEWHERE.includes(item.technique),
    found(_, found) {
      if (found) region.set([found]);
      suggest();
      // What comes next is what was found there.
      if (fresh) (ELEMENTAL.includes(technique.read()) ? elements.input : /** @type {HTMLElement | null} */ (result.element.querySelector("textarea")))?.focus();
    },
  });
  const elements = elementsField(ctx, item.elements ?? []);
  const identified = pickField(ctx, { label: t("form.identified"), all: () => pigmentChoices(ctx), chosen: item.identified ?? [] });
  const response = selectField(t("form.response"), [["", "–"], ...["none", "weak", "strong"].map((word) => /** @type {[string, string]} */ ([word, t(`response.${word}`)]))], item.response ?? "");
  const result = textsField(ctx, { label: t("evidence.result"), value: item.result, lines: 2 });
  const like = fresh ? lastOf(document, item.technique) : undefined;
  let instrument = textsField(ctx, { label: t("evidence.instrument"), value: item.instrument ?? like?.instrument });
  let settings = textsField(ctx, { label: t("evidence.settings"), value: item.settings ?? like?.settings });
  const date = lineField(t("evidence.date"), item.date ?? "", { type: "date" });
  const operator = personField(ctx, t("evidence.operator"), "operator", fresh ? like?.operator : item.operator ?? "");
  const files = filesField(ctx, item.attachments ?? []);
  const caution = html("p", { class: "caution" });
  const how = html("div", {}, instrument.element, settings.element);

  const name = () => dossier.regions.get(region.read()[0] ?? "")?.title;
  const suggest = () => title.placeholder(text(name()) || t(`technique.${technique.read()}`));
  const fit = () => {
    const word = technique.read();
    elements.element.hidden = !ELEMENTAL.includes(word);
    response.element.hidden = !ANSWERING.includes(word);
    caution.hidden = !(word in CAUTION_OF);
    caution.textContent = word in CAUTION_OF ? t(`caution.${CAUTION_OF[word]}`) : "";
    suggest();
  };
  technique.select.addEventListener("change", () => {
    fit();
    if (!fresh) return;
    // Another technique comes with its own instrument.
    const last = lastOf(document, technique.read());
    instrument = textsField(ctx, { label: t("evidence.instrument"), value: last?.instrument });
    settings = textsField(ctx, { label: t("evidence.settings"), value: last?.settings });
    how.replaceChildren(instrument.element, settings.element);
  });
  fit();
  const clearance = clearanceField(ctx, item);
  return {
    fields: [place.element, technique.element, caution, region.element, elements.element, response.element, result.element, identified.element, title.element, how, date.element, operator.element, files.element, clearance.element],
    stop: place.stop,
    async read() {
      const word = technique.read();
      const made = merged(item, {
        id: idFor(ctx, "evidence", id, word), technique: word, title: title.read() ?? name() ?? t(`technique.${word}`), anchor: place.read(), region: region.read()[0],
        elements: elements.element.hidden ? [] : elements.read(), response: response.element.hidden ? "" : response.read(),
        identified: identified.read(), result: result.read(), instrument: instrument.read(), settings: settings.read(),
        date: date.read(), operator: operator.read(), attachments: await files.read(), ...clearance.read(),
      });
      rememberTechnique(ctx.handle, word);
      return kept(ctx, "evidence", id, made, made.title);
    },
  };
}
