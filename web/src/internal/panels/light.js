// @ts-check
/** Light on the object, the section, the surround, and how the page itself looks and speaks. */
import { html } from "../dom.js";
import { choice, selectField, slider } from "./fields.js";
import { lampPart } from "./lamp.js";
import { sectionPart } from "./section.js";
import { INTERFACE_LANGUAGES, decimal, degrees, percent } from "../i18n.js";
import { changeLamp, distanceInWords, lampOf } from "../lampring.js";
import { distanceOfShare, shareOfDistance } from "../lamps.js";
import { needsRelief } from "../relief.js";
import { writeSettings } from "../settings.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */
/** @typedef {import("../../types.d.ts").Light} Light */

/** Of the second lamp when it is turned on: as strong as the first at first is. */
const STRENGTH = 1;

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function light(ctx) {
  const { t } = ctx;
  const change = (/** @type {Partial<Light>} */ some) => ctx.change({ light: { ...ctx.view().light, ...some } });
  const modes = /** @type {const} */ (["as-measured", "raking", "daylight"]);
  const mode = choice(t("light.mode"), modes.map((id) => [id, t(`light.${id}`)]), ctx.view().light.mode, (value) => change({ mode: /** @type {Light["mode"]} */ (value) }));
  const first = lampFields(ctx, false);
  const second = lampFields(ctx, true);
  const second_on = html("input", { type: "checkbox", onchange: () => changeLamp(ctx, true, { strength: second_on.checked ? STRENGTH : 0 }) });
  const relief = slider(t("light.relief"), [0, 5, 0.1], (value) => `${decimal(value, ctx.language, 1)} ×`, (value) => change({ relief: value }));
  const occlusion = slider(t("light.occlusion"), [0, 1, 0.01], (value) => percent(value, ctx.language), (value) => change({ occlusion: value }));
  const working = html("p", { class: "note", role: "status" });
  const lamps = html("div", { class: "lamps" }, html("p", { class: "note" }, t("light.carry")), first.element,
    html("label", { class: "option" }, second_on, html("span", {}, t("light.second"))), second.element);
  const sky = html("p", { class: "note" }, t("light.sky"));
  const lit = html("div", { class: "lit" }, html("p", { class: "remark" }, t("light.not_measured")), lamps, sky, relief.element, occlusion.element, working,
    html("p", { class: "note" }, t("light.finishes")));
  const lamp = lampPart(ctx);
  const section = sectionPart(ctx);
  const surround = slider(t("surround.l"), [0, 100, 1], (value) => decimal(value, ctx.language, 0), (value) => ctx.change({ surround_l: value }));
  const update = (/** @type {View} */ now) => {
    mode.choose(now.light.mode);
    lit.hidden = now.light.mode === "as-measured";
    lamps.hidden = now.light.mode !== "raking";
    sky.hidden = now.light.mode !== "daylight";
    first.show(now);
    second.show(now);
    second_on.checked = now.light.second.strength > 0;
    second.element.hidden = !second_on.checked;
    relief.show(now.light.relief);
    occlusion.show(now.light.occlusion);
    const { state, share } = ctx.relief;
    const said = !needsRelief(now) || state === "here" || state === "none" ? "" : state === "failed" ? t("relief.failed") : t("relief.working", { share: percent(share, ctx.language) });
    if (working.textContent !== said) working.textContent = said;
    working.hidden = said === "";
    surround.show(now.surround_l);
    lamp.update?.(now);
    section.update?.(now);
  };
  update(ctx.view());
  const element = html("article", { class: "settings" }, html("h2", { tabindex: -1 }, t("page.light")),
    mode.element, lit, lamp.element, section.element,
    html("section", {}, html("h3", {}, t("surround")), html("p", { class: "note" }, t("surround.note")), surround.element),
    interfacePart(ctx));
  return { element, update };
}

/** Where a lamp stands, how large and how strong it is. @param {Context} ctx @param {boolean} second */
function lampFields(ctx, second) {
  const { t } = ctx;
  const turn = (/** @type {number} */ value) => degrees(value, ctx.language);
  const change = (/** @type {Partial<import("../../types.d.ts").Lamp>} */ some) => changeLamp(ctx, second, some);
  const way = (/** @type {number} */ share) => distanceInWords(ctx, distanceOfShare(share, ctx.handle.radius_m()));
  const azimuth = slider(t("light.azimuth"), [-180, 180, 1], turn, (azimuth_deg) => change({ azimuth_deg }));
  const elevation = slider(t("light.elevation"), [-90, 90, 1], turn, (elevation_deg) => change({ elevation_deg }));
  const distance = slider(t("light.distance"), [0, 1, 0.01], way, (share) => change({ distance_m: distanceOfShare(share, ctx.handle.radius_m()) }));
  const softness = slider(t("light.softness"), [0, 0.9, 0.01], (value) => percent(value, ctx.language), (value) => change({ softness: value }));
  const strength = slider(t("light.strength"), [0.05, 4, 0.05], (value) => `${decimal(value, ctx.language, 2)} ×`, (value) => change({ strength: value }));
  return {
    element: html("fieldset", { class: "lamp" }, html("legend", {}, t(second ? "light.lamp.second" : "light.lamp.first")),
      azimuth.element, elevation.element, distance.element, softness.element, strength.element),
    /** @param {View} view */
    show(view) {
      const lamp = lampOf(view, second);
      azimuth.show(lamp.azimuth_deg);
      elevation.show(lamp.elevation_deg);
      distance.show(shareOfDistance(lamp.distance_m, ctx.handle.radius_m()));
      softness.show(lamp.softness);
      strength.show(lamp.strength);
    },
  };
}

/** @param {Context} ctx */
function interfacePart(ctx) {
  const { t, settings } = ctx;
  const theme = choice(t("theme"), ["system", "light", "dark"].map((id) => [id, t(`theme.${id}`)]), settings.theme, (value) => {
    settings.theme = /** @type {typeof settings.theme} */ (value);
    writeSettings(settings);
    ctx.change({});
  });
  const tags = [...new Set([...INTERFACE_LANGUAGES, ...(ctx.dossier.document.languages ?? [])])];
  const current = ctx.view().language;
  const languages = selectField(t("language"), tags.map((tag) => [tag, nameOf(tag)]), { value: current, changed: (language) => ctx.change({ language }) });
  for (const option of languages.select.options) option.lang = option.value;
  return html("section", {}, theme.element, languages.element);
}

/** A language's name in itself. @param {string} tag */
function nameOf(tag) {
  try {
    return new Intl.DisplayNames([tag], { type: "language" }).of(tag) ?? tag;
  } catch {
    return tag;
  }
}
