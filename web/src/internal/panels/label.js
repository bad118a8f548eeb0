// @ts-check
/** The wall text: what the object is, and what there is to see on it. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { kindRule } from "../patterns.js";
import { markOf } from "../lookup.js";
import { within } from "../i18n.js";
import { listOf } from "../longlist.js";
import { printPage } from "../printing.js";
import { alongWall, lies } from "../geometry.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function label(ctx) {
  const { t, text, language } = ctx;
  const { document } = ctx.dossier;
  const object = document.object ?? {};
  // The parts stand in the order of the interface's language, however each of them runs.
  const joined = (/** @type {(import("../../types.d.ts").Text | undefined)[]} */ parts) => parts.map(text).filter(Boolean).map((part) => within(part, language)).join(" · ");
  const line = joined([object.date, object.material]);
  const small = joined([object.dimensions, object.place, object.identifier]);
  const element = html("article", { class: "label" },
    html("h2", { dir: "auto", tabindex: -1 }, text(document.title) || t("untitled")),
    line !== "" && html("p", { class: "tombstone" }, line),
    small !== "" && html("p", { class: "note" }, small),
    document.description !== undefined && html("p", { class: "prose", dir: "auto" }, text(document.description)),
    document.notice !== undefined && html("p", { class: "remark", dir: "auto" }, text(document.notice)),
    tour(ctx), standpoints(ctx), onPaper(ctx), pins(ctx), regions(ctx), states(ctx));
  return {
    element,
    update(view) {
      for (const row of element.querySelectorAll("[data-pin], [data-region]")) mark(/** @type {HTMLElement} */ (row), view);
    },
  };
}

/**
 * @template T @param {Context} ctx @param {string} key @param {T[] | undefined} items
 * @param {(item: T, index: number) => HTMLElement} row @param {boolean} [ordered] one comes after the other
 */
function section(ctx, key, items, row, ordered = false) {
  if (!items || items.length === 0) return null;
  return html("section", { class: `list ${key}` },
    html("h3", {}, ctx.t(`list.${key}`), html("span", { class: "count" }, ctx.t(`count.${key}`, { count: items.length }))),
    // Rows of a long list come and go: each is marked as it comes.
    listOf(items, (item, index) => mark(row(item, index), ctx.view()), { label: ctx.t(`list.${key}`), ordered }));
}

/** @param {Context} ctx */
function tour(ctx) {
  const list = section(ctx, "views", ctx.dossier.document.views, (saved, index) =>
    html("button", {
      class: "row", type: "button",
      onclick: () => ctx.tour.go(null, index),
    }, html("span", { class: "key" }, (index + 1).toLocaleString(ctx.language)),
    html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, ctx.text(saved.title)),
      saved.text !== undefined && html("span", { class: "note", dir: "auto" }, ctx.text(saved.text)))), true);
  list?.append(html("button", { class: "action", type: "button", "data-tour": "begin", onclick: () => ctx.turnTo("tour") }, icon("play"), html("span", {}, ctx.t("walk.begin"))));
  return list;
}

/** Where to look from, by the dossier's own up and front. @type {[string, number, number][]} */
const STANDPOINTS = [["front", 0, 0], ["left", -90, 0], ["right", 90, 0], ["back", 180, 0], ["above", 0, 89.5], ["below", 0, -89.5]];

/** @param {Context} ctx */
function standpoints(ctx) {
  const first_elevation_deg = () => ctx.first_camera()?.elevation_deg ?? 0;
  const stand = (/** @type {string} */ name, /** @type {string} */ words, /** @type {() => {azimuth_deg: number, elevation_deg: number}} */ from) => html("button", {
    class: "plain", type: "button", "data-stand": name,
    onclick: () => ctx.visit({ camera: { ...ctx.view().camera, ...from(), aspect: ctx.stage.aspect } }),
  }, ctx.t(`stand.${words}`));
  return html("section", { class: "standpoints no-print" }, html("h3", {}, ctx.t("stand")),
    html("div", { class: "acts" },
      STANDPOINTS.map(([name, azimuth_deg, elevation_deg]) => stand(name, name, () => ({ azimuth_deg, elevation_deg }))),
      stand("along", lies(first_elevation_deg()) ? "along_ground" : "along", () => alongWall(ctx.view().camera, first_elevation_deg()))));
}

/** The label and the picture as it stands. @param {Context} ctx */
function onPaper(ctx) {
  return html("p", { class: "no-print" }, html("button", { class: "action", type: "button", "data-print": "label", onclick: () => void printPage(ctx, () => {}, () => {}) }, icon("print"), html("span", {}, ctx.t("label.print"))));
}

/** @param {Context} ctx */
function pins(ctx) {
  return section(ctx, "pins", ctx.dossier.document.pins, (pin, index) =>
    html("button", { class: "row", type: "button", "data-pin": pin.id, onclick: () => ctx.show({ kind: "pin", id: pin.id }) },
      html("span", { class: "key mark" }, markOf(ctx, index)),
      html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, ctx.text(pin.title)))));
}

/** @param {Context} ctx */
function regions(ctx) {
  return section(ctx, "regions", ctx.dossier.document.regions, (region) =>
    html("button", { class: "row", type: "button", "data-region": region.id, onclick: () => ctx.show({ kind: "region", id: region.id, probe: null }) },
      html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, ctx.text(region.title)),
        html("span", { class: "note" }, ctx.t("count.claims", { count: ctx.dossier.claimsAbout(region.id).length })))));
}

/** @param {Context} ctx */
function states(ctx) {
  return section(ctx, "states", ctx.dossier.document.states, (state) => html("div", { class: "state" },
    kindRule(state.kind), html("span", { class: "name", dir: "auto" }, ctx.text(state.title)),
    state.kind !== undefined && html("span", { class: "note" }, ctx.t(`kind.${state.kind}`)),
    state.description !== undefined && html("p", { class: "prose", dir: "auto" }, ctx.text(state.description))));
}

/** Says whether its card is open. @param {HTMLElement} row @param {import("../../types.d.ts").View} view */
function mark(row, view) {
  const { pin, region } = row.dataset;
  const open = (pin !== undefined && pin === view.pin) || (region !== undefined && region === view.region);
  if (open) row.setAttribute("aria-current", "true");
  else row.removeAttribute("aria-current");
  return row;
}
