// @ts-check
/** One finding: what is wrong, what would settle it, the way there, and letting it stand with a reason. */
import { html } from "../dom.js";
import { goTo } from "../going.js";
import { decimal } from "../i18n.js";
import { severityMark } from "./severity.js";
import { dateInWords, personInWords } from "./evidence.js";
import { ruleName } from "./audit.js";
import { figureName, sentence, settlement } from "./told.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Finding} Finding */

/** @param {Context} ctx @param {Finding} finding */
export function findingEntry(ctx, finding) {
  const { t } = ctx;
  const room = html("div", {});
  const element = html("article", { class: "finding", "data-rule": finding.rule, "data-about": finding.about },
    html("button", { class: "sentence", type: "button", onclick: () => goTo(ctx, finding.place) },
      severityMark(finding.severity), sentence(ctx, finding)),
    html("p", { class: "settles" }, html("span", { class: "note" }, t("audit.settles")), " ", settlement(ctx, finding)),
    measures(ctx, finding),
    html("p", { class: "note" }, [ruleName(ctx, finding.rule), placeInWords(ctx, finding)].filter(Boolean).join(" · ")),
    ctx.session && html("div", { class: "row-actions" },
      amendment(ctx, finding),
      html("button", { class: "quiet", type: "button", onclick: () => {
        if (ctx.editors) room.replaceChildren(ctx.editors.setAsideForm(ctx, finding, () => room.replaceChildren()));
        /** @type {HTMLElement | null} */ (room.querySelector("textarea"))?.focus();
      } }, t("audit.let_stand"))),
    room);
  return element;
}

/** The way to the form where the finding can be mended. @param {Context} ctx @param {Finding} finding */
function amendment(ctx, { place }) {
  const { t, dossier } = ctx;
  const { evidence, claim, pigment } = place;
  const form = evidence !== undefined && dossier.evidence.has(evidence) ? { form: /** @type {const} */ ("evidence"), id: evidence }
    : claim !== undefined && dossier.claims.has(claim) ? { form: /** @type {const} */ ("claim"), id: claim }
    : pigment !== undefined && dossier.pigments.has(pigment) ? { form: /** @type {const} */ ("pigment"), id: pigment } : null;
  if (!form) return null;
  return html("button", { class: "quiet", type: "button", onclick: () => ctx.show({ kind: "form", ...form, with: { back: "audit" } }) }, t(`edit.amend.${form.form}`));
}

/** @param {Context} ctx @param {Finding} finding */
function measures(ctx, { measures: all }) {
  if (!all || all.length === 0) return null;
  return html("p", { class: "figures" }, all.map((measure) => `${figureName(ctx, measure)} ${decimal(measure.value, ctx.language, Math.abs(measure.value) < 10 ? 2 : 1)}${measure.unit && ` ${measure.unit}`}`).join(" · "));
}

/** @param {Context} ctx @param {Finding} finding */
function placeInWords({ dossier, text }, { place }) {
  const named = [
    place.region !== undefined && (dossier.regions.get(place.region)?.title ?? place.region),
    place.state !== undefined && (dossier.states.get(place.state)?.title ?? place.state),
    place.pigment !== undefined && (dossier.pigments.get(place.pigment)?.title ?? place.pigment),
    place.layer !== undefined && (dossier.layers.get(place.layer)?.title ?? place.layer),
    place.evidence !== undefined && (dossier.evidence.get(place.evidence)?.title ?? place.evidence),
    place.claim,
  ];
  return named.map((title) => (title ? text(title) : "")).filter(Boolean).join(" · ");
}

/** @param {Context} ctx @param {import("../../types.d.ts").Standing} standing */
export function standingEntry(ctx, { finding, set_aside }) {
  const { t, text } = ctx;
  const index = (ctx.dossier.document.set_aside ?? []).findIndex(({ rule, about }) => rule === finding.rule && about === set_aside.about);
  return html("article", { class: "finding" },
    html("button", { class: "sentence", type: "button", onclick: () => goTo(ctx, finding.place) }, severityMark(finding.severity), sentence(ctx, finding)),
    html("p", { class: "prose", dir: "auto" }, text(set_aside.reason)),
    html("p", { class: "note" }, [personInWords(ctx, set_aside.by), dateInWords(ctx, set_aside.date ?? undefined)].filter(Boolean).join(" · ")),
    ctx.session && index >= 0 && html("div", { class: "row-actions" }, html("button", { class: "quiet", type: "button", onclick: () => ctx.editors?.takeBack(ctx, index).catch((error) => ctx.refused(error)) }, t("audit.take_back"))));
}
