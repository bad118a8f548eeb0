// @ts-check
/** Where the two shown states part: region by region what each claims and what it rests on. */
import { html } from "../dom.js";
import { isolated, sentenceOf } from "../errors.js";
import { icon } from "../icons.js";
import { decimal } from "../i18n.js";
import { certaintyPattern } from "../patterns.js";
import { sideInWords } from "../describe.js";
import { goTo } from "../going.js";
import { printPage } from "../printing.js";
import { LongList } from "../longlist.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Parting} Parting */
/** @typedef {import("../../types.d.ts").PartingSide} Side */

/** More than so many rows are kept out of the page until they are near; printing brings them all. */
const MANY = 150;

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function partings(ctx) {
  const { t } = ctx;
  const status = html("p", { class: "remark", role: "status" });
  const body = html("div", {});
  const print = html("button", { class: "action", type: "button", disabled: true }, icon("print"), html("span", {}, t("partings.print")));
  const element = html("article", { class: "partings" },
    html("h2", { tabindex: -1 }, t("page.partings")), html("p", { class: "pair" }), status, body, html("p", { class: "no-print" }, print));
  let shown = "";
  /** @type {Parting[]} */
  let rows = [];
  print.addEventListener("click", () => void printPage(ctx, () => {
    body.replaceChildren(...table(ctx, rows, true));
  }, () => {
    body.replaceChildren(...table(ctx, rows, false));
  }));
  const run = (/** @type {string} */ left, /** @type {string} */ right) => {
    status.textContent = t("partings.running");
    ctx.desk().then((desk) => desk.compare(left, right)).then((found) => {
      if (shown !== `${left}\n${right}` || ctx.signal.aborted) return;
      rows = found;
      const differ = rows.filter((row) => row.looks_different).length;
      status.textContent = rows.length === 0 ? t("partings.none") : t("partings.count", { count: rows.length, differ });
      print.disabled = rows.length === 0;
      body.replaceChildren(...table(ctx, rows, false));
    }, (error) => {
      status.textContent = t("audit.failed", { detail: isolated(sentenceOf(error)) });
    });
  };
  return {
    element,
    update({ left, right }) {
      const now = `${left}\n${right}`;
      if (now === shown) return;
      shown = now;
      const pair = element.querySelector(".pair");
      pair?.replaceChildren(...[left, right].map((side) => html("span", { dir: "auto" }, sideInWords(ctx, side).title)));
      body.replaceChildren();
      print.disabled = true;
      const states = ctx.dossier.states.has(left) && ctx.dossier.states.has(right);
      if (!states) status.textContent = t("partings.bands");
      else if (left === right) status.textContent = t("partings.same");
      else run(left, right);
    },
  };
}

/** Rows of a table by roles, so that it may be laid out as the room allows. @param {Context} ctx @param {Parting[]} rows @param {boolean} whole */
function table(ctx, rows, whole) {
  const { t } = ctx;
  if (rows.length === 0) return [];
  const { left, right } = ctx.view();
  const names = { left: sideInWords(ctx, left).title, right: sideInWords(ctx, right).title };
  const head = html("div", { class: "parting titles", role: "row" },
    html("span", { role: "columnheader", class: "where" }, t("partings.where")),
    html("span", { role: "columnheader", class: "figure" }, t("partings.area")),
    html("span", { role: "columnheader", class: "figure" }, "ΔE00"),
    html("span", { role: "columnheader", class: "left", dir: "auto" }, names.left),
    html("span", { role: "columnheader", class: "right", dir: "auto" }, names.right));
  if (whole || rows.length <= MANY) {
    return [html("div", { class: "parting-table", role: "table", "aria-label": t("page.partings") }, head, rows.map((row) => entry(ctx, row, names)))];
  }
  const list = new LongList({
    label: t("page.partings"), guess: () => 190,
    render: (index) => {
      const row = rows[index];
      return html("div", { class: "parting-table", role: "table", "aria-label": row ? placeName(ctx, row) : "" }, row && entry(ctx, row, names));
    },
  });
  list.show(rows.length);
  return [list.element];
}

