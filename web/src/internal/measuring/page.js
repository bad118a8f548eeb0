// @ts-check
/** The page of measurements: what is measured, the places as they are set, the results, and kept readings. */
import { html, uniqueId } from "../dom.js";
import { isolated, sentenceOf } from "../errors.js";
import { icon } from "../icons.js";
import { cameraAt } from "../going.js";
import { shownIn } from "../looks.js";
import { plot, ratio } from "../plot.js";
import { project } from "../projecting.js";
import { selectField } from "../panels/fields.js";
import { copyButton } from "./copy.js";
import { keptTable } from "./kept.js";
import { notebookOf } from "./notebook.js";
import { showNotebook } from "./overlay.js";
import { asCsv, asText, length, profileCsv, results } from "./words.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("./notebook.js").Measurement} Measurement */
/** @typedef {import("../desk/types.d.ts").MeasureKind} Kind */

/** What can be measured, with how many places it takes; a loop takes that many at least. @type {Record<Kind, number>} */
const KINDS = { distance: 2, loop: 3, profile: 2, angle: 3, normals: 2 };
/** What was chosen last, for when the page is opened again. @type {{kind: Kind, heights: "normal" | "eye"}} */
const memory = { kind: "distance", heights: "normal" };

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function measurePage(ctx) {
  const { t } = ctx;
  const notebook = notebookOf(ctx);
  showNotebook(ctx);
  const said = html("p", { class: "asked", role: "status" });
  const setting = html("button", { class: "action", type: "button", "aria-pressed": "false", "data-set": true });
  const close = html("button", { class: "action strong", type: "button", "data-close": true }, t("measure.close_loop"));
  const back = html("button", { class: "quiet", type: "button", "data-back": true }, t("measure.back"));
  const kind = kindsField(ctx);
  const heights = selectField(t("measure.heights"), [["normal", t("measure.heights.normal")], ["eye", t("measure.heights.eye")]], {
    value: memory.heights, as: "entry", changed: (from) => { memory.heights = /** @type {"normal" | "eye"} */ (from); },
  });
  let picking = false;
  let busy = false;
  /** What came of the last one, said before the next is asked for. */
  let news = "";
  const refresh = () => {
    const { length: set } = notebook.pending;
    const ask = memory.kind === "loop" ? t("measure.ask_loop", { number: set + 1 }) : t("measure.ask", { number: set + 1, count: KINDS[memory.kind] });
    said.textContent = busy ? t("measure.working") : [news, picking ? ask : ""].filter(Boolean).join(" ");
    setting.textContent = t(picking ? "measure.stop" : "measure.start");
    setting.setAttribute("aria-pressed", String(picking));
    close.hidden = memory.kind !== "loop" || set < KINDS.loop || busy;
    back.hidden = set === 0 || busy;
    heights.element.hidden = memory.kind !== "profile";
    kind.note.textContent = t(`measure.${memory.kind}.note`);
  };
  const measureNow = async () => {
    // As it stands now: whoever waits may choose, turn and set otherwise meanwhile.
    const places = notebook.pending;
    const { kind: asked, heights: from } = memory;
    const { eye } = ctx.handle.projection();
    const target = ctx.view().camera.target_m;
    const towards = asked === "profile" && from === "eye" ? /** @type {[number, number, number]} */ ([0, 1, 2].map((axis) => (eye[axis] ?? 0) - (target[axis] ?? 0))) : null;
    const states = shownIn(ctx.view()).filter((id) => ctx.dossier.states.has(id));
    const drop = () => { if (notebook.pending === places) notebook.set([]); };
    busy = true;
    news = "";
    refresh();
    try {
      const desk = await ctx.measurer();
      const result = await desk.measure({ kind: asked, places, states, ...(towards && { towards }) });
      drop();
      const made = notebook.add(asked, places, result);
      news = t("measure.done", { number: made.number, results: results(ctx, made).map(([name, value]) => `${name} ${value}`).join("; ") });
    } catch (error) {
      if (ctx.signal.aborted) return;
      news = t("measure.failed", { detail: isolated(sentenceOf(error)) });
      drop();
    } finally {
      busy = false;
      refresh();
    }
  };
  const pick = (/** @type {number} */ x, /** @type {number} */ y, /** @type {boolean} */ shift = false) => {
    if (busy) return;
    if (shift && memory.kind === "loop" && notebook.pending.length >= KINDS.loop) return void measureNow();
    const point = ctx.handle.anchor_at(x, y);
    news = point ? "" : t("measure.beside");
    if (point) notebook.set([...notebook.pending, { position: point.position, normal: point.normal }]);
    if (memory.kind !== "loop" && notebook.pending.length === KINDS[memory.kind]) return void measureNow();
    refresh();
  };
  const takeBack = () => {
    if (busy || notebook.pending.length === 0) return;
    news = "";
    notebook.set(notebook.pending.slice(0, -1));
    refresh();
  };
  const start = (/** @type {boolean} */ on) => {
    picking = on;
    if (!on) notebook.set([]);
    const last = notebook.pending.at(-1);
    const from = last ? project(ctx.handle.projection(), last.position) : null;
    ctx.stage.take(on ? { pick, back: takeBack, label: t("measure.crosshair"), put_down: () => start(false), from } : null);
    refresh();
  };
  setting.addEventListener("click", (event) => {
    news = "";
    start(!picking);
    // By keyboard the crosshair is what comes next.
    if (picking && event.detail === 0) ctx.stage.crosshair.focus();
  });
  close.addEventListener("click", () => void measureNow());
  back.addEventListener("click", takeBack);
  for (const input of kind.inputs) {
    input.addEventListener("change", () => {
      memory.kind = /** @type {Kind} */ (input.value);
      news = "";
      notebook.set([]);
      refresh();
    });
  }
  const list = listPart(ctx);
  const kept = keptTable(ctx);
  const show = () => {
    list.refresh();
    kept.refresh();
  };
  notebook.changed.add(show);
  show();
  // Once the card that was open before has let go of its own.
  queueMicrotask(() => start(true));
  return {
    element: html("div", {},
      kind.element, heights.element, said, html("div", { class: "row-actions" }, setting, close, back),
      list.element, kept.element,
      html("section", {}, html("h3", {}, t("page.photographs")), html("p", { class: "note" }, t("photographs.way")),
        html("div", { class: "row-actions" }, html("button", { class: "action", type: "button", "data-photographs": true, onclick: () => ctx.turnTo("photographs") }, t("photographs.begin")))),
      html("section", {}, html("h3", {}, t("about.keys")), html("p", { class: "note" }, t("measure.keys")))),
    leave() {
      notebook.changed.delete(show);
      start(false);
    },
  };
}

