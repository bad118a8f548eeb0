// @ts-check
/** What the colours rest on: patterns over the surface, with their legend in area. */
import { html } from "../dom.js";
import { decimal, percent } from "../i18n.js";
import { surfacePattern } from "../patterns.js";
import { sideInWords } from "../describe.js";
import { choice } from "./fields.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */

const THEMES = ["certainty", "technique", "age", "review"];

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function grounds(ctx) {
  const { t } = ctx;
  const options = [["", t("overlay.none")], ...THEMES.map((id) => [id, t(`overlay.${id}`)])];
  const theme = choice(t("overlay"), options, ctx.view().overlay ?? "", (value) => {
    ctx.change({ overlay: value === "" ? null : /** @type {View["overlay"]} */ (value) });
  });
  const legend = html("div", { class: "overlay-legend" });
  let shown = "";
  return {
    element: html("article", { class: "settings" }, html("h2", { tabindex: -1 }, t("page.grounds")),
      html("p", { class: "remark" }, t("overlay.note")), theme.element, legend),
    update(view) {
      theme.choose(view.overlay ?? "");
      const now = [view.overlay, view.left, view.right, view.compare].join(" ");
      const rows = ctx.handle.legend();
      const areas = JSON.stringify(rows);
      if (now + areas === shown) return;
      shown = now + areas;
      legend.replaceChildren(...(rows ? sides(ctx, view, rows) : []));
    },
  };
}

/** @param {Context} ctx @param {View} view @param {import("../../types.d.ts").OverlayLegend} rows */
function sides(ctx, view, rows) {
  const ends = view.compare === "one" || view.left === view.right ? /** @type {const} */ (["left"]) : /** @type {const} */ (["left", "right"]);
  return ends.map((end) => html("section", {},
    html("h3", { dir: "auto" }, sideInWords(ctx, view[end]).title),
    rows[end].length === 0
      ? html("p", { class: "note" }, ctx.t("overlay.no_claims"))
      : html("table", { class: "areas" },
        html("thead", {}, html("tr", {}, ["overlay.kind", "overlay.area", "overlay.share"].map((key) => html("th", { scope: "col" }, ctx.t(key))))),
        html("tbody", {}, rows[end].map((row) => areaRow(ctx, rows.theme, row))))));
}

/** Square centimetres in a square metre. */
const CM2 = 1e4;

/** @param {Context} ctx @param {string} theme @param {import("../../types.d.ts").OverlayRow} row */
function areaRow(ctx, theme, row) {
  const { t, language } = ctx;
  const word = theme === "certainty" ? t(`certainty.${row.word}`) : t(`overlay.${theme}.${row.word}`);
  return html("tr", {},
    html("th", { scope: "row" }, surfacePattern(row.pattern), html("span", {}, word)),
    html("td", {}, row.area_m2 > 0 ? `${decimal(row.area_m2 * CM2, language, row.area_m2 * CM2 < 10 ? 1 : 0)} cm²` : "–"),
    html("td", {}, row.area_m2 > 0 ? percent(row.share, language) : "–"));
}
