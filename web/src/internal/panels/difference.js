// @ts-check
/** Colour differences between the two sides: their scale, what is left out, and their statistics. */
import { html } from "../dom.js";
import { decimal } from "../i18n.js";
import { differenceScale, mapBar } from "./legend.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */

/** The view must have stood still so long before it is measured. */
const MEASURE_AFTER_MS = 250;

/** Upper ends of the scale on offer, in ΔE00: from what is just seen to opposite colours. */
const SCALES = [2, 5, 10, 20, 50, 100];
/** What of the list lets the scale follow the two states. */
const FITTED = "fitted";

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function differencePart(ctx) {
  const { t } = ctx;
  const threshold = html("input", { type: "range", min: 0, max: 20, step: 0.5, dir: "ltr", "aria-label": t("difference.threshold") });
  const above = html("output", {});
  const scale = html("select", { "aria-label": t("difference.scale") }, html("option", { value: FITTED }), SCALES.map((value) => html("option", { value }, differenceScale(ctx, value).words)));
  const scaled = html("div", { class: "figures" });
  const figures = html("p", { class: "note figures", "aria-live": "polite", dir: t("direction") });
  const change = (/** @type {Partial<View["difference"]>} */ part) => ctx.change({ difference: { ...ctx.view().difference, ...part } });
  threshold.addEventListener("input", () => change({ threshold: Number(threshold.value) }));
  scale.addEventListener("change", () => {
    if (scale.value !== FITTED) change({ full_scale: Number(scale.value), fitted: false });
    else if (change({ fitted: true })) fit(ctx.view(), true);
  });
  const element = html("div", { class: "difference" },
    html("div", { class: "legend", role: "img", dir: "ltr", "aria-label": t("difference.legend") },
      mapBar(ctx.handle.band_map("sequence")), scaled),
    html("div", { class: "range" }, html("span", { class: "name", "aria-hidden": "true" }, t("difference.threshold")), threshold, above),
    html("div", { class: "range" }, html("span", { class: "name", "aria-hidden": "true" }, t("difference.scale")), scale),
    figures);
  const measure = measurer(ctx, figures);
  const fit = fitter(ctx);
  return {
    element,
    update(view) {
      const { difference } = view;
      threshold.value = String(difference.threshold);
      above.textContent = difference.threshold === 0 ? "" : `≥ ${decimal(difference.threshold, ctx.language, 1)}`;
      const { fitted, full_scale } = difference;
      if (!fitted && ![...scale.options].some(({ value }) => value === String(full_scale))) scale.append(html("option", { value: full_scale }, differenceScale(ctx, full_scale).words));
      const [fits] = scale.options;
      if (fits) fits.textContent = ctx.t(fitted ? "difference.fitted" : "difference.fit", { scale: differenceScale(ctx, full_scale).words });
      scale.value = fitted ? FITTED : String(full_scale);
      fit(view);
      scaled.replaceChildren(...differenceScale(ctx, full_scale).figures.map((figure) => html("span", {}, figure)));
      measure(view);
    },
  };
}

/**
 * The smallest scale on offer that 95 of 100 pixels of what is seen stay within, once for two states and what
 * is laid over them: it must not change while one turns the object. @param {Context} ctx
 */
function fitter(ctx) {
  let fitted = "";
  let asked = "";
  return async (/** @type {View} */ { left, right, lamp, layers, over, difference }, again = false) => {
    if (!difference.fitted) return;
    const pair = JSON.stringify([left, right, lamp, layers, over]);
    const coming = ctx.handle.wanted().length;
    const now = `${pair} ${coming}`;
    if (!again && (fitted === pair || asked === now)) return;
    asked = now;
    const found = await ctx.handle.differences(null).catch(() => null);
    if (asked !== now || ctx.signal.aborted || !found) return;
    // What is still on its way may differ more.
    if (coming === 0) fitted = pair;
    const view = ctx.view();
    const full_scale = SCALES.find((end) => end >= found.percentile_95) ?? 100;
    if (view.compare === "difference" && view.difference.fitted && full_scale !== view.difference.full_scale) ctx.change({ difference: { ...view.difference, full_scale } });
  };
}

/** @param {Context} ctx @param {HTMLElement} figures @returns {(view: View) => void} */
function measurer(ctx, figures) {
  let timer = 0;
  let asked = "";
  return (view) => {
    const { left, right, camera, region, difference, lamp } = view;
    const now = JSON.stringify([left, right, camera, region, difference.threshold, lamp]);
    if (now === asked) return;
    asked = now;
    clearTimeout(timer);
    timer = window.setTimeout(async () => {
      const found = await ctx.handle.differences(view.region).catch(() => undefined);
      if (now !== asked || ctx.signal.aborted || found === undefined) return;
      figures.textContent = inWords(ctx, found, view);
    }, MEASURE_AFTER_MS);
  };
}

/** @param {Context} ctx @param {import("../../types.d.ts").Differences | null} found @param {View} view */
function inWords(ctx, found, view) {
  const { t, language } = ctx;
  const region = view.region === null ? undefined : ctx.dossier.regions.get(view.region);
  const where = region ? ctx.text(region.title) : t("difference.seen");
  if (!found) return t("difference.nothing", { where });
  const number = (/** @type {number} */ value) => decimal(value, language, 1);
  const line = t("difference.figures", {
    where, mean: number(found.mean), median: number(found.median), percentile: number(found.percentile_95), largest: number(found.largest),
  });
  if (view.difference.threshold === 0) return line;
  return `${line} ${t("difference.share", { percent: decimal(found.share_above * 100, language, 0), threshold: number(view.difference.threshold) })}`;
}
