// @ts-check
/** A picture that moves, as a numbered set of frames, as a film or as a GIF; it is looked at frame by frame before. */
import { html, uniqueId } from "../../dom.js";
import { byteCount, decimal } from "../../i18n.js";
import { plainName } from "../../desk/naming.js";
import { handOut } from "../../handing.js";
import { sizeFor } from "../../keeping/tiles.js";
import { asGif, changesOf, FRAMES, frameOf, numberedSet, recordable, recorded, WAYS } from "../../keeping/moving.js";
import { aspectOf, numberField, shapeField } from "./picture.js";
import { selectField } from "../fields.js";
import { workPart } from "./work.js";

/** Longest side of a frame (px), and of what is looked at before: choices of ours. */
const [LONGEST_FRAME, PREVIEW] = [4096, 320];

/** @param {import("../../context.js").Context} ctx @returns {import("../../context.js").Panel} */
export function movingPart(ctx) {
  const { t, language } = ctx;
  const way = selectField(t("keep.way"), WAYS.map((name) => [name, t(`keep.way.${name}`)]), { as: "entry" });
  const frames = numberField(t("keep.frames"), { min: FRAMES.least, max: FRAMES.most, value: 120 });
  const side = numberField(t("keep.longer_side"), { min: 64, max: LONGEST_FRAME, value: 1024 });
  const shape = shapeField(ctx);
  const rate = numberField(t("keep.per_second"), { min: 1, max: 60, value: 25 });
  const told = html("p", { class: "note" });
  const caution = html("p", { class: "caution", hidden: true });
  const work = workPart(ctx);
  const chosen = () => ({ way: /** @type {import("../../keeping/moving.js").Way} */ (way.select.value), frames: frames.read() });
  const size = () => sizeFor(side.read(), aspectOf(ctx, shape.select.value));

  // Nothing moves by itself: who looks turns the frames.
  const canvas = html("canvas", { width: PREVIEW, height: PREVIEW, role: "img" });
  const at = html("input", { type: "range", min: 1, max: 120, value: 1, id: uniqueId("frame"), dir: "ltr" });
  const which = html("output", {});
  let drawing = false;
  let again = false;
  let opened = false;
  const look = async () => {
    if (!opened || ctx.signal.aborted) return;
    if (drawing) {
      again = true;
      return;
    }
    drawing = true;
    try {
      const { way: name, frames: count } = chosen();
      const { width, height } = sizeFor(PREVIEW, aspectOf(ctx, shape.select.value));
      const part = await ctx.pictured(frameOf(ctx.view(), name, Number(at.value) - 1, count), width, height, new Uint32Array([0, 0, width, height]));
      Object.assign(canvas, { width, height });
      canvas.getContext("2d")?.putImageData(new ImageData(new Uint8ClampedArray(part), width), 0, 0);
    } catch {
      // The device may be gone for a moment; the next look draws it.
    }
    drawing = false;
    if (again) {
      again = false;
      void look();
    }
  };
  const preview = html("details", { class: "preview" }, html("summary", {}, t("keep.look")), canvas,
    html("label", { class: "field", for: at.id }, html("span", {}, t("keep.frame"), " ", which), at));
  preview.addEventListener("toggle", () => {
    opened = preview.open;
    void look();
  });
  const show = () => {
    const { way: name, frames: count } = chosen();
    const per_second = rate.read();
    const { width, height } = size();
    told.textContent = t("keep.moving.size", { width, height, seconds: decimal(count / per_second, language, 1) });
    const { changes, too_fast } = changesOf(name, count, per_second);
    caution.hidden = !too_fast;
    if (too_fast) caution.textContent = `${t("keep.too_fast", { changes: decimal(changes, language, 1) })} ${t("caution.flicker")}`;
    for (const one of [film, gif]) one.disabled = too_fast;
    at.max = String(count);
    which.textContent = t("keep.frame_of", { frame: Number(at.value), count });
    at.setAttribute("aria-valuetext", which.textContent);
    canvas.setAttribute("aria-label", which.textContent);
    void look();
  };
  /** @param {string} ending @param {(moving: import("../../keeping/moving.js").Moving & {per_second: number}) => Promise<Blob>} make */
  const run = (ending, make) => void work.run(async (signal, progress) => {
    const { way: name, frames: count } = chosen();
    const blob = await make({ way: name, frames: count, ...size(), per_second: rate.read(), signal, progress: (done) => progress(done / count) });
    handOut(blob, `${plainName(ctx.dossier.document.id || "picture")}-${name}.${ending}`);
    return t("keep.done", { size: byteCount(blob.size, language) });
  });
  const set = html("button", { class: "plain", type: "button", "data-keep": "set", onclick: () => run("zip", (moving) => numberedSet(ctx, moving)) }, t("keep.set"));
  const film = html("button", { class: "plain", type: "button", "data-keep": "film", hidden: recordable() === null, onclick: () => run("webm", (moving) => recorded(ctx, moving)) }, t("keep.film"));
  const gif = html("button", { class: "plain", type: "button", "data-keep": "gif", onclick: () => run("gif", (moving) => asGif(ctx, moving)) }, t("keep.gif"));
  for (const control of [way.select, frames.input, side.input, shape.select, rate.input, at]) control.addEventListener("input", show);
  way.element.classList.add("whole");
  show();
  return {
    element: html("section", { class: "moving-part" }, html("h3", {}, t("keep.moving")),
      html("div", { class: "pair" }, way.element, frames.element, rate.element, side.element, shape.element), told, caution, preview,
      html("div", { class: "acts" }, set, film, gif), html("p", { class: "note" }, t(recordable() === null ? "keep.no_film" : "keep.film.note"), " ", t("keep.gif.note")), work.element),
    update: show,
    leave: work.stop,
  };
}
