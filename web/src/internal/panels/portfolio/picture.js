// @ts-check
/** A picture as a file: its size, its shape, and what stands in the margin below. */
import { html, uniqueId } from "../../dom.js";
import { byteCount } from "../../i18n.js";
import { plainName } from "../../desk/naming.js";
import { handOut } from "../../handing.js";
import { pictureOf } from "../../keeping/picture.js";
import { LONGEST_PX, sizeFor } from "../../keeping/tiles.js";
import { selectField } from "../fields.js";
import { workPart } from "./work.js";

/** @typedef {import("../../context.js").Context} Context */

/** Longer sides on offer (px). */
const SIDES = [1024, 2048, 4096, 8192, 16384];
/** Shapes on offer, width to height; 0 is that of the screen. @type {[string, number][]} */
const SHAPES = [["screen", 0], ["square", 1], ["wide", 3 / 2], ["tall", 2 / 3]];
const PARTS = /** @type {const} */ (["caption", "scale", "patches", "wedge", "credit"]);

/** A number with its label. @param {string} label @param {{min: number, max: number, value: number, list?: number[]}} options */
export function numberField(label, { min, max, value, list }) {
  const offered = list && html("datalist", { id: uniqueId("sides") }, list.map((one) => html("option", { value: one })));
  const input = html("input", { type: "number", id: uniqueId("number"), min, max, value, step: 1, inputmode: "numeric", dir: "ltr", list: offered?.id });
  return {
    input, element: html("div", { class: "entry" }, html("label", { for: input.id }, label), input, offered ?? null),
    read: () => Math.min(max, Math.max(min, Math.round(Number(input.value) || value))),
  };
}

/** Width to height of a shape by its name. @param {Context} ctx @param {string} shape */
export function aspectOf(ctx, shape) {
  const { width, height } = ctx.stage.size;
  return SHAPES.find(([name]) => name === shape)?.[1] || width / Math.max(1, height);
}

/** @param {Context} ctx */
export const shapeField = (ctx) => selectField(ctx.t("keep.shape"), SHAPES.map(([name]) => [name, ctx.t(`keep.shape.${name}`)]), { as: "entry" });

/** @param {Context} ctx @returns {import("../../context.js").Panel} */
export function picturePart(ctx) {
  const { t } = ctx;
  const side = numberField(t("keep.longer_side"), { min: 64, max: LONGEST_PX, value: 2048, list: SIDES });
  const shape = shapeField(ctx);
  const told = html("p", { class: "note" });
  const boxes = PARTS.map((name) => html("input", { type: "checkbox", checked: true, "data-part": name }));
  const work = workPart(ctx);
  const size = () => sizeFor(side.read(), aspectOf(ctx, shape.select.value));
  const show = () => {
    const { width, height } = size();
    told.textContent = t("keep.size", { width, height });
  };
  side.input.addEventListener("input", show);
  shape.select.addEventListener("change", show);
  const make = html("button", { class: "plain", type: "button", "data-keep": "picture", onclick: () => void work.run(async (signal, progress) => {
    const parts = /** @type {import("../../keeping/picture.js").Parts} */ (Object.fromEntries(PARTS.map((name, at) => [name, boxes[at]?.checked ?? false])));
    const blob = await pictureOf(ctx, { ...size(), parts, signal, progress });
    handOut(blob, `${plainName(ctx.dossier.document.id || "picture")}.png`);
    return t("keep.done", { size: byteCount(blob.size, ctx.language) });
  }) }, t("keep.picture.make"));
  show();
  return {
    element: html("section", { class: "picture-part" }, html("h3", {}, t("keep.picture")), html("p", { class: "note" }, t("keep.picture.note")),
      html("div", { class: "pair" }, side.element, shape.element), told,
      html("fieldset", {}, html("legend", {}, t("keep.margin")), PARTS.map((name, at) => html("label", { class: "option" }, boxes[at], html("span", {}, t(`keep.margin.${name}`))))),
      html("div", { class: "acts" }, make), work.element),
    update: show,
    leave: work.stop,
  };
}