/** @param {Context} ctx @param {Parting} row */
function placeName({ dossier, text }, row) {
  const region = row.region ? dossier.regions.get(row.region) : undefined;
  const part = row.part ? dossier.document.surface?.parts?.find(({ id }) => id === row.part) : undefined;
  return text(region?.title ?? part?.title) || row.region || row.part || "";
}

/** @param {Context} ctx @param {Parting} row @param {{left: string, right: string}} names */
function entry(ctx, row, names) {
  const { t, language } = ctx;
  const place = {
    ...(row.region && { region: row.region }), ...(row.part && { part: row.part }), ...(row.anchor && { anchor: row.anchor }),
  };
  const area = row.area_cm2 ?? null;
  return html("div", { class: "parting", role: "row", "data-region": row.region, "data-part": row.part },
    html("div", { class: "where", role: "rowheader" },
      html("button", { class: "row", type: "button", onclick: () => goTo(ctx, place) }, html("span", { class: "name", dir: "auto" }, placeName(ctx, row))),
      !row.looks_different && html("span", { class: "note" }, t("partings.same_look"))),
    html("div", { class: "figure", role: "cell" }, html("span", { class: "label", "aria-hidden": "true" }, t("partings.area")), " ", area === null ? "–" : `${decimal(area, language, area < 10 ? 1 : 0)} cm²`),
    html("div", { class: "figure", role: "cell" }, html("span", { class: "label", "aria-hidden": "true" }, "ΔE00"), " ", row.delta_e_2000 === null || row.delta_e_2000 === undefined ? "–" : decimal(row.delta_e_2000, language, 1)),
    html("div", { class: "left", role: "cell" }, side(ctx, row.left, names.left)),
    html("div", { class: "right", role: "cell" }, side(ctx, row.right, names.right)));
}

/** @param {Context} ctx @param {Side} claimed @param {string} name of the state */
function side(ctx, claimed, name) {
  const { t, text, dossier, language } = ctx;
  const list = new Intl.ListFormat(language);
  const heading = html("p", { class: "label", "aria-hidden": "true", dir: "auto" }, name);
  if (claimed.claims.length === 0) return [heading, html("p", { class: "note" }, t("partings.nothing"))];
  const pigment = (/** @type {string} */ id) => text(dossier.pigments.get(id)?.title) || id;
  const paint = claimed.pigments.length > 0 ? list.format(claimed.pigments.map(pigment)) : t("partings.no_pigment");
  const swatch = html("span", { class: "swatch", "aria-hidden": "true" });
  if (claimed.lab_d50) swatch.style.backgroundColor = `lab(${claimed.lab_d50.join(" ")})`;
  const observations = dossier.evidenceOf(claimed.evidence);
  return [
    heading,
    html("div", { class: "paint" }, claimed.lab_d50 && swatch, html("span", { class: "name", dir: "auto" },
      [paint, claimed.over.length > 0 && t("claim.over", { pigment: list.format(claimed.over.map(pigment)) }), ...claimed.finishes.map((finish) => t(`finish.${finish}`))].filter(Boolean).join(", "))),
    claimed.certainties.map((certainty) => html("p", { class: "sure" }, certaintyPattern(certainty), html("span", {}, t(`certainty.${certainty}`)))),
    html("p", { class: "note", dir: "auto" }, observations.length === 0 ? t("claim.no_evidence")
      : list.format(observations.slice(0, 6).map((item) => text(item.title) || item.id)) + (observations.length > 6 ? ` +${(observations.length - 6).toLocaleString(language)}` : "")),
    claimed.authors.length > 0 && html("p", { class: "note", dir: "auto" }, list.format(claimed.authors.map((id) => text(dossier.people.get(id)?.name) || id))),
  ].flat();
}
