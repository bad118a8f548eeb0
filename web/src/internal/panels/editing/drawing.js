// @ts-check
/** Drawing regions on the surface: tool, size, onto what, and the areas as they grow. */
import { html } from "../../dom.js";
import { sentenceOf } from "../../errors.js";
import { decimal } from "../../i18n.js";
import { LongList } from "../../longlist.js";
import { notEditing } from "../card.js";
import { edited, regionChoices } from "./choices.js";
import { numberField, radiosField, selectField } from "./fields.js";
import { pickField } from "./pick.js";
import { brush, filling, lasso } from "./tools.js";

/** @typedef {import("../../context.js").Context} Context */

const TOOLS = ["look", "brush", "lasso", "colour", "band"];
/** Square centimetres in a square metre. */
const CM2 = 1e4;
/** How far from the value pressed a band is filled, as a share of its range, where no limits are given: a choice of ours. */
const BAND_REACH = 0.05;
/** Areas are asked for once drawing has paused so long. */
const ASK_AFTER_MS = 120;

/** What was chosen last, kept while the page is open. @type {WeakMap<object, {tool: string, region: string, way: string, over: string, radius_mm: number, tolerance: number, step_mm: number}>} */
const chosen = new WeakMap();

/** @param {Context} ctx @returns {import("../../context.js").Panel} */
export function drawing(ctx) {
  const { t, text, session } = ctx;
  const title = html("h2", { tabindex: -1 }, t("page.drawing"));
  if (!session) return notEditing(ctx);
  const document = edited(ctx);
  const memory = chosen.get(ctx.handle) ?? { tool: "brush", region: ctx.view().region ?? "", way: "add", over: "free", radius_mm: 5, tolerance: 5, step_mm: 1 };
  chosen.set(ctx.handle, memory);
  const known = () => edited(ctx).regions ?? [];
  if (!known().some(({ id }) => id === memory.region)) memory.region = known().at(-1)?.id ?? "";
  const status = html("p", { class: "remark", role: "status" });
  const say = (/** @type {string} */ words) => { status.textContent = words; };
  const watch = (/** @type {Promise<unknown>} */ work) => {
    say(t("draw.working"));
    work.then(() => say(""), (error) => say(t("form.refused", { detail: sentenceOf(error) })));
  };

  const region = pickField(ctx, { label: t("draw.region"), all: () => regionChoices(ctx), chosen: memory.region ? [memory.region] : [], single: true, changed: ([id = ""]) => choose(id) });
  const tool = radiosField(t("draw.tool"), TOOLS.map((one) => [one, [html("span", {}, html("strong", {}, t(`draw.${one}`)), " ", html("span", { class: "note" }, t(`draw.${one}.note`)))]]), memory.tool);
  const way = radiosField(t("draw.way"), ["add", "take"].map((one) => [one, [html("span", {}, t(`draw.${one}`))]]), memory.way);
  const over = radiosField(t("draw.over"), ["free", "all"].map((one) => [one, [html("span", {}, t(`draw.${one}`))]]), memory.over);
  const radius = sizeField(ctx, memory);
  const tolerance = numberField(ctx, t("draw.tolerance"), memory.tolerance, { min: 0.1, max: 100, unit: "ΔE00" });
  const layers = (document.layers ?? []).map(({ id, kind, title: name }) => ({ id, kind, title: text(name) || id }));
  const pairs = (/** @type {string} */ kind) => layers.filter((layer) => layer.kind === kind).map(({ id, title: name }) => /** @type {[string, string]} */ ([id, name]));
  const seen = ctx.dossier.states.get(ctx.view().left)?.layers ?? [];
  const colour_layer = selectField(t("draw.layer"), pairs("colour"), pairs("colour").find(([id]) => seen.includes(id))?.[0] ?? pairs("colour")[0]?.[0] ?? "");
  const band_layer = selectField(t("draw.layer"), pairs("band"), pairs("band")[0]?.[0] ?? "");
  const from = numberField(ctx, t("draw.from"), null);
  const to = numberField(ctx, t("draw.to"), null);
  const step = numberField(ctx, t("draw.step"), memory.step_mm, { min: 0.1, max: 50, unit: "mm" });
  const settings = {
    brush: html("div", {}, radius.element), colour: html("div", {}, colour_layer.element, tolerance.element),
    band: html("div", {}, band_layer.element, html("div", { class: "pair" }, from.element, to.element), html("p", { class: "note" }, t("draw.band.empty"))),
  };
  const number = () => known().find(({ id }) => id === memory.region)?.number ?? 0;
  const desired = {
    number: () => (memory.way === "take" ? 0 : number()),
    over: () => (memory.way === "take" ? [number()] : /** @type {"free" | "all"} */ (memory.over)),
    radius_mm: () => memory.radius_mm,
    label: named,
    fill,
    watch,
  };

  /** A step by its tool and region. @param {string} word */
  function named(word) {
    const name = text(known().find(({ id }) => id === memory.region)?.title) || memory.region;
    return t(memory.way === "take" && word !== "grow" && word !== "shrink" ? "undo.taken" : "undo.drawn", { tool: t(`draw.${word}`), name });
  }

  /** @param {import("./tools.js").SurfacePoint} anchor @param {number} x @param {number} y */
  function fill(anchor, x, y) {
    const common = { anchor, number: desired.number(), over: desired.over(), connected: true, label: named(memory.tool) };
    watch((async () => {
      if (memory.tool === "colour") {
        memory.tolerance = tolerance.read() ?? memory.tolerance;
        await session?.draw("fill", { ...common, by: "colour", layer: colour_layer.read(), tolerance_delta_e_2000: memory.tolerance });
        return;
      }
      const layer = band_layer.read();
      let [low, high] = [from.read(), to.read()];
      if (low === undefined || high === undefined) {
        const probe = await ctx.handle.probe(x, y);
        const value = probe?.bands.find((band) => band.layer === layer)?.value;
        if (value === undefined) throw new Error(t("draw.no_band"));
        const [least, most] = ctx.dossier.layers.get(layer)?.range ?? [0, 1];
        const reach = Math.abs(most - least) * BAND_REACH;
        low ??= value - reach;
        high ??= value + reach;
      }
      await session?.draw("fill", { ...common, by: "band", layer, from: low, to: high });
    })());
  }

  /** @type {(() => void) | null} */
  let follow = null;
  const take = () => {
    if (follow) ctx.stage.framed.delete(follow);
    follow = null;
    for (const [name, room] of Object.entries(settings)) room.hidden = memory.tool !== name;
    const needs = memory.tool !== "look" && number() === 0;
    if (needs) say(t("draw.needs_region"));
    else if (status.textContent === t("draw.needs_region")) say("");
    if (memory.tool === "look" || needs) return ctx.stage.take(null);
    const made = memory.tool === "brush" ? brush(ctx, desired) : memory.tool === "lasso" ? lasso(ctx, desired) : filling(ctx, desired);
    ctx.stage.take({ tool: made, label: t(`draw.crosshair.${memory.tool}`), put_down: () => put("look") });
    if ("follow" in made) {
      follow = /** @type {() => void} */ (made.follow);
      ctx.stage.framed.add(follow);
    }
  };
  const put = (/** @type {string} */ name) => {
    memory.tool = name;
    for (const input of tool.inputs) input.checked = input.value === name;
    take();
  };
  const choose = (/** @type {string} */ id) => {
    memory.region = id;
    ctx.change({ region: id || null });
    areas.mark();
    take();
  };
  for (const input of tool.inputs) input.addEventListener("change", () => put(input.value));
  for (const input of way.inputs) input.addEventListener("change", () => { memory.way = input.value; over.element.hidden = memory.way === "take"; });
  for (const input of over.inputs) input.addEventListener("change", () => { memory.over = input.value; });
  over.element.hidden = memory.way === "take";
  const change_size = (/** @type {"grow" | "shrink"} */ operation) => {
    try {
      memory.step_mm = step.read() ?? memory.step_mm;
    } catch {
      return;
    }
    const values = { number: number(), mm: memory.step_mm, label: named(operation) };
    const work = operation === "grow" ? session.draw("grow", { ...values, over: /** @type {"free" | "all"} */ (memory.over) }) : session.draw("shrink", values);
    watch(work);
  };
  const areas = areaList(ctx, { number, pick: (id) => { region.set([id]); choose(id); } });
  const element = html("article", { class: "drawing settings" }, title, status,
    region.element,
    html("div", { class: "row-actions" }, html("button", { class: "action", type: "button", onclick: () => ctx.show({ kind: "form", form: "region", id: null }) }, t("edit.add.region")),
      html("button", { class: "quiet", type: "button", onclick: () => { if (memory.region) ctx.show({ kind: "form", form: "region", id: memory.region }); } }, t("edit.amend.region"))),
    tool.element, settings.brush, settings.colour, settings.band, way.element, over.element,
    html("section", {}, html("h3", {}, t("draw.size")), step.element, html("div", { class: "row-actions" }, ["grow", "shrink"].map((one) =>
      html("button", { class: "action", type: "button", "data-size": one, onclick: () => change_size(/** @type {"grow" | "shrink"} */ (one)) }, t(`draw.${one}`))))),
    html("section", {}, html("h3", {}, t("draw.areas"), areas.free), areas.element),
    html("section", {}, html("h3", {}, t("about.keys")), html("p", { class: "note" }, t("draw.keys"))));
  take();
  // Once the card that was open before has let go of its own.
  queueMicrotask(() => ctx.change({ region: memory.region || null }));
  return {
    element, keeps: true,
    changed() {
      const before = memory.region;
      if (!known().some(({ id }) => id === before)) memory.region = known().at(-1)?.id ?? "";
      if (memory.region !== before) region.set(memory.region ? [memory.region] : []);
      areas.ask();
    },
    leave() {
      if (follow) ctx.stage.framed.delete(follow);
      ctx.stage.take(null);
      ctx.change({ region: null });
    },
  };
}