/** The kinds as a row of choices, with what the chosen one gives. @param {Context} ctx */
function kindsField({ t }) {
  const name = uniqueId("kind");
  const note = html("p", { class: "note", id: uniqueId("kind-note") });
  const kinds = /** @type {Kind[]} */ (Object.keys(KINDS));
  const inputs = kinds.map((one) => html("input", { type: "radio", name, value: one, checked: one === memory.kind, "aria-describedby": note.id }));
  const element = html("fieldset", { class: "kinds" }, html("legend", {}, t("measure.what")),
    html("div", {}, kinds.map((one, index) => html("label", {}, /** @type {HTMLElement} */ (inputs[index]), html("span", {}, t(`measure.${one}`))))), note);
  return { element, inputs, note };
}

/** The results, each with its number on the picture. @param {Context} ctx */
function listPart(ctx) {
  const { t } = ctx;
  const notebook = notebookOf(ctx);
  const all = () => notebook.measurements;
  const rows = html("ol", { class: "measurements" });
  const mesh = html("p", { class: "note" });
  const actions = html("div", { class: "row-actions" },
    copyButton(ctx, t("measure.copy_text"), () => asText(ctx, all())),
    copyButton(ctx, t("measure.copy_table"), () => asCsv(all())),
    html("button", { class: "quiet", type: "button", onclick: () => notebook.clear() }, t("measure.remove_all")));
  const count = html("span", { class: "count" });
  const heading = html("h3", { tabindex: -1 }, html("span", {}, t("measure.list")), count);
  /** Entries that are there, so that one that has the focus stays. @type {Map<Measurement, HTMLElement>} */
  let made = new Map();
  const element = html("section", { hidden: true }, heading, rows, mesh, actions);
  return {
    element,
    refresh() {
      const inside = rows.contains(/** @type {ShadowRoot | Document} */ (rows.getRootNode()).activeElement);
      const entries = new Map(all().map((one) => [one, made.get(one) ?? entry(ctx, one)]));
      for (const [one, row] of made) if (!entries.has(one)) row.remove();
      for (const [one, row] of entries) if (!made.has(one)) rows.append(row);
      made = entries;
      for (const [one, row] of made) row.toggleAttribute("data-chosen", one.number === notebook.chosen);
      element.hidden = all().length === 0;
      count.textContent = all().length.toLocaleString(ctx.language);
      const triangles = all().at(-1)?.result.triangles ?? 0;
      mesh.textContent = t("measure.mesh", { count: triangles });
      // What had the focus is gone: keys must not fall beside the page.
      if (inside && !rows.contains(/** @type {ShadowRoot | Document} */ (rows.getRootNode()).activeElement)) heading.focus();
    },
  };
}

