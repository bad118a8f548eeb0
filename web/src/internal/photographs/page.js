// @ts-check
/** The page that places a photograph: its points, where it was taken from, and how it lies over the surface. */
import { html, uniqueId } from "../dom.js";
import { isolated, sentenceOf } from "../errors.js";
import { percent } from "../i18n.js";
import { slider } from "../panels/fields.js";
import { project } from "../projecting.js";
import { tripodOf } from "../tripod/tripod.js";
import { agreeing } from "./agreeing.js";
import { lantern } from "./lantern.js";
import { showShot } from "./overlay.js";
import { photoPane } from "./pane.js";
import { found } from "./found.js";
import { keepPart } from "./keep.js";
import { cameraThrough } from "./seeing.js";
import { shotOf } from "./shot.js";
import { tray } from "./tray.js";

/** @typedef {import("../context.js").Context} Context */

/** What photographs, tables and lenses are called. */
const PHOTOGRAPHS = ".tif,.tiff,.png,.jpg,.jpeg,.webp,.dng,image/tiff,image/png,image/jpeg,image/webp";
const TABLES = ".csv,.json,text/csv,application/json";

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function photographsPage(ctx) {
  const { t } = ctx;
  const shot = shotOf(ctx);
  const said = html("p", { class: "asked", role: "status" });
  const setting = html("button", { class: "action", type: "button", "aria-pressed": "false", "data-set": true });
  const back = html("button", { class: "quiet", type: "button", "data-back": true, onclick: () => shot.back(ctx) }, t("photographs.back"));
  const pane = photoPane(ctx, shot, (pixel) => {
    news = "";
    shot.set(ctx, { pixel });
  });
  /** What came of the last thing done, said before the next is asked for. */
  let news = "";
  let picking = false;
  const taking = fileField(t("photographs.choose"), PHOTOGRAPHS, async (file) => {
    news = t("photographs.reading");
    refresh();
    await during(shot.take(ctx, file));
  });
  const others = tray(ctx, shot, (index) => during(shot.choose(ctx, index)), (index) => during(shot.drop(ctx, index)));
  const opening = fileField(t("photographs.open"), TABLES, (file) => during(shot.read(ctx, file)));
  /** @param {Promise<unknown>} work */
  const during = async (work) => {
    try {
      await work;
      news = "";
    } catch (error) {
      if (ctx.signal.aborted) return;
      news = t("photographs.failed", { detail: isolated(sentenceOf(error)) });
    }
    refresh();
  };
  const about = html("p", { class: "note" });
  const lens = html("p", { class: "note" });
  const drop = html("button", { class: "quiet", type: "button", onclick: () => void shot.take_lens(ctx, null, "") }, t("photographs.drop_lens"));
  const results = found(ctx, shot, (pixel) => pane.look(pixel));
  const over = overPart(ctx, shot);
  const by = agreeing(ctx, shot);
  const keep = keepPart(ctx, shot);
  const rest = html("div", {}, pane.element, said, html("div", { class: "row-actions" }, setting, back),
    opening.element, html("div", { class: "row-actions" }, lens, drop), results.element, over.element, by.element, keep.element);
  const refresh = () => {
    const { picture, pairs, pending, needed } = shot;
    rest.hidden = !picture;
    taking.name(t(shot.taken.length > 0 ? "photographs.another" : "photographs.choose"));
    about.textContent = picture ? aboutPicture(ctx, picture) : news;
    const next = pending.pixel ? "photographs.ask_place" : pending.place ? "photographs.ask_pixel" : "photographs.ask";
    const ask = shot.busy ? t("photographs.solving") : [t(next, { number: pairs.length + 1 }), pairs.length < needed ? t("photographs.needed", { count: needed }) : ""].filter(Boolean).join(" ");
    said.textContent = [news, shot.trouble && !shot.placed && t("photographs.unsolved", { detail: isolated(shot.trouble) }), ask].filter(Boolean).join(" ");
    setting.textContent = t(picking ? "photographs.stop" : "photographs.start");
    setting.setAttribute("aria-pressed", String(picking));
    back.hidden = pairs.length === 0 && !pending.pixel && !pending.place;
    lens.textContent = shot.lens ? t("photographs.lens_of", { file: shot.lens.file }) : t("photographs.lens_unknown");
    drop.hidden = !shot.lens;
    for (const part of [others, pane, results, over, by, keep]) part.refresh();
  };
  const pick = (/** @type {number} */ x, /** @type {number} */ y) => {
    const point = ctx.handle.anchor_at(x, y);
    news = point ? "" : t("measure.beside");
    if (point) shot.set(ctx, { place: point.position });
    else refresh();
  };
  const start = (/** @type {boolean} */ on) => {
    picking = on;
    const from = shot.pending.place ? project(ctx.handle.projection(), shot.pending.place) : null;
    ctx.stage.take(on ? { pick, back: () => shot.back(ctx), label: t("photographs.crosshair"), put_down: () => start(false), from } : null);
    refresh();
  };
  setting.addEventListener("click", (event) => {
    news = "";
    start(!picking);
    // By keyboard the crosshair is what comes next.
    if (picking && event.detail === 0) ctx.stage.crosshair.focus();
  });
  const drawn = showShot(ctx, shot);
  lantern(ctx, shot, async () => (await tripodOf(ctx)).geometry());
  shot.changed.add(refresh);
  refresh();
  // Once the card that was open before has let go of its own.
  queueMicrotask(() => start(true));
  return {
    element: html("div", {}, html("p", { class: "remark" }, t("photographs.note")), taking.element, others.element, about, rest,
      html("section", {}, html("h3", {}, t("about.keys")), html("p", { class: "note" }, t("photographs.keys")))),
    changed: refresh,
    update: () => over.refresh(),
    leave() {
      shot.changed.delete(refresh);
      pane.leave();
      drawn.hide();
      start(false);
    },
  };
}

