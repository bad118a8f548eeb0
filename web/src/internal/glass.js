// @ts-check
/** The stem of the loupe: the glass is carried by it, so that neither finger nor arrow hides what it shows. */
import { html, svg } from "./dom.js";
import { dragged } from "./dragging.js";
import { clamp } from "./geometry.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").ViewerHandle} ViewerHandle */

/** From the rim to the middle of the stem (CSS px): half of a target of 44. */
const STEM_PX = 24;
/** Steps of the keyboard, in shares of the picture. */
const [STEP, LONG_STEP, RADIUS_STEP] = [0.01, 0.05, 0.02];

/** @param {() => Context | null} context @param {HTMLElement} stage */
export function glass(context, stage) {
  const element = html("button", { class: "stem", type: "button", hidden: true }, drawing());
  dragged(element, {
    /** From the pointer to the middle of the glass. @returns {[number, number] | null} */
    taken(event) {
      const loupe = context()?.handle.loupe();
      const box = stage.getBoundingClientRect();
      return loupe ? [loupe.x - (event.clientX - box.left), loupe.y - (event.clientY - box.top)] : null;
    },
    moved(event, [x, y]) {
      const ctx = context();
      const box = stage.getBoundingClientRect();
      if (ctx) carry(ctx, (event.clientX - box.left + x) / box.width, (event.clientY - box.top + y) / box.height);
    },
  });
  element.addEventListener("keydown", (event) => {
    const ctx = context();
    if (!ctx) return;
    const { loupe } = ctx.view();
    const step = event.shiftKey ? LONG_STEP : STEP;
    /** @type {Record<string, () => void>} */
    const keys = {
      ArrowLeft: () => carry(ctx, loupe.x - step, loupe.y), ArrowRight: () => carry(ctx, loupe.x + step, loupe.y),
      ArrowUp: () => carry(ctx, loupe.x, loupe.y - step), ArrowDown: () => carry(ctx, loupe.x, loupe.y + step),
      "+": () => resize(ctx, RADIUS_STEP), "]": () => resize(ctx, RADIUS_STEP), "-": () => resize(ctx, -RADIUS_STEP), "[": () => resize(ctx, -RADIUS_STEP),
    };
    const act = keys[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
  });
  return {
    element,
    /** @param {ReturnType<ViewerHandle["loupe"]>} loupe in CSS px of the picture; null: none is on it */
    place(loupe) {
      element.hidden = !loupe;
      if (!loupe) return;
      const { clientWidth: width, clientHeight: height } = stage;
      // At the foot of the glass, or at its head where the foot leaves the picture.
      const below = loupe.y + loupe.radius + STEM_PX;
      const y = below <= height - STEM_PX ? below : loupe.y - loupe.radius - STEM_PX;
      element.style.transform = `translate(${clamp(loupe.x, 22, width - 22)}px, ${clamp(y, 22, height - 22)}px)`;
    },
    /** @param {Context} ctx */
    name(ctx) {
      element.setAttribute("aria-label", ctx.t("loupe.stem"));
    },
  };
}

/** @param {Context} ctx @param {number} x @param {number} y */
const carry = (ctx, x, y) => ctx.change({ loupe: { ...ctx.view().loupe, x: clamp(x, 0, 1), y: clamp(y, 0, 1) } });

/** @param {Context} ctx @param {number} by */
const resize = (ctx, by) => ctx.change({ loupe: { ...ctx.view().loupe, radius: ctx.view().loupe.radius + by } });

/** A turned handle, seen from above: a bead with a ring. */
function drawing() {
  return svg("svg", { viewBox: "0 0 44 44", width: 44, height: 44, "aria-hidden": "true", focusable: "false" },
    svg("circle", { class: "body", cx: 22, cy: 22, r: 12 }),
    svg("circle", { class: "lines", cx: 22, cy: 22, r: 6, fill: "none" }));
}
