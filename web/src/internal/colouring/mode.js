// @ts-check
/**
 * Colouring, for the classroom: a child takes measured colours out of shells and paints the parts of the
 * object, or freely; asks what was found only when it wants to; lays its own beside what others think.
 */
import { html } from "../dom.js";
import { spoken } from "../tour/page.js";
import { icon } from "../icons.js";
import { lookup } from "../lookup.js";
import { handOut } from "../handing.js";
import { sentenceOf } from "../errors.js";
import { brush } from "../panels/editing/tools.js";
import { fullScale, OWN, paintedDocument, sheetsOf, shownDocument, takenDocument } from "./document.js";
import { BARE, codesOf, Paper } from "./paper.js";
import { coloured, pictureOf } from "./takehome.js";
import { shell } from "./shell.js";
import { Work } from "./work.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../modes.js").Hooks} Hooks */

/** Brushes for a finger, in shares of the object's radius. Choices of ours. */
const BRUSHES = { small: 0.025, middle: 0.06, large: 0.13 };
/** Side light that shows the carving on bare stone, with a second lamp so that nothing is black. */
const LIGHT = {
  mode: "raking", azimuth_deg: -35, elevation_deg: 40, distance_m: 0, softness: 0.6, strength: 0.85, relief: 1, occlusion: 0,
  second: { azimuth_deg: 45, elevation_deg: 10, distance_m: 0, softness: 0.6, strength: 0.4 },
};

/** @type {NonNullable<import("../modes.js").Mode["arrange"]>} */
export async function arrange({ source, document }) {
  if (/\.(glb|gltf)$/i.test(source.name)) return document;
  const parsed = JSON.parse(new TextDecoder().decode(document));
  const sheets = sheetsOf(parsed);
  for (const { file, width_px, height_px } of sheets) {
    const canvas = new OffscreenCanvas(width_px, height_px);
    const drawing = canvas.getContext("2d");
    if (drawing) {
      drawing.fillStyle = `rgb(${BARE.join(" ")})`;
      drawing.fillRect(0, 0, width_px, height_px);
    }
    source.add(file, new Uint8Array(await (await canvas.convertToBlob({ type: "image/png" })).arrayBuffer()));
  }
  return new TextEncoder().encode(JSON.stringify(shownDocument(parsed, sheets)));
}

/** What outlives a change of language. @param {Context} ctx @param {Hooks} hooks */
async function begin(ctx, hooks) {
  const { document } = ctx.dossier;
  const original = JSON.parse(new TextDecoder().decode(await ctx.source.read(ctx.source.name, { signal: ctx.signal })));
  const sheets = sheetsOf(original);
  const map = original.region_map?.images?.[0]?.file;
  const full = map ? fullScale(await ctx.source.read(map, { signal: ctx.signal })) : 255;
  const colours = [BARE, ...(document.palette ?? []).map(({ lab_d50 }) => (lab_d50 ? codesOf(lab_d50) : BARE))];
  const paper = new Paper({
    sheets, colours,
    awaited: (sheet) => !ctx.signal.aborted && ctx.handle.wanted().some((item) => item.layer === OWN && item.sheet === sheet),
    show: (sheet, image) => {
      const id = hooks.memory["ids"].get(sheet);
      if (id === undefined || ctx.signal.aborted) image.close();
      else hooks.supply(id, image);
    },
  });
  const work = new Work({ ctx, document: paintedDocument(original, sheets, full), changed: (rects) => { paper.take(rects); hooks.memory["told"]?.(); } });
  return { paper, work, original, sheets };
}

