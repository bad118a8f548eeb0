// @ts-check
/** A claim: what of which colour in which states, how certain, why, and what it rests on. */
import { html } from "../../dom.js";
import { CERTAINTIES, certaintyPattern } from "../../patterns.js";
import { edited, entryOf, idFor, kept, evidenceChoices, regionChoices } from "./choices.js";
import { clearanceField } from "./clearance.js";
import { checksField, lineField, radiosField, selectField, FormFault } from "./fields.js";
import { mixtureField } from "./mixture.js";
import { personField } from "./people.js";
import { pickField } from "./pick.js";
import { merged, today } from "./steps.js";
import { likelyCertainty, likelyPigments, likelyStates } from "./suggest.js";
import { textsField } from "./texts.js";

/** @typedef {import("../../context.js").Context} Context */

const FINISHES = ["matt", "waxed", "glossy", "burnished"];

/** @param {Context} ctx @param {string | null} id @param {Record<string, unknown>} given `region`, `evidence` @returns {import("./form.js").Form} */
export function claimForm(ctx, id, { region, evidence: resting = [] }) {
  const { t, text, dossier } = ctx;
  const document = edited(ctx);
  const fresh = id === null;
  const cited = /** @type {string[]} */ (resting);
  const claim = entryOf(ctx, "claims", id, {
    regions: region ? [region] : [], states: likelyStates(document, ctx.view()), evidence: cited, date: today(),
    certainty: likelyCertainty((document.evidence ?? []).filter(({ id: one }) => cited.includes(one))),
  });
  const regions = pickField(ctx, { label: t("list.regions"), all: () => regionChoices(ctx), chosen: claim.regions ?? [] });
  const parts = document.surface?.parts ?? [];
  const part = parts.length > 0 ? checksField(t("form.parts"), parts.map(({ id: one, title }) => [one, text(title) || one]), claim.parts ?? []) : null;
  const states = checksField(t("list.states"), (document.states ?? []).map(({ id: one, title }) => [one, text(title) || one]), claim.states ?? []);
  const paint = mixtureField(ctx, claim);
  const suggestions = html("div", { class: "suggestions", role: "group", "aria-live": "polite" });
  const finish = selectField(t("form.finish"), [["", "–"], ...FINISHES.map((word) => /** @type {[string, string]} */ ([word, t(`finish.${word}`)]))], claim.finish ?? "");
  const certainty = radiosField(t("form.certainty"), CERTAINTIES.map((word) => [word, [certaintyPattern(word), html("span", {}, html("strong", {}, t(`certainty.${word}`)), " ", html("span", { class: "note" }, t(`certainty.${word}.means`)))]]), claim.certainty);
  const argument = textsField(ctx, { label: t("form.argument"), value: claim.argument, lines: 3 });
  const evidence = pickField(ctx, { label: t("form.rests_on"), all: () => evidenceChoices(ctx), chosen: claim.evidence ?? [], changed: (ids) => void suggest(ids) });
  const author = personField(ctx, t("form.author"), "author", fresh ? null : claim.author ?? "");
  const date = lineField(t("evidence.date"), claim.date ?? "", { type: "date" });

  let asked = 0;
  /** Pigments that the elements found are consistent with, to be taken up by one press. @param {string[]} ids */
  const suggest = async (ids) => {
    asked += 1;
    const mine = asked;
    const items = (document.evidence ?? []).filter(({ id: one, elements }) => ids.includes(one) && elements?.length);
    if (items.length === 0) {
      suggestions.replaceChildren();
      return;
    }
    const hints = await ctx.desk().then((desk) => Promise.all(items.map(({ id: one }) => desk.hints(one).catch(() => null)))).catch(() => []);
    // Something else was chosen meanwhile.
    if (mine !== asked) return;
    const pigments = [...new Set(hints.flatMap((hint) => likelyPigments(document, hint)))];
    const elements = [...new Set(items.flatMap((item) => item.elements ?? []))];
    suggestions.setAttribute("aria-label", t("form.consistent", { elements: new Intl.ListFormat(ctx.language).format(elements) }));
    suggestions.replaceChildren(html("p", { class: "note" }, pigments.length === 0 ? t("hint.none") : t("form.consistent", { elements: new Intl.ListFormat(ctx.language).format(elements) })),
      html("div", { class: "chips" }, pigments.map((pigment) => html("button", { class: "chip", type: "button", "data-pigment": pigment, onclick: () => paint.choose(pigment) }, html("span", { dir: "auto" }, text(dossier.pigments.get(pigment)?.title) || pigment)))),
      html("p", { class: "note" }, t("hint.defer")));
  };
  void suggest(claim.evidence ?? []);
  const clearance = clearanceField(ctx, claim);
  return {
    fields: [regions.element, suggestions, paint.element, finish.element, certainty.element, argument.element, evidence.element, states.element, part?.element, author.element, date.element, clearance.element],
    read() {
      if (regions.read().length + (part?.read().length ?? 0) === 0) throw new FormFault(t("form.needs_region"), /** @type {HTMLElement | undefined} */ (regions.element.querySelector("input") ?? undefined));
      const made = merged(claim, {
        id: idFor(ctx, "claims", id), regions: regions.read(), parts: part?.read() ?? claim.parts, states: states.read(), ...paint.read(), finish: finish.read(),
        certainty: certainty.read(), argument: argument.read(), evidence: evidence.read(), author: author.read(), date: date.read(), ...clearance.read(),
      });
      return kept(ctx, "claims", id, made, dossier.regions.get(made.regions?.[0] ?? "")?.title ?? made.regions?.[0] ?? made.parts?.[0]);
    },
  };
}

