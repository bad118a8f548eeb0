// @ts-check
/** Pages whose parts are fetched when they are first opened, so that who never opens them never waits for them. */
import { html } from "../dom.js";
import { isolated, sentenceOf } from "../errors.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../context.js").Panel} Panel */

/**
 * The page is not made anew when the document changes: what is being done on it goes on.
 * @param {Context} ctx @param {string} name of the page, whose heading is `page.<name>`
 * @param {() => Promise<(ctx: Context) => Panel>} load @returns {Panel}
 */
export function later(ctx, name, load) {
  const { t } = ctx;
  const body = html("div", {}, html("p", { class: "note", role: "status" }, t("page.coming")));
  /** @type {Panel | null} */
  let page = null;
  let left = false;
  const arrive = async () => {
    try {
      const make = await load();
      if (left || ctx.signal.aborted) return;
      page = make(ctx);
      body.replaceWith(page.element);
      page.update?.(ctx.view());
    } catch (error) {
      body.textContent = t("page.not_come", { detail: isolated(sentenceOf(error)) });
    }
  };
  void arrive();
  return {
    element: html("article", { class: `${name} settings` }, html("h2", { tabindex: -1 }, t(`page.${name}`)), body),
    keeps: true,
    update: (view) => page?.update?.(view),
    changed: () => page?.changed?.(),
    leave() {
      left = true;
      page?.leave?.();
    },
  };
}