/** @param {Context} ctx @param {Hooks} hooks @returns {import("../modes.js").Furniture} */
export function furniture(ctx, hooks) {
  const { t, text } = ctx;
  const { memory } = hooks;
  const palette = ctx.dossier.document.palette ?? [];
  if (!memory["ids"]) {
    // Before anything is supplied: these stay the names of the child's sheets.
    memory["ids"] = new Map(ctx.handle.wanted().filter(({ layer }) => layer === OWN).map(({ sheet, id }) => [sheet, String(id)]));
    Object.assign(memory, { colour: Math.min(1, palette.length), tool: "part", brush: "middle", asks: false, name: "", against: null });
    ctx.change({ left: OWN, right: OWN, compare: "one", light: /** @type {any} */ (LIGHT), pin: null, region: null });
  }
  name(ctx);
  const begun = memory["work"] ??= begin(ctx, hooks);
  const said = html("p", { class: "said-here", role: "status" });
  const say = (/** @type {string} */ words) => { said.textContent = words; };
  const refuse = (/** @type {unknown} */ error) => { if (!ctx.signal.aborted) say(sentenceOf(error)); };
  if (!memory["resumed"]) {
    memory["resumed"] = true;
    void begun.then(async (/** @type {{work: Work}} */ { work }) => { if (await work.resume()) say(t("colouring.resumed")); }).catch(refuse);
  }

  // Shells of paint; the first holds nothing: bare stone.
  const shells = [null, ...palette].map((pigment, number) => html("button", {
    class: "shell", type: "button", role: "radio", "data-colour": number, "aria-checked": String(number === memory["colour"]), tabindex: number === memory["colour"] ? 0 : -1,
    onclick: () => choose(number),
  }, shell(pigment?.lab_d50 ?? null), html("span", { class: "name", dir: "auto" }, pigment ? text(pigment.title) : t("colouring.bare"))));
  const row = html("div", { class: "shells", role: "radiogroup", "aria-label": t("colouring.colours"), "data-scrolls": true }, shells);
  row.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const next = shells[(memory["colour"] + step + shells.length) % shells.length];
    next?.click();
    next?.focus();
  });
  const caution = html("p", { class: "beware", hidden: true });
  function choose(/** @type {number} */ number) {
    memory["colour"] = number;
    for (const [index, one] of shells.entries()) {
      one.setAttribute("aria-checked", String(index === number));
      one.tabIndex = index === number ? 0 : -1;
    }
    const pigment = palette[number - 1];
    caution.hidden = pigment?.caution === undefined;
    caution.textContent = pigment?.caution === undefined ? "" : t("colouring.caution", { pigment: text(pigment.title) });
    if (memory["against"] !== null) compare(null);
    take();
  }

  /** @param {string} key @param {string} drawing @param {() => void} onclick @param {Record<string, unknown>} [more] */
  const button = (key, drawing, onclick, more = {}) => html("button", { class: "do", type: "button", "data-do": key, onclick, ...more }, icon(drawing), html("span", {}, t(`colouring.${key}`)));
  const tools = { part: button("part", "region", () => tool("part")), brush: button("brush", "drawing", () => tool("brush")), look: button("look", "one", () => tool("look")) };
  const sizes = html("div", { class: "sizes", role: "group", "aria-label": t("colouring.size") }, Object.keys(BRUSHES).map((size) => html("button", {
    type: "button", "data-size": size, "aria-label": t(`colouring.size.${size}`), "aria-pressed": String(size === memory["brush"]),
    onclick: () => { memory["brush"] = size; for (const one of sizes.children) one.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (one).dataset["size"] === size)); tool("brush"); },
  }, html("span", { class: `blob ${size}`, "aria-hidden": "true" }))));
  const undo = button("undo", "undo", () => void begun.then((/** @type {{work: Work}} */ { work }) => work.undo()).catch(refuse));
  const redo = button("redo", "redo", () => void begun.then((/** @type {{work: Work}} */ { work }) => work.redo()).catch(refuse));
  const ask = button("ask", "evidence", () => { memory["asks"] = !memory["asks"]; show(); if (memory["asks"]) say(t("colouring.ask.how")); }, { "aria-pressed": "false" });
  const clear = button("clear", "remove", () => void begun.then((/** @type {{work: Work, paper: Paper}} */ { work, paper }) => work.clear(paper.used().keys(), t("colouring.clear"))).catch(refuse));
  const teacher = button("teacher", "label", () => ctx.turnTo("lesson"));
  const tongue = html("select", { "aria-label": t("language") }, hooks.languages().map((language) => html("option", { value: language, selected: language === ctx.view().language }, new Intl.DisplayNames([language], { type: "language" }).of(language) ?? language)));
  tongue.addEventListener("change", () => ctx.change({ language: tongue.value }));
  const answer = html("div", { class: "answer", hidden: true, role: "region", "aria-label": t("colouring.ask") });

  const against = html("div", { class: "against", role: "group", "aria-label": t("colouring.compare") }, html("span", { class: "note" }, t("colouring.compare")),
    (ctx.dossier.document.states ?? []).filter(({ id }) => id !== OWN).map((state) => html("button", { class: "do", type: "button", "data-against": state.id, "aria-pressed": "false", onclick: () => compare(memory["against"] === state.id ? null : state.id) }, html("span", { dir: "auto" }, text(state.title)))));
  const ways = html("div", { class: "ways-here", role: "group", "aria-label": t("compare"), hidden: true }, ["swipe", "blend", "pair", "loupe"].map((way) => html("button", { class: "do", type: "button", "data-way": way, onclick: () => ctx.change({ compare: way, position: 0.5 }) }, icon(way), html("span", {}, t(`compare.${way}`)))));
  const field = html("input", { type: "text", maxlength: 30, autocomplete: "off", value: memory["name"], "data-name": true });
  field.addEventListener("input", () => { memory["name"] = field.value; });
  const home = html("div", { class: "home" }, html("label", {}, html("span", {}, t("colouring.name")), field),
    button("picture", "save", () => void picture().catch(refuse)), button("object", "portfolio", () => void object().catch(refuse)), button("room", "whole", () => void room().catch(refuse)));
  const element = html("div", { class: "bench" },
    html("div", { class: "tools" }, tools.part, tools.brush, sizes, tools.look, undo, redo, ask, clear, teacher, tongue), answer, row, caution,
    html("div", { class: "after" }, against, ways, home), said);

  /** @param {string | null} id */
  function compare(id) {
    memory["against"] = id;
    ctx.change(id === null ? { left: OWN, right: OWN, compare: "one" } : { left: OWN, right: id, compare: "swipe", position: 0.5 });
    take();
  }

  /** @param {string} which */
  function tool(which) {
    memory["tool"] = which;
    if (memory["against"] !== null) compare(null);
    else take();
  }

  /** What a touch does now. */
  function take() {
    const label = t(`colouring.${memory["tool"]}`);
    const put_down = () => tool("look");
    if (memory["tool"] === "brush" && memory["against"] === null && !memory["asks"]) {
      const painting = Object.create(ctx, { session: { value: { draw: (/** @type {"stroke"} */ operation, /** @type {any} */ values) => begun.then((/** @type {{work: Work}} */ { work }) => work.draw(operation, values)) } } });
      const made = brush(painting, {
        number: () => memory["colour"], over: () => "all", label: () => label, fill() {}, watch: (work) => void work.catch(refuse),
        radius_mm: () => ctx.handle.radius_m() * 1000 * BRUSHES[/** @type {keyof typeof BRUSHES} */ (memory["brush"])],
      });
      ctx.stage.take({ tool: made, label, put_down });
    } else ctx.stage.take({ pick: (x, y) => void touched(x, y).catch(refuse), label, put_down });
    show();
  }

  /** @param {number} x @param {number} y */
  async function touched(x, y) {
    const found = await ctx.during(ctx.handle.probe(x, y));
    if (!found) return;
    const region = found.region === null ? undefined : ctx.dossier.regions.get(found.region);
    if (memory["asks"]) return tellOf(region);
    if (memory["tool"] !== "part" || memory["against"] !== null) return;
    if (!region) return say(t("colouring.no_part"));
    say(text(region.title));
    const { work } = await begun;
    await work.fill(region.number, { sheet: found.anchor.sheet, uv: found.uv }, memory["colour"], text(region.title));
  }

  /** What was found at a part, in a child's order: by what, and what it told. @param {import("../../types.d.ts").Region | undefined} region */
  function tellOf(region) {
    const found = region ? ctx.dossier.evidenceAt(region.id) : [];
    // Said once of what is not in the language asked for.
    const [note] = found.flatMap((item) => [item.title, item.result]).map((one) => spoken(ctx, one).note).filter(Boolean);
    answer.replaceChildren(html("h2", { dir: "auto" }, region ? text(region.title) : t("colouring.elsewhere")),
      ...(found.length === 0 ? [html("p", { class: "prose" }, t("colouring.nothing"))] : [html("ul", {}, found.map((item) => html("li", { dir: "auto" }, html("b", {}, text(item.title)), " ", text(item.result)))), ...(note ? [html("p", { class: "note" }, note)] : [])]));
    answer.hidden = false;
    say("");
  }

  async function picture() {
    const { document } = ctx.dossier;
    const who = memory["name"].trim();
    const today = new Intl.DateTimeFormat(ctx.language, { dateStyle: "long" }).format(new Date());
    const blob = await pictureOf(ctx, {
      title: text(document.title) || t("untitled"), by: who ? t("colouring.by", { name: who }) : t("colouring.by_nobody"),
      note: [today, text(document.rights?.credit), text(document.notice)].filter(Boolean).join(" · "),
    });
    handOut(blob, `${document.id || "object"}-coloured.png`);
    say(t("colouring.taken"));
  }

  async function object() {
    const { document } = ctx.dossier;
    const { paper } = /** @type {{paper: Paper}} */ (await begun);
    const materials = new Map((document.surface?.sheets ?? []).map((sheet) => [sheet.id, String(Reflect.get(sheet, "material") ?? sheet.id)]));
    const pictures = new Map((await paper.pictures()).map(({ sheet, png }) => [materials.get(sheet) ?? sheet, png]));
    const glb = await ctx.source.read(document.surface?.file ?? "", { signal: ctx.signal });
    const who = memory["name"].trim();
    handOut(new Blob([coloured(glb, pictures, { title: text(document.title), ...(who && { colouredBy: who }), credit: text(document.rights?.credit) })], { type: "model/gltf-binary" }), `${document.id || "object"}-coloured.glb`);
    say(t("colouring.taken"));
  }

  /** For looking at it in a room, through a telephone. */
  async function room() {
    const { document } = ctx.dossier;
    const { paper, work, original, sheets } = await begun;
    const who = memory["name"].trim();
    const taken = takenDocument(original, sheets, {
      language: ctx.language, title: text(document.title) || t("untitled"), own: t("colouring.own"), by: who ? t("colouring.by", { name: who }) : t("colouring.by_nobody"),
      credit: text(document.rights?.credit),
    });
    const files = new Map(sheets.map((/** @type {import("./document.js").Sheet} */ { sheet, file }) => [sheet, file]));
    const pictures = (await paper.pictures()).map((/** @type {{sheet: string, png: Uint8Array}} */ { sheet, png }) => ({ file: files.get(sheet) ?? "", bytes: png }));
    const bytes = await (await work.desk).package(taken, pictures);
    handOut(new Blob([bytes], { type: "model/vnd.usdz+zip" }), `${document.id || "object"}-coloured.usdz`);
    say(t("colouring.taken"));
  }

  function show() {
    const comparing = memory["against"] !== null;
    for (const [name_of, one] of Object.entries(tools)) one.setAttribute("aria-pressed", String(name_of === memory["tool"] && !comparing));
    ask.setAttribute("aria-pressed", String(memory["asks"]));
    if (!memory["asks"]) answer.hidden = true;
    sizes.hidden = memory["tool"] !== "brush" || comparing;
    ways.hidden = !comparing;
    for (const one of against.querySelectorAll("[data-against]")) one.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (one).dataset["against"] === memory["against"]));
    void begun.then((/** @type {{work: Work}} */ { work }) => {
      undo.disabled = work.undo_label === null;
      redo.disabled = work.redo_label === null;
    }, () => {});
  }
  ask.addEventListener("click", take);
  memory["told"] = show;
  queueMicrotask(() => { if (!ctx.signal.aborted) choose(memory["colour"]); });
  return {
    element,
    restored: () => void begun.then((/** @type {{paper: Paper}} */ { paper }) => paper.refresh(true), () => {}),
    page(page) { hooks.element.toggleAttribute("data-reading", page !== null); },
    leave() { ctx.stage.take(null); },
  };
}

/** The child's state has a name in the language spoken. @param {Context} ctx */
function name(ctx) {
  const title = ctx.t("colouring.own");
  const document = structuredClone(ctx.handle.document());
  for (const list of [document.states ?? [], document.layers ?? []]) for (const one of list) if (one.id === OWN) one.title = title;
  ctx.handle.replace_document(JSON.stringify(document));
  ctx.dossier = lookup(ctx.handle.document());
}
