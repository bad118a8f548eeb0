// @ts-check
/** The scale bar: a round length of the object, as long as it is where the camera looks. */
import { html } from "./dom.js";

/** Longest bar (CSS px): a choice of ours, about a fifth of a phone's width and more elsewhere. */
const LONGEST_PX = 110;

/** The longest of 1, 2, 5, 10, 20 … that is at most `most`. @param {number} most */
export function roundLength(most) {
  const power = 10 ** Math.floor(Math.log10(most));
  const step = [5, 2, 1].find((factor) => factor * power <= most * (1 + 1e-9)) ?? 1;
  return step * power;
}

/** In the unit that leaves few digits. @param {number} metres @param {string} language */
export function lengthInWords(metres, language) {
  /** @type {[string, number][]} */
  const units = [["meter", 1], ["millimeter", 1e-3], ["micrometer", 1e-6]];
  const [unit, size] = units.find(([, size]) => metres >= size * (1 - 1e-9)) ?? /** @type {[string, number]} */ (units.at(-1));
  const value = Math.round(metres / size * 1e6) / 1e6;
  // Not every browser knows the micrometre as a unit.
  if (unit === "micrometer") return `${value.toLocaleString(language)} µm`;
  return value.toLocaleString(language, { style: "unit", unit, unitDisplay: "short" });
}

export function scaleBar() {
  const bar = html("span", { class: "bar" });
  const words = html("span", {});
  const element = html("div", { class: "scale-bar", role: "img", hidden: true, dir: "ltr" }, bar, words);
  let shown = "";
  return {
    element,
    /** @param {import("./context.js").Context} ctx */
    update(ctx) {
      const per_pixel = ctx.handle.metres_per_pixel();
      element.hidden = !(per_pixel && per_pixel > 0);
      if (!per_pixel || element.hidden) return;
      const metres = roundLength(LONGEST_PX * per_pixel);
      const width = (metres / per_pixel).toFixed(1);
      const now = `${width} ${metres} ${ctx.language}`;
      if (now === shown) return;
      shown = now;
      const length = lengthInWords(metres, ctx.language);
      bar.style.inlineSize = `${width}px`;
      words.textContent = length;
      element.setAttribute("aria-label", ctx.t("scale.bar", { length }));
    },
  };
}
