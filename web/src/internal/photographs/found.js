// @ts-check
/** What was found: how near the points come, how well the pose is known, what speaks against it, and every point. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { arrowTimes } from "./seeing.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("./shot.js").Shot} Shot */
/** @typedef {import("../tripod/types.d.ts").Answer} Answer */

/** @param {Context} ctx @param {Shot} shot @param {(pixel: [number, number]) => void} look brings a point of the photograph into sight */
export function found(ctx, shot, look) {
  const { t } = ctx;
  const heading = html("h3", { tabindex: -1 }, html("span", {}, t("photographs.found")));
  const sums = html("dl", { class: "values" });
  const weak = html("ul", { class: "weaknesses" });
  const arrows = html("p", { class: "note" });
  const rows = html("tbody", {});
  const table = html("table", { class: "pairs" },
    html("caption", { class: "note" }, t("photographs.table.note")),
    html("thead", {}, html("tr", {}, ["point", "px", "mm", "left_out"].map((column) => html("th", { scope: "col" }, t(`photographs.table.${column}`))), html("th", { scope: "col" }, html("span", { class: "unseen" }, t("photographs.table.remove"))))), rows);
  const element = html("section", { hidden: true }, heading, sums, weak, table, arrows);
  return {
    element,
    refresh() {
      const { answer, pairs } = shot;
      element.hidden = pairs.length === 0;
      const inside = rows.contains(/** @type {ShadowRoot | Document} */ (rows.getRootNode()).activeElement);
      sums.replaceChildren(...(answer ? summary(ctx, answer) : []));
      weak.replaceChildren(...(answer ? answer.fit.weaknesses.map(({ kind }) => html("li", { class: "caution", "data-weak": kind }, weakness(ctx, kind, answer))) : []));
      arrows.hidden = !answer || !shot.shows.arrows;
      arrows.textContent = answer ? t("photographs.arrows.note", { times: arrowTimes(answer) }) : "";
      rows.replaceChildren(...pairs.map((pair, index) => row(ctx, shot, index, look)));
      if (inside) heading.focus();
    },
  };
}

/** @param {number | null | undefined} value @param {string} language @param {number} digits */
const figure = (value, language, digits) => (value === null || value === undefined ? "–" : value.toLocaleString(language, { minimumFractionDigits: digits, maximumFractionDigits: digits }));

/** @param {Context} ctx @param {Answer} answer */
function summary({ t, language }, { fit, camera_centre_m }) {
  const { summary: sum, lens, uncertainty, free } = fit;
  const px = (/** @type {number | null | undefined} */ value) => `${figure(value, language, 2)} px`;
  const mm = (/** @type {number} */ value) => figure(value, language, 1);
  /** @type {[string, string, string][]} */
  const entries = [
    ["rms", t("photographs.rms"), `${px(sum.rms_px)}, ${figure(sum.rms_mm, language, 2)} mm`],
    ["left_out", t("photographs.left_out"), px(sum.left_out_rms_px)],
    ["stand", t("photographs.stand"), `${camera_centre_m.map((one) => mm(one * 1000)).join(" / ")} mm`],
  ];
  if (uncertainty) {
    entries.push(["known", t("photographs.known"), `± ${uncertainty.place_mm.map((one) => figure(one, language, 2)).join(" / ")} mm, ± ${figure(Math.max(...uncertainty.turn_deg), language, 3)}°`]);
    entries.push(["worst", t("photographs.worst"), px(uncertainty.worst_in_picture_px)]);
  }
  const focal = `${figure(lens.focal_px[0], language, 1)} px${free["focal"] && uncertainty?.focal_px ? ` ± ${figure(uncertainty.focal_px, language, 1)}` : ""}`;
  entries.push(["focal", t(free["focal"] ? "photographs.focal_found" : "photographs.focal_given"), focal]);
  const { k1 = 0, k2 = 0 } = lens.distortion ?? {};
  if (free["k1"]) entries.push(["k1", t("photographs.distortion"), `k1 ${k1.toFixed(4)}${free["k2"] ? `, k2 ${k2.toFixed(4)}` : ""}`]);
  return entries.map(([id, name, value]) => html("div", { "data-sum": id }, html("dt", {}, name), html("dd", { dir: "ltr" }, value)));
}

/** @param {Context} ctx @param {import("../tripod/types.d.ts").WeakKind} kind @param {Answer} answer */
function weakness({ t }, kind, { fit }) {
  const names = fit.pairs.filter(({ wrong }) => wrong).map(({ name }) => name).join(", ");
  return kind === "wrong-pairs" ? t("photographs.weak.wrong-pairs", { names }) : t(`photographs.weak.${kind}`);
}

/** @param {Context} ctx @param {Shot} shot @param {number} index @param {(pixel: [number, number]) => void} look */
function row(ctx, shot, index, look) {
  const { t, language } = ctx;
  const pair = /** @type {import("../tripod/types.d.ts").Pair} */ (shot.pairs[index]);
  const result = shot.answer?.fit.pairs[index];
  const { name } = pair;
  const choose = html("button", { class: "row", type: "button", "aria-pressed": String(shot.chosen === name), onclick: () => {
    shot.chosen = name;
    shot.tell();
    look(pair.pixel);
  } }, html("span", { class: "measured-number", dir: "auto" }, name), result?.wrong && html("span", { class: "fault" }, " ", t("photographs.wrong")));
  return html("tr", { "data-pair": name, "data-wrong": Boolean(result?.wrong), "data-chosen": shot.chosen === name },
    html("th", { scope: "row" }, choose),
    html("td", {}, figure(result?.off_px ? Math.hypot(...result.off_px) : null, language, 2)), html("td", {}, figure(result?.off_mm, language, 2)), html("td", {}, figure(result?.left_out_px, language, 2)),
    html("td", {}, html("button", { class: "quiet", type: "button", "aria-label": t("photographs.remove", { name }), onclick: () => shot.remove(ctx, name) }, icon("remove"))));
}
