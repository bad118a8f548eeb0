// @ts-check
/** The picture in words: the text alternative that follows the view. */
import { directionName, heightName, sideOfLeft } from "./geometry.js";
import { comparison } from "./comparisons.js";
import { percent } from "./i18n.js";
import { countOf } from "./looks.js";
import { differenceScale } from "./panels/legend.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").View} View */

/** Title and kind of what a side shows. @param {Context} ctx @param {string} id */
export function sideInWords(ctx, id) {
  const { t, dossier, text } = ctx;
  const state = dossier.states.get(id);
  if (state) return { title: text(state.title), kind: state.kind ? t(`kind.${state.kind}`) : "", kind_id: state.kind ?? "" };
  const layer = dossier.layers.get(id);
  if (layer) return { title: text(layer.title), kind: t("kind.band"), kind_id: "band" };
  return { title: id, kind: "", kind_id: "" };
}

/** What is compared, in its order; what is shown twice is told twice. @param {Context} ctx @param {View} view */
function allInWords(ctx, view) {
  const titles = [view.left, view.right, view.third, view.fourth].slice(0, countOf(view)).map((id) => sideInWords(ctx, id).title);
  return new Intl.ListFormat(ctx.language).format(titles);
}

/** Three states and their shares. @param {Context} ctx @param {View} view */
function mixtureInWords(ctx, { left, right, third, shares }) {
  const parts = [left, right, third].map((id, index) => `${sideInWords(ctx, id).title} ${percent(shares[index] ?? 0, ctx.language)}`);
  return new Intl.ListFormat(ctx.language).format(parts);
}

/** @param {Context} ctx @returns {string} */
export function describePicture(ctx) {
  const { t, dossier } = ctx;
  const view = ctx.view();
  const left = sideInWords(ctx, view.left).title;
  const right = sideInWords(ctx, view.right).title;
  const sentences = [`${ctx.text(dossier.document.title)}.`];
  const compare = comparison(view.compare);
  const count = countOf(view);
  if (!compare.both) sentences.push(t("describe.one", { left }));
  else if (compare.divided && count > 2) sentences.push(t("describe.strips", { states: allInWords(ctx, view) }));
  else if (compare.divided) sentences.push(t(`describe.swipe.${sideOfLeft(view.angle_deg)}`, { left, right }));
  else if (compare.id === "loupe") sentences.push(t("describe.loupe", { left, right }));
  else if (compare.id === "blink") sentences.push(t("describe.blink", { left, right }));
  else if (compare.id === "pair") sentences.push(t("describe.pair", { states: allInWords(ctx, view) }));
  else if (compare.id === "difference") sentences.push(t("describe.difference", { left, right, scale: differenceScale(ctx, view.difference.full_scale).words }));
  else if (count > 2) sentences.push(t("describe.mixture", { states: mixtureInWords(ctx, view) }));
  else sentences.push(t("describe.blend", { left, right, share: Math.round(view.position * 100) }));
  sentences.push(t("describe.seen", {
    direction: t(`direction.${directionName(view.camera.azimuth_deg)}`),
    height: t(`height.${heightName(view.camera.elevation_deg)}`),
  }));
  if (view.light.mode !== "as-measured") sentences.push(t(`describe.${view.light.mode}`));
  if (view.section) sentences.push(t("describe.section"));
  if (view.lamp) sentences.push(t("describe.lamp", { lamp: t(`lamp.${view.lamp.id}`) }));
  if (view.overlay) sentences.push(t("describe.overlay", { theme: t(`overlay.${view.overlay}`) }));
  const over = view.over === null ? undefined : dossier.layers.get(view.over);
  if (over) sentences.push(t("describe.over", { layer: ctx.text(over.title) }));
  const region = view.region === null ? undefined : dossier.regions.get(view.region);
  if (region) sentences.push(t("describe.region", { title: ctx.text(region.title) }));
  return sentences.join(" ");
}
