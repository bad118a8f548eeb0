// @ts-check
/** Seen under another light: the lamp, the eye's adaptation, and what can and cannot be told. */
import { html } from "../dom.js";
import { decimal } from "../i18n.js";
import { selectField } from "./fields.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */

/** Lamps on offer, by the names of CIE 15:2018; a candle as a Planckian radiator. */
export const LAMPS = ["D65", "A", "LED-B1", "LED-B3", "LED-B5", "LED-RGB1", "LED-V1", "FL11", "candle"];

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function lampPart(ctx) {
  const { t } = ctx;
  const choose = () => ctx.change({ lamp: lamps.select.value === "" ? null : { id: lamps.select.value, adapted: adapted.checked } });
  const lamps = selectField(t("lamp.choose"), [["", t("lamp.none")], ...LAMPS.map((lamp) => [lamp, t(`lamp.${lamp}`)])], { changed: choose });
  const adapted = html("input", { type: "checkbox" });
  const eye = html("label", { class: "option" }, adapted, html("span", {}, t("lamp.adapted")));
  const report = html("div", { class: "lamp-report" });
  adapted.addEventListener("change", choose);
  let shown = "";
  return {
    element: html("section", {}, html("h3", {}, t("lamp")), lamps.element, eye, report),
    update({ lamp, left, right, compare }) {
      lamps.show(lamp?.id ?? "");
      adapted.checked = lamp?.adapted ?? true;
      eye.hidden = !lamp;
      const found = ctx.handle.lamp_report();
      const now = JSON.stringify([found, left, right, compare]);
      if (now === shown) return;
      shown = now;
      report.replaceChildren(...(found ? inWords(ctx, found, compare === "one") : []));
    },
  };
}

/** @param {Context} ctx @param {import("../../types.d.ts").LampReport} found @param {boolean} alone only the left side is seen */
function inWords(ctx, found, alone) {
  const { t, text, dossier, language } = ctx;
  const regions = [...new Set([...found.computed.left, ...(alone ? [] : found.computed.right)])];
  const pigment = (/** @type {string} */ id) => {
    const entry = dossier.document.palette?.find((one) => one.id === id);
    return entry ? text(entry.title) : id;
  };
  return [
    html("p", { class: "remark" }, t("lamp.computed", { count: regions.length })),
    ...(found.mismatches.length === 0 ? [] : [
      html("h4", {}, t("lamp.mismatch")),
      html("ul", { class: "mismatches" }, found.mismatches.map(({ first, second, under_d50, under_lamp }) =>
        html("li", { dir: "auto" }, t("lamp.pair", {
          first: pigment(first), second: pigment(second), day: decimal(under_d50, language, 1), lamp: decimal(under_lamp, language, 1),
        })))),
    ]),
  ];
}
