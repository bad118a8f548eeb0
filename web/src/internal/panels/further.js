// @ts-check
/** More than two: how many states are compared at once, and what the further ones are. */
import { html } from "../dom.js";
import { sideInWords } from "../describe.js";
import { countOf } from "../looks.js";
import { mixture } from "./mixture.js";

/** @typedef {import("../context.js").Context} Context */

/** Dividers that part a picture evenly, by how many states there are. @param {number} count */
const evenly = (count) => {
  const place = (/** @type {number} */ number) => Math.min(1, number / count);
  return { position: place(1), further: /** @type {[number, number]} */ ([place(2), place(3)]) };
};

/** @param {number[]} counts on offer @returns {(ctx: Context) => import("../context.js").Panel} */
export const furtherPart = (counts) => (ctx) => {
  const { t, dossier } = ctx;
  const count = html("select", { "aria-label": t("further.count"), "data-count": "", dir: t("direction") }, counts.map((value) => html("option", { value }, t(`further.${value}`))));
  count.addEventListener("change", () => {
    const chosen = Number(count.value);
    ctx.change({ count: chosen, ...(ctx.view().compare === "swipe" && evenly(chosen)) });
  });
  const ids = [...(dossier.document.states ?? []), ...dossier.bands].map(({ id }) => id);
  const ends = /** @type {const} */ (["third", "fourth"]).map((end) => {
    const select = html("select", { "aria-label": t(`further.${end}`), "data-end": end, dir: t("direction") }, ids.map((id) => html("option", { value: id }, sideInWords(ctx, id).title)));
    select.addEventListener("change", () => ctx.change({ [end]: select.value }));
    return { end, select };
  });
  const shares = mixture(ctx);
  const element = html("div", { class: "further" }, html("div", { class: "which" }, count, ends.map(({ select }) => select)), shares.element);
  return {
    element,
    update(view) {
      const shown = countOf(view);
      element.dataset["shown"] = String(shown);
      count.value = String(shown);
      ends.forEach(({ end, select }, index) => {
        select.value = view[end];
        select.hidden = shown < index + 3;
      });
      shares.element.hidden = view.compare !== "blend" || shown !== 3;
      if (!shares.element.hidden) shares.update(view);
    },
  };
};
