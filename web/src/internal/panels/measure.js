// @ts-check
/** Measuring on the object and comparing kept readings. What does it is fetched when the page is first opened. */
import { html } from "../dom.js";
import { sentenceOf } from "../errors.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../context.js").Panel} Panel */

/** @param {Context} ctx @returns {Panel} */
export function measure(ctx) {
  const { t } = ctx;
  const body = html("div", {}, html("p", { class: "note", role: "status" }, t("measure.coming")));
  const element = html("article", { class: "measure settings" }, html("h2", { tabindex: -1 }, t("page.measure")), body);
  /** @type {Panel | null} */
  let page = null;
  let left = false;
  import("../measuring/page.js").then(({ measurePage }) => {
    if (left || ctx.signal.aborted) return;
    page = measurePage(ctx);
    body.replaceWith(page.element);
  }, (error) => {
    body.textContent = t("measure.failed", { detail: sentenceOf(error) });
  });
  return {
    element, keeps: true,
    leave() {
      left = true;
      page?.leave?.();
    },
  };
}
