// @ts-check
/** What stands over panes beside one another: their captions, and the lines between them. */
import { html } from "./dom.js";
import { sideInWords } from "./describe.js";

/** @typedef {import("./context.js").Context} Context */

export function paneCaptions() {
  const element = html("div", { class: "panes", "aria-hidden": "true", hidden: true });
  let shown = "";
  return {
    element,
    /** @param {Context} ctx @param {import("../types.d.ts").View} view */
    update(ctx, { compare, left, right, third, fourth }) {
      element.hidden = compare !== "pair";
      if (element.hidden) return;
      const panes = /** @type {[number, number, number, number][]} */ (ctx.handle.panes());
      const titles = [left, right, third, fourth].map((id) => sideInWords(ctx, id).title);
      const now = JSON.stringify([panes, titles]);
      if (now === shown) return;
      shown = now;
      element.replaceChildren(...panes.map(([x, y, width, height], index) => {
        const pane = html("div", { class: "pane" }, html("span", { class: "caption", dir: "auto" }, titles[index] ?? ""));
        Object.assign(pane.style, { left: `${x}px`, top: `${y}px`, width: `${width}px`, height: `${height}px` });
        return pane;
      }));
    },
  };
}
