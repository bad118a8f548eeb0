// @ts-check
/** A review of a claim, and the answer to one: who, when and why. */
import { html } from "../../dom.js";
import { edited } from "./choices.js";
import { clearanceBox, clearanceField, withClearance } from "./clearance.js";
import { FormFault, lineField } from "./fields.js";
import { frame } from "./form.js";
import { labelOf } from "./labels.js";
import { personField } from "./people.js";
import { merged, today } from "./steps.js";
import { textsField } from "./texts.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../../types.d.ts").Verdict} Verdict */

/** @param {Context} ctx @param {string} id of the claim */
function claimAt(ctx, id) {
  const claims = edited(ctx).claims ?? [];
  const index = claims.findIndex((claim) => claim.id === id);
  const claim = claims[index];
  if (!claim) throw new FormFault(ctx.t("form.gone"));
  return { claim, index, about: ctx.dossier.regions.get(claim.regions?.[0] ?? "")?.title ?? claim.id };
}

/** @param {Context} ctx @param {string} id of the claim @param {Verdict} verdict @param {() => void} close */
export function reviewForm(ctx, id, verdict, close) {
  const { t } = ctx;
  const reason = textsField(ctx, { label: t(`review.${verdict}.why`), lines: 2, required: verdict !== "agree" });
  const by = personField(ctx, t("review.by"), "reviewer", null, true);
  const date = lineField(t("evidence.date"), today(), { type: "date" });
  const clearance = clearanceField(ctx, {});
  return html("div", { class: "inline-form", "data-review": verdict }, frame(ctx, {
    fields: [reason.element, html("div", { class: "pair" }, by.element, date.element), clearance.element],
    read() {
      const { claim, index, about } = claimAt(ctx, id);
      const review = merged({ verdict }, { by: by.read(), date: date.read(), reason: reason.read(), ...clearance.read() });
      const reviews = [...(claim.reviews ?? []), review];
      return { steps: [{ op: "set", path: `/claims/${index}/reviews`, value: reviews }], label: labelOf(ctx, `undo.review.${verdict}`, about), then: "" };
    },
  }, null, close));
}

/** @param {Context} ctx @param {string} id of the claim @param {number} at index of the review @param {() => void} close */
export function answerForm(ctx, id, at, close) {
  const { t } = ctx;
  const text = textsField(ctx, { label: t("review.answer"), lines: 2, required: true });
  const by = personField(ctx, t("review.by"), "author", null, true);
  const date = lineField(t("evidence.date"), today(), { type: "date" });
  return html("div", { class: "inline-form" }, frame(ctx, {
    fields: [text.element, html("div", { class: "pair" }, by.element, date.element)],
    read() {
      const { claim, index, about } = claimAt(ctx, id);
      const reviews = (claim.reviews ?? []).map((review, one) => (one === at ? { ...review, answer: merged({}, { by: by.read(), date: date.read(), text: text.read() }) } : review));
      return { steps: [{ op: "set", path: `/claims/${index}/reviews`, value: reviews }], label: labelOf(ctx, "undo.answer", about), then: "" };
    },
  }, null, close));
}

/** Whether a review is for the public: changed at once. @param {Context} ctx @param {string} id of the claim @param {number} at index of the review @param {string} name whose it is */
export function reviewClearance(ctx, id, at, name) {
  const { claim } = claimAt(ctx, id);
  const review = claim.reviews?.[at];
  return review && clearanceBox(ctx, review, name, (withheld) => {
    const { claim: now, index, about } = claimAt(ctx, id);
    const reviews = (now.reviews ?? []).map((one, other) => (other === at ? withClearance(one, withheld) : one));
    void ctx.session?.apply([{ op: "set", path: `/claims/${index}/reviews`, value: reviews }], labelOf(ctx, "undo.review.clearance", about));
  });
}