/** @param {string} label @param {string} accept @param {(file: File) => unknown} take */
function fileField(label, accept, take) {
  const input = html("input", { type: "file", accept, id: uniqueId("file") });
  const name = html("label", { for: input.id }, label);
  input.addEventListener("change", () => {
    const file = input.files?.[0];
    if (file) void take(file);
    // The same file may be chosen again.
    input.value = "";
  });
  return {
    element: html("div", { class: "entry" }, name, input),
    /** @param {string} now */
    name: (now) => { if (name.textContent !== now) name.textContent = now; },
  };
}

/** @param {Context} ctx @param {import("./shot.js").Picture} picture */
function aboutPicture({ t, language }, { file, width_px, height_px, bits, encoding, gain, exif }) {
  const number = (/** @type {number} */ value) => value.toLocaleString(language);
  return [
    t("photographs.about", { file, width: number(width_px), height: number(height_px), bits: number(bits), encoding }),
    Math.abs(gain - 1) > 0.01 && t("photographs.gain", { times: gain.toLocaleString(language, { maximumSignificantDigits: 2 }) }),
    exif !== 1 && t("photographs.exif"),
  ].filter(Boolean).join(" ");
}

/** How it is thrown onto the surface, and the way behind its lens. @param {Context} ctx @param {import("./shot.js").Shot} shot */
function overPart(ctx, shot) {
  const { t, language } = ctx;
  const check = (/** @type {"photo" | "frustum" | "arrows"} */ name) => {
    const input = html("input", { type: "checkbox", "data-shows": name, onchange: () => shot.show({ [name]: input.checked }) });
    return { name, input, element: html("label", { class: "option" }, input, html("span", {}, t(`photographs.${name}`))) };
  };
  const checks = [check("photo"), check("frustum"), check("arrows")];
  const opacity = slider(t("layers.opacity"), [0, 1, 0.01], (value) => percent(value, language), (value) => shot.show({ opacity: value }), "ltr");
  const trouble = html("p", { class: "note", hidden: true });
  const look = html("button", { class: "action", type: "button", "data-through": true, onclick: () => {
    const camera = throughLens(ctx, shot);
    if (camera) ctx.glide({ camera });
    trouble.hidden = camera !== null;
    trouble.textContent = camera ? "" : t("photographs.no_look");
  } }, t("photographs.look"));
  const whole = html("button", { class: "quiet", type: "button", onclick: () => { const camera = ctx.first_camera(); if (camera) ctx.glide({ camera }); } }, t("photographs.leave_look"));
  const element = html("section", { hidden: true }, html("h3", {}, t("photographs.over")), checks.map(({ element }) => element), opacity.element,
    html("div", { class: "row-actions" }, look, whole), trouble, html("p", { class: "note" }, t("photographs.look.note")));
  return {
    element,
    refresh() {
      element.hidden = !shot.placed;
      opacity.show(shot.shows.opacity);
      for (const { name, input } of checks) input.checked = shot.shows[name];
    },
  };
}

/** @param {Context} ctx @param {import("./shot.js").Shot} shot */
function throughLens(ctx, { placed }) {
  const middle = ctx.first_camera()?.target_m;
  if (!placed || !middle) return null;
  const { up = [0, 1, 0], front = [0, 0, 1] } = ctx.dossier.document.object?.orientation ?? {};
  const { width, height } = ctx.stage.size;
  return cameraThrough(placed.frame, { up, front }, middle, width / Math.max(1, height));
}