/** Brush size: fine steps where it is small. @param {Context} ctx @param {{radius_mm: number}} memory */
function sizeField(ctx, memory) {
  const exact = html("input", { type: "number", min: 0.2, max: 200, step: 0.1, value: memory.radius_mm * 2, dir: "ltr", "aria-label": ctx.t("draw.diameter") });
  // A slider over three decades: 10 to the power of its value, in mm.
  const slide = html("input", { type: "range", min: -0.7, max: 2.3, step: 0.01, value: Math.log10(memory.radius_mm * 2), dir: "ltr", "aria-label": ctx.t("draw.diameter") });
  slide.addEventListener("input", () => {
    const diameter = Number((10 ** Number(slide.value)).toPrecision(2));
    memory.radius_mm = diameter / 2;
    exact.value = String(diameter);
    slide.setAttribute("aria-valuetext", `${diameter} mm`);
  });
  exact.addEventListener("input", () => {
    if (!(exact.valueAsNumber > 0)) return;
    memory.radius_mm = exact.valueAsNumber / 2;
    slide.value = String(Math.log10(exact.valueAsNumber));
  });
  return { element: html("div", { class: "entry size" }, html("span", { class: "legend", "aria-hidden": "true" }, `${ctx.t("draw.diameter")} (mm)`), slide, exact) };
}

