// @ts-check
/** What stands over panes beside one another: their captions, and the lines between them. */
import { html } from "./dom.js";
import { sideInWords } from "./describe.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").View} View */
/** @typedef {[x: number, y: number, width: number, height: number]} Pane in CSS px of the picture */

/** None when the picture is whole. @param {import("../types.d.ts").ViewerHandle} handle @param {View | null} view @returns {Pane[]} */
export const panesOf = (handle, view) => (view?.compare === "pair" ? /** @type {Pane[]} */ (handle.panes()) : []);

/** Where something is drawn over the picture: in each pane; a whole picture is one. @param {Pane[]} panes @param {{width: number, height: number}} size of the picture @returns {Pane[]} */
export const roomsIn = (panes, { width, height }) => (panes.length > 0 ? panes : [[0, 0, width, height]]);

export function paneCaptions() {
  const element = html("div", { class: "panes", "aria-hidden": "true", hidden: true });
  let shown = "";
  /** Whose words they are. @type {Context | null} */
  let told = null;
  return {
    element,
    /** @param {Context} ctx @param {View} view @param {Pane[]} panes */
    update(ctx, { left, right, third, fourth }, panes) {
      element.hidden = panes.length === 0;
      if (element.hidden) return;
      const ids = [left, right, third, fourth];
      const now = JSON.stringify([panes, ids, ctx.languages, ctx.changes()]);
      if (now === shown && ctx === told) return;
      shown = now;
      told = ctx;
      const titles = ids.map((id) => sideInWords(ctx, id).title);
      element.replaceChildren(...panes.map(([x, y, width, height], index) => {
        const pane = html("div", { class: "pane" }, html("span", { class: "caption", dir: "auto" }, titles[index] ?? ""));
        Object.assign(pane.style, { left: `${x}px`, top: `${y}px`, width: `${width}px`, height: `${height}px` });
        return pane;
      }));
    },
  };
}
