// @ts-check
/** Panes beside one another: two or four, and what the further ones show. */
import { html } from "../dom.js";
import { sideInWords } from "../describe.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function panesPart(ctx) {
  const { t, dossier } = ctx;
  const count = html("select", { "aria-label": t("panes.count") }, [2, 4].map((value) => html("option", { value }, t(`panes.${value}`))));
  count.addEventListener("change", () => ctx.change({ panes: Number(count.value) }));
  const ids = [...(dossier.document.states ?? []), ...dossier.bands].map(({ id }) => id);
  const further = /** @type {const} */ (["third", "fourth"]).map((end) => {
    const select = html("select", { "aria-label": t(`panes.${end}`), "data-end": end }, ids.map((id) => html("option", { value: id }, sideInWords(ctx, id).title)));
    select.addEventListener("change", () => ctx.change({ [end]: select.value }));
    return { end, select };
  });
  return {
    element: html("div", { class: "panes-part" }, count, further.map(({ select }) => select)),
    update(view) {
      count.value = String(view.panes);
      for (const { end, select } of further) {
        select.value = view[end];
        select.hidden = view.panes !== 4;
      }
    },
  };
}