/** Areas of the regions as they are now. @param {Context} ctx @param {{number: () => number, pick: (id: string) => void}} options */
function areaList(ctx, { number, pick }) {
  const { t, text, language } = ctx;
  /** @type {Map<number, number>} */
  let known = new Map();
  let timer = 0;
  const free = html("span", { class: "count" });
  const words = (/** @type {number} */ m2) => `${decimal(m2 * CM2, language, m2 * CM2 < 100 ? 1 : 0)} cm²`;
  const list = new LongList({
    label: t("draw.areas"), guess: () => 45,
    render: (index) => {
      const region = (edited(ctx).regions ?? [])[index];
      if (!region) return html("div");
      const area = known.get(region.number);
      return html("button", { class: "row", type: "button", "data-number": region.number, "aria-current": region.number === number() ? "true" : null, onclick: () => pick(region.id) },
        html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, text(region.title) || region.id), html("span", { class: "note area" }, area === undefined ? "–" : words(area))));
    },
  });
  const show = () => {
    const count = (edited(ctx).regions ?? []).length;
    if (count === list.count) list.refresh();
    else list.show(count);
  };
  const ask = () => {
    clearTimeout(timer);
    timer = window.setTimeout(async () => {
      const found = await ctx.desk().then((desk) => desk.areas()).catch(() => null);
      if (!found) return;
      known = new Map(found.regions.map(({ number: one, area_m2 }) => [one, area_m2]));
      free.textContent = t("draw.unassigned", { area: words(found.unassigned_m2) });
      show();
    }, ASK_AFTER_MS);
  };
  show();
  ask();
  return { element: html("div", { class: "list regions" }, list.element), free, ask, mark: show };
}
