// @ts-check
/** The grips of a swipe's dividers: up to three between four states. */
import { html, svg } from "./dom.js";
import { dragged } from "./dragging.js";
import { clamp, positionAt } from "./geometry.js";
import { sideInWords } from "./describe.js";
import { countOf } from "./looks.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").View} View */

/** Most dividers there are. */
const MOST = 3;
/** Half of a grip (CSS px), which keeps within reach when its divider leaves the picture. */
const HALF_PX = 22;

/** Places of the dividers in use. @param {View} view */
export const dividersOf = (view) => (view.compare === "swipe" ? [view.position, ...view.further].slice(0, countOf(view) - 1) : []);

/** The change of a view that puts a divider somewhere; those in its way are pushed along. @param {View} view @param {number} number @param {number} position @returns {Partial<View>} */
export function withDivider(view, number, position) {
  const places = [view.position, ...view.further];
  places[number] = clamp(position, 0, 1);
  for (let at = number - 1; at >= 0; at -= 1) places[at] = Math.min(places[at] ?? 0, places[at + 1] ?? 1);
  for (let at = number + 1; at < countOf(view) - 1; at += 1) places[at] = Math.max(places[at] ?? 1, places[at - 1] ?? 0);
  const [first = 0, second = 0, third = 0] = places;
  return { position: first, further: [second, third] };
}

/** @param {() => Context | null} context @param {() => import("./geometry.js").Size & {left: number, top: number}} box of the picture */
export function dividers(context, box) {
  const grips = Array.from({ length: MOST }, (_, number) => made(number, context, box));
  return {
    elements: grips,
    hide() {
      for (const grip of grips) grip.hidden = true;
    },
    /** In words. @param {Context} ctx @param {View} view */
    name(ctx, view) {
      const places = dividersOf(view);
      const titles = [view.left, view.right, view.third, view.fourth].map((id) => sideInWords(ctx, id).title);
      grips.forEach((grip, number) => {
        const place = places[number];
        grip.hidden = place === undefined;
        if (place === undefined) return;
        const percent = Math.round(place * 100);
        const [left = "", right = ""] = titles.slice(number);
        grip.setAttribute("aria-label", ctx.t("divider", { left, right }));
        grip.setAttribute("aria-valuenow", String(percent));
        grip.setAttribute("aria-valuetext", places.length === 1 ? ctx.t("divider.value", { percent, left }) : ctx.t("divider.at", { percent }));
      });
    },
    /** To where the frame just drawn has them. @param {[number, number][]} points CSS px @param {number} angle_deg */
    place(points, angle_deg) {
      const { width, height } = box();
      points.forEach(([x, y], number) => {
        const at = [clamp(x, HALF_PX, width - HALF_PX), clamp(y, HALF_PX, height - HALF_PX)];
        const grip = grips[number];
        if (grip) grip.style.transform = `translate(${at[0]}px, ${at[1]}px) rotate(${angle_deg}deg)`;
      });
    },
  };
}

/** @param {number} number @param {() => Context | null} context @param {() => import("./geometry.js").Size & {left: number, top: number}} box */
function made(number, context, box) {
  const grip = html("button", { class: "divider", type: "button", role: "slider", "aria-valuemin": 0, "aria-valuemax": 100, "aria-valuenow": 50, hidden: true }, drawing());
  dragged(grip, {
    taken: () => true,
    moved(event) {
      const ctx = context();
      if (!ctx) return;
      const view = ctx.view();
      const { left, top, ...size } = box();
      ctx.change(withDivider(view, number, positionAt(event.clientX - left, event.clientY - top, size, view.angle_deg)));
    },
  });
  grip.addEventListener("keydown", (event) => {
    const ctx = context();
    if (!ctx) return;
    const view = ctx.view();
    const next = stepped(event, dividersOf(view)[number] ?? 0);
    if (next === null) return;
    event.preventDefault();
    ctx.change(withDivider(view, number, next));
  });
  return grip;
}

/** Keys of a slider (ARIA Authoring Practices). @param {KeyboardEvent} event @param {number} position */
function stepped(event, position) {
  const step = event.shiftKey ? 0.1 : 0.01;
  /** @type {Record<string, number>} */
  const targets = {
    ArrowRight: position + step, ArrowDown: position + step, ArrowLeft: position - step, ArrowUp: position - step,
    PageUp: position + 0.1, PageDown: position - 0.1, Home: 0, End: 1,
  };
  const target = targets[event.key];
  return target === undefined ? null : clamp(target, 0, 1);
}

/** A spindle with three grip lines. */
function drawing() {
  return svg("svg", { viewBox: "0 0 44 44", width: 44, height: 44, "aria-hidden": "true", focusable: "false" },
    svg("path", { class: "body", d: "M22 1c5 6 9 13 9 21s-4 15-9 21c-5-6-9-13-9-21s4-15 9-21z" }),
    svg("path", { class: "lines", d: "M18.5 15v14M22 12v20M25.5 15v14", fill: "none" }));
}
