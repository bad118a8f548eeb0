// @ts-check
/** The scale bar: a round length of the object, as long as it is where the camera looks; and steps nearer and farther, for who has one finger. */
import { html } from "./dom.js";
import { icon } from "./icons.js";
import { percent } from "./i18n.js";

/** Longest bar (CSS px): a choice of ours, about a fifth of a phone's width and more elsewhere. */
const LONGEST_PX = 110;

/** The longest of 1, 2, 5, 10, 20 … that is at most `most`. @param {number} most */
export function roundLength(most) {
  const power = 10 ** Math.floor(Math.log10(most));
  // Rounding alone must not take a length down a step.
  const step = [5, 2, 1].find((factor) => factor * power <= most * (1 + 1e-9)) ?? 1;
  return step * power;
}

/** In the unit that leaves few digits. @param {number} metres @param {string} language */
export function lengthInWords(metres, language) {
  /** @type {[string, number][]} */
  const units = [["meter", 1], ["millimeter", 1e-3], ["micrometer", 1e-6]];
  const [unit, size] = units.find(([, size]) => metres >= size * (1 - 1e-9)) ?? /** @type {[string, number]} */ (units.at(-1));
  // Six places, so that rounding in double precision is not shown.
  const value = Math.round(metres / size * 1e6) / 1e6;
  // Not every browser knows the micrometre as a unit.
  if (unit === "micrometer") return `${value.toLocaleString(language)} µm`;
  return value.toLocaleString(language, { style: "unit", unit, unitDisplay: "short" });
}

/** From how many device pixels a texel it is said: what is seen is then no finer than the layer. A hair above one, so that it is not said of rounding: a choice of ours. */
const ENLARGED = 1.05;

/** Texels of what is on the left; 0 where its images tell no size. @param {import("./context.js").Context} ctx @param {import("../types.d.ts").View} view */
function texelsOf(ctx, { left }) {
  const ids = ctx.dossier.states.get(left)?.layers ?? [left];
  const images = ids.flatMap((id) => ctx.dossier.layers.get(id)?.images ?? []);
  return Math.max(0, ...images.map(({ width_px = 0, height_px = 0 }) => width_px * height_px));
}

/** Keys of the picture that a press stands for: two steps of the keyboard, a quarter nearer or farther. */
const KEYS = { whole: ["Home"], farther: ["-", "-"], nearer: ["+", "+"] };

/** @param {(key: string) => void} act does what a key on the picture does */
export function scaleBar(act) {
  const bar = html("span", { class: "bar" });
  const words = html("span", { dir: "auto" });
  const enlarged = html("span", { class: "enlarged", dir: "auto", hidden: true });
  const coming = html("span", { class: "coming", dir: "auto", hidden: true });
  const length_bar = html("div", { class: "scale-bar", role: "img" }, bar, words, enlarged, coming);
  const [whole, farther, nearer] = /** @type {const} */ (["whole", "farther", "nearer"]).map((step) => html("button", { class: "step", type: "button", "data-step": step, onclick: () => KEYS[step].forEach(act) }, icon(step)));
  const element = html("div", { class: "scale-room", hidden: true, dir: "ltr" }, whole, farther, length_bar, nearer);
  let shown = "";
  /** Of the surface that a sheet stands for, and whose it is: found once, since it is slow; 0 where the surface has no UVs. @type {{of: unknown, m2: number}} */
  let sheet = { of: null, m2: 0 };
  /** Length of a texel (m), as a mean; 0: not known. @param {import("./context.js").Context} ctx @param {import("../types.d.ts").View} view */
  const texelOf = (ctx, view) => {
    const texels = texelsOf(ctx, view);
    if (texels === 0) return 0;
    if (sheet.of !== ctx.handle) sheet = { of: ctx.handle, m2: ctx.handle.m2_per_uv() };
    return Math.sqrt(sheet.m2 / texels);
  };
  return {
    element,
    /** Whether the picture is as fine as the layers are. @param {import("./context.js").Context} ctx @param {{loading: number, missing: number}} tiles on their way, and not to be had */
    detail(ctx, { loading, missing }) {
      coming.textContent = missing > 0 ? ctx.t("scale.missing") : loading > 0 ? ctx.t("scale.coming") : "";
      coming.hidden = coming.textContent === "";
    },
    /** @param {import("./context.js").Context} ctx @param {import("../types.d.ts").View} view */
    update(ctx, view) {
      const per_pixel = ctx.handle.metres_per_pixel();
      element.hidden = !(per_pixel && per_pixel > 0);
      if (!per_pixel || element.hidden) return;
      const times = texelOf(ctx, view) / (per_pixel / window.devicePixelRatio);
      const said = times > ENLARGED ? ctx.t("scale.enlarged", { share: percent(Number(times.toPrecision(2)), ctx.language) }) : "";
      enlarged.hidden = said === "";
      enlarged.textContent = said;
      const metres = roundLength(LONGEST_PX * per_pixel);
      const width = (metres / per_pixel).toFixed(1);
      const now = `${width} ${metres} ${ctx.language} ${said} ${coming.textContent}`;
      if (now === shown) return;
      shown = now;
      const length = lengthInWords(metres, ctx.language);
      for (const button of [whole, farther, nearer]) {
        const name = ctx.t(`scale.${button.dataset["step"]}`);
        button.setAttribute("aria-label", name);
        button.title = name;
      }
      bar.style.inlineSize = `${width}px`;
      words.textContent = length;
      length_bar.setAttribute("aria-label", [ctx.t("scale.bar", { length }), said, coming.textContent].filter(Boolean).join(". "));
    },
  };
}
