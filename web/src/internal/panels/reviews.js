// @ts-check
/** What reviewers say of a claim, and saying so oneself. */
import { html } from "../dom.js";
import { dateInWords, personInWords } from "./evidence.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Claim} Claim */

/** @type {readonly import("../../types.d.ts").Verdict[]} */
export const VERDICTS = ["agree", "dispute", "ask"];

/** @param {Context} ctx @param {Claim} claim */
export function reviewPart(ctx, claim) {
  const { t } = ctx;
  const reviews = claim.reviews ?? [];
  if (reviews.length === 0 && !ctx.session) return null;
  const room = html("div", {});
  const open = (/** @type {HTMLElement | undefined} */ form) => {
    if (!form) return;
    room.replaceChildren(form);
    /** @type {HTMLElement | null} */ (room.querySelector("textarea"))?.focus();
  };
  const close = () => room.replaceChildren();
  return html("section", { class: "reviews" },
    reviews.map((review, index) => reviewEntry(ctx, claim, index, review, (form) => open(form), close)),
    ctx.session && html("div", { class: "row-actions", role: "group", "aria-label": t("review.yours") },
      VERDICTS.map((verdict) => html("button", {
        class: "quiet", type: "button", "data-verdict": verdict, onclick: () => open(ctx.editors?.reviewForm(ctx, claim.id, verdict, close)),
      }, t(`review.${verdict}`)))),
    room);
}

/**
 * @param {Context} ctx @param {Claim} claim @param {number} index @param {import("../../types.d.ts").Review} review
 * @param {(form: HTMLElement | undefined) => void} open @param {() => void} close
 */
function reviewEntry(ctx, claim, index, { verdict, by, date, reason, answer }, open, close) {
  const { t, text } = ctx;
  const signed = (/** @type {string} */ person, /** @type {string | null | undefined} */ day) => [personInWords(ctx, person), dateInWords(ctx, day)].filter(Boolean).join(", ");
  return html("blockquote", { class: "review", "data-verdict": verdict },
    html("p", {}, html("strong", {}, t(`review.${verdict}.said`)), " ", html("bdi", { class: "note", dir: ctx.t("direction") }, signed(by, date))),
    reason !== undefined && text(reason) !== "" && html("p", { class: "prose", dir: "auto" }, text(reason)),
    answer && html("div", { class: "answer" },
      html("p", {}, html("strong", {}, t("review.answered")), " ", html("bdi", { class: "note", dir: ctx.t("direction") }, signed(answer.by, answer.date))),
      html("p", { class: "prose", dir: "auto" }, text(answer.text))),
    ctx.session && ctx.editors?.reviewClearance(ctx, claim.id, index, personInWords(ctx, by)),
    ctx.session && !answer && verdict !== "agree" && html("div", { class: "row-actions" },
      html("button", { class: "quiet", type: "button", onclick: () => open(ctx.editors?.answerForm(ctx, claim.id, index, close)) }, t("review.answer"))));
}