/** @param {Context} ctx @param {Measurement} one */
function entry(ctx, one) {
  const { t, language } = ctx;
  const { kind, number, result } = one;
  const notebook = notebookOf(ctx);
  const name = t("measure.named", { kind: t(`measure.${kind}`), number });
  const go = () => {
    notebook.choose(number);
    const place = one.places[kind === "angle" ? 1 : 0];
    const camera = place && cameraAt(ctx, { sheet: "", uv: [0, 0], position_m: place.position, normal: place.normal });
    // As near as it was: the whole line should stay in the picture.
    if (camera) ctx.glide({ camera: { ...camera, distance_m: ctx.view().camera.distance_m } });
  };
  const samples = result.samples_m ?? [];
  return html("li", { "data-measurement": number, value: number },
    html("div", { class: "entry-head" },
      html("button", { class: "row", type: "button", title: t("measure.show", { name }), onclick: go }, html("span", { class: "measured-number" }, number.toLocaleString(language)), " ", html("span", { class: "name" }, t(`measure.${kind}`))),
      html("button", { class: "quiet", type: "button", "aria-label": t("measure.remove", { name }), onclick: () => notebook.remove(number) }, icon("remove"))),
    html("dl", { class: "values" }, results(ctx, one).map(([term, value]) => html("div", {}, html("dt", {}, term), html("dd", { dir: "auto" }, value)))),
    kind === "profile" && samples.length > 1 && profilePart(ctx, one, samples));
}

/** @param {Context} ctx @param {Measurement} one @param {[number, number][]} samples */
function profilePart(ctx, { result }, samples) {
  const { t, language } = ctx;
  const points = /** @type {[number, number][]} */ (samples.map(([x, y]) => [x * 1e3, y * 1e3]));
  const description = t("measure.profile_in_words", {
    length: length(result.straight_m ?? 0, language), highest: length(result.highest_m ?? 0, language), lowest: length(result.lowest_m ?? 0, language),
  });
  const curve = { x_title: t("measure.axis_along"), y_title: t("measure.axis_height"), points };
  const times = ratio(points);
  return html("figure", {}, plot(curve, language, description),
    html("figcaption", { class: "note" },
      [times !== null && (times >= 1.05 || times <= 0.95) ? t("measure.exaggerated", { times: Number(times.toPrecision(2)).toLocaleString(language) }) : "", result.whole === false ? t("measure.broken") : ""].filter(Boolean).join(" ")),
    html("div", { class: "row-actions" }, copyButton(ctx, t("measure.copy_samples"), () => profileCsv(samples))));
}
