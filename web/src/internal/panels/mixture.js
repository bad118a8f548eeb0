// @ts-check
/** Shares of three states in one picture: a triangle to drag in, and a slider for each. */
import { html, svg } from "../dom.js";
import { dragged } from "../dragging.js";
import { sideInWords } from "../describe.js";
import { percent } from "../i18n.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {[number, number, number]} Shares of left, right and third; they add up to 1 */

/** Size of the drawing. */
const BOX = { width: 112, height: 92 };
/** Corners of the triangle in its drawing: left, right, third. @type {[number, number][]} */
const CORNERS = [[8, 84], [104, 84], [56, 8]];

/** Barycentric coordinates of a point, kept within the triangle. @param {number} x @param {number} y @returns {Shares} */
export function sharesAt(x, y) {
  const [[ax, ay], [bx, by], [cx, cy]] = /** @type {[[number, number], [number, number], [number, number]]} */ (CORNERS);
  const whole = (by - cy) * (ax - cx) + (cx - bx) * (ay - cy);
  const first = Math.max(0, ((by - cy) * (x - cx) + (cx - bx) * (y - cy)) / whole);
  const second = Math.max(0, ((cy - ay) * (x - cx) + (ax - cx) * (y - cy)) / whole);
  const third = Math.max(0, 1 - ((by - cy) * (x - cx) + (cx - bx) * (y - cy)) / whole - ((cy - ay) * (x - cx) + (ax - cx) * (y - cy)) / whole);
  const sum = first + second + third;
  return [first / sum, second / sum, third / sum];
}

/** One share is set; the others keep their proportion. @param {Shares} shares @param {number} index @param {number} value 0 to 1 @returns {Shares} */
export function withShare(shares, index, value) {
  const rest = 1 - (shares[index] ?? 0);
  const others = (/** @type {number} */ share) => (rest > 1e-9 ? share / rest : 0.5) * (1 - value);
  return /** @type {Shares} */ (shares.map((share, at) => (at === index ? value : others(share))));
}

/** @param {Context} ctx */
export function mixture(ctx) {
  const dot = svg("circle", { r: 6 });
  const drawing = svg("svg", { class: "triangle", viewBox: `0 0 ${BOX.width} ${BOX.height}`, ...BOX, "aria-hidden": "true", focusable: "false" },
    svg("path", { d: `M${CORNERS.map((corner) => corner.join(" ")).join("L")}Z` }), dot);
  const take = (/** @type {PointerEvent} */ event) => {
    const box = drawing.getBoundingClientRect();
    ctx.change({ shares: sharesAt(((event.clientX - box.left) / box.width) * BOX.width, ((event.clientY - box.top) / box.height) * BOX.height) });
  };
  dragged(drawing, {
    taken(event) {
      take(event);
      return true;
    },
    moved: take,
  });
  const sliders = /** @type {const} */ (["left", "right", "third"]).map((end, index) => {
    const name = html("span", { class: "name", dir: "auto" });
    const input = html("input", { type: "range", min: 0, max: 1, step: 0.01, dir: "ltr" });
    const output = html("output", {});
    input.addEventListener("input", () => ctx.change({ shares: withShare(ctx.view().shares, index, Number(input.value)) }));
    return { end, index, name, input, output, element: html("div", { class: "range" }, name, input, output) };
  });
  return {
    element: html("div", { class: "mixture", role: "group", "aria-label": ctx.t("mixture") }, drawing, html("div", { class: "shares" }, sliders.map(({ element }) => element))),
    /** @param {import("../../types.d.ts").View} view */
    update(view) {
      const at = [0, 1].map((axis) => view.shares.reduce((sum, share, index) => sum + share * (CORNERS[index]?.[axis] ?? 0), 0));
      dot.setAttribute("cx", String(at[0]));
      dot.setAttribute("cy", String(at[1]));
      for (const { end, index, name, input, output } of sliders) {
        const { title } = sideInWords(ctx, view[end]);
        const share = view.shares[index] ?? 0;
        name.textContent = title;
        input.setAttribute("aria-label", title);
        input.value = String(share);
        output.textContent = percent(share, ctx.language);
        input.setAttribute("aria-valuetext", output.textContent);
      }
    },
  };
}
