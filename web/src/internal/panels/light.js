// @ts-check
/** Light on the object, the surround, and how the page itself looks and speaks. */
import { html, uniqueId } from "../dom.js";
import { lampPart } from "./lamp.js";
import { INTERFACE_LANGUAGES } from "../i18n.js";
import { writeSettings } from "../settings.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function light(ctx) {
  const { t } = ctx;
  const view = ctx.view();
  const mode = choice(t("light.mode"), [["as-measured", t("light.as-measured")], ["raking", t("light.raking")]], view.light.mode,
    (value) => ctx.change({ light: { ...ctx.view().light, mode: /** @type {View["light"]["mode"]} */ (value) } }));
  const azimuth = slider(ctx, t("light.azimuth"), -180, 180, "°", (value) => ctx.change({ light: { ...ctx.view().light, azimuth_deg: value } }));
  const elevation = slider(ctx, t("light.elevation"), 0, 90, "°", (value) => ctx.change({ light: { ...ctx.view().light, elevation_deg: value } }));
  const lamp = lampPart(ctx);
  const surround = slider(ctx, t("surround.l"), 0, 100, "", (value) => ctx.change({ surround_l: value }));
  const raking = html("div", { class: "raking" }, html("p", { class: "remark" }, t("light.not_measured")), azimuth.element, elevation.element);
  const update = (/** @type {View} */ now) => {
    mode.choose(now.light.mode);
    raking.hidden = now.light.mode !== "raking";
    azimuth.show(now.light.azimuth_deg);
    elevation.show(now.light.elevation_deg);
    surround.show(now.surround_l);
    lamp.update?.(now);
  };
  update(view);
  const element = html("article", { class: "settings" }, html("h2", { tabindex: -1 }, t("page.light")),
    mode.element, raking, lamp.element,
    html("section", {}, html("h3", {}, t("surround")), html("p", { class: "note" }, t("surround.note")), surround.element),
    interfacePart(ctx));
  return { element, update };
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
  const id = uniqueId("language");
  const select = html("select", { id }, tags.map((tag) => html("option", { value: tag, lang: tag, selected: tag === current }, nameOf(tag))));
  select.addEventListener("change", () => ctx.change({ language: select.value }));
  return html("section", {}, theme.element, html("label", { class: "field", for: id }, html("span", {}, t("language")), select));
}

/** A language's name in itself. @param {string} tag */
function nameOf(tag) {
  try {
    return new Intl.DisplayNames([tag], { type: "language" }).of(tag) ?? tag;
  } catch {
    return tag;
  }
}

/** One of several, as radio buttons. @param {string} title @param {string[][]} options pairs of value and text @param {string} chosen @param {(value: string) => void} choose */
export function choice(title, options, chosen, choose) {
  const name = uniqueId("choice");
  const inputs = options.map(([value]) => html("input", { type: "radio", name, value, checked: value === chosen, onchange: () => choose(String(value)) }));
  return {
    element: html("fieldset", {}, html("legend", {}, title), options.map(([, text], index) => html("label", { class: "option" }, inputs[index], html("span", {}, text)))),
    /** @param {string} value */
    choose(value) {
      for (const input of inputs) input.checked = input.value === value;
    },
  };
}

/** @param {Context} ctx @param {string} title @param {number} min @param {number} max @param {string} unit @param {(value: number) => void} changed */
function slider(ctx, title, min, max, unit, changed) {
  // Named by `for`: an output within a label would take the name itself.
  const id = uniqueId("slider");
  const input = html("input", { id, type: "range", min, max, step: 1 });
  const output = html("output", {});
  input.addEventListener("input", () => changed(Number(input.value)));
  return {
    element: html("div", { class: "field" }, html("span", {}, html("label", { for: id }, title), " ", output), input),
    /** @param {number} value */
    show(value) {
      input.value = String(value);
      output.textContent = `${Math.round(value).toLocaleString(ctx.language)}${unit && ` ${unit}`}`;
    },
  };
}
