// @ts-check
/** The caption under the object: its two ends, how they are compared, and the pages of the wall. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { COMPARISONS, comparison } from "../comparisons.js";
import { sideOfLeft } from "../geometry.js";
import { degrees, percent } from "../i18n.js";
import { chooser } from "./chooser.js";
import { blinkPart } from "./blink.js";
import { differencePart } from "./difference.js";
import { furtherPart } from "./further.js";

/** @typedef {import("../context.js").Context} Context */

/** Pages that the caption opens; each is a file in this folder. */
export const PAGES = ["label", "grounds", "audit", "partings", "layers", "measure", "light", "portfolio", "about"];

/** Controls that belong to one comparison, by its id. @type {Record<string, (ctx: Context) => import("../context.js").Panel>} */
const PARTS = {
  difference: differencePart, blink: blinkPart,
  swipe: furtherPart([2, 3, 4]), pair: furtherPart([2, 3, 4]), blend: furtherPart([2, 3]),
};

const OPPOSITE = { left: "right", right: "left", above: "below", below: "above" };

/** @param {Context} ctx @returns {import("../context.js").Panel & {page(open: string | null): void}} */
export function plate(ctx) {
  const left = chooser(ctx, "left");
  const right = chooser(ctx, "right");
  const compare = comparePart(ctx);
  const pages = PAGES.map((page) => html("button", {
    class: "page", type: "button", "data-page": page, "aria-expanded": "false",
    onclick: (/** @type {Event} */ event) => ctx.turnTo(/** @type {HTMLElement} */ (event.currentTarget).getAttribute("aria-expanded") === "true" ? null : page),
  }, icon(page), html("span", {}, ctx.t(`page.${page}`))));
  const edit = html("button", {
    class: "page", type: "button", "data-page": "editing", "aria-pressed": String(ctx.session !== null), hidden: !ctx.editable,
    onclick: () => ctx.edit(ctx.session === null).catch((error) => ctx.refused(error, "editing")),
  }, icon("editing"), html("span", {}, ctx.t("page.editing")));
  const row = html("nav", { class: "pages", "aria-label": ctx.t("pages"), dir: ctx.t("direction") }, pages, edit);
  // The ends stand where the sides stand on the screen, whatever way the writing runs.
  const element = html("div", { class: "plate", part: "plate", dir: "ltr" },
    left.element, compare.element, right.element,
    row);
  // Where the row is moved sideways, the open page stays in sight, also when the width changes.
  new ResizeObserver(() => bringIn(row, pages)).observe(row);
  return {
    element,
    update(view) {
      const { both, divided: swiped } = comparison(view.compare);
      const divided = swiped && view.count === 2;
      element.dataset["compare"] = view.compare;
      edit.hidden = !ctx.editable;
      edit.setAttribute("aria-pressed", String(ctx.session !== null));
      right.element.hidden = !both;
      const side = sideOfLeft(view.angle_deg);
      left.name(ctx.t(!both ? "side.shown" : divided ? `side.${side}` : "side.first"));
      right.name(ctx.t(divided ? `side.${OPPOSITE[side]}` : "side.second"));
      for (const panel of [left, right, compare]) panel.update?.(view);
    },
    leave: compare.leave,
    page(open) {
      for (const button of pages) button.setAttribute("aria-expanded", String(button.dataset["page"] === open));
      bringIn(row, pages);
    },
  };
}

/** Moves a row, and nothing around it, until its open page is seen whole. @param {HTMLElement} row @param {readonly HTMLElement[]} pages */
function bringIn(row, pages) {
  const open = pages.find((button) => button.getAttribute("aria-expanded") === "true");
  if (!open || row.scrollWidth <= row.clientWidth) return;
  const [within, of] = [row.getBoundingClientRect(), open.getBoundingClientRect()];
  if (of.left < within.left || of.right > within.right) row.scrollLeft += (of.left + of.right - within.left - within.right) / 2;
}

/** @param {Context} ctx */
function comparePart(ctx) {
  const controls = html("div", { class: "controls" });
  const buttons = COMPARISONS.map(({ id }) => html("button", {
    type: "button", role: "radio", "data-compare": id, "aria-checked": "false", tabindex: -1,
    onclick: () => ctx.change({ compare: id }),
  }, icon(id), html("span", {}, ctx.t(`compare.${id}`))));
  const group = html("div", { class: "ways", role: "radiogroup", "aria-label": ctx.t("compare") }, buttons);
  group.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const at = buttons.findIndex((button) => button.getAttribute("aria-checked") === "true");
    const next = buttons[(at + step + buttons.length) % buttons.length];
    next?.click();
    next?.focus();
  });
  /** @type {import("../context.js").Panel[]} */
  let made = [];
  let shown = "";
  /** What takes turns must not go on when its button is gone. */
  const leave = () => {
    for (const panel of made) panel.leave?.();
  };
  return {
    element: html("div", { class: "compare" }, group, controls),
    leave,
    /** @param {import("../../types.d.ts").View} view */
    update(view) {
      if (view.compare !== shown) {
        shown = view.compare;
        leave();
        const own = PARTS[shown]?.(ctx);
        made = [...comparison(shown).controls.map((control) => range(ctx, control)), ...(own ? [own] : [])];
        controls.replaceChildren(...made.map(({ element }) => element));
        for (const button of buttons) {
          const checked = button.dataset["compare"] === shown;
          button.setAttribute("aria-checked", String(checked));
          button.tabIndex = checked ? 0 : -1;
        }
      }
      for (const panel of made) panel.update?.(view);
    },
  };
}

/** @param {Context} ctx @param {import("../comparisons.js").Control} control */
function range(ctx, { field, label, min, max, step, unit }) {
  const input = html("input", { type: "range", min, max, step, "aria-label": ctx.t(label), dir: "ltr" });
  const output = html("output", {});
  const [outer, inner] = /** @type {["loupe", "radius" | "softness"]} */ (field.split("."));
  input.addEventListener("input", () => {
    const value = Number(input.value);
    ctx.change(inner ? { [outer]: { ...ctx.view()[outer], [inner]: value } } : { [field]: value });
  });
  const element = html("div", { class: "range" }, html("span", { class: "name", "aria-hidden": "true", dir: "auto" }, ctx.t(label)), input, output);
  return {
    element,
    /** @param {import("../../types.d.ts").View} view */
    update(view) {
      element.hidden = field === "position" && view.count > 2;
      const value = inner ? view[outer][inner] : field === "angle_deg" ? upright(view.angle_deg) : view.position;
      input.value = String(value);
      output.textContent = (unit === "percent" ? percent : degrees)(value, ctx.language);
      input.setAttribute("aria-valuetext", output.textContent);
    },
  };
}

/** Into −180 to 180. @param {number} angle_deg */
function upright(angle_deg) {
  return ((((angle_deg + 180) % 360) + 360) % 360) - 180;
}
