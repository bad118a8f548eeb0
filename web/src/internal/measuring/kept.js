// @ts-check
/** Readings that were kept, side by side, with their differences to one of them. */
import { html } from "../dom.js";
import { decimal, labFigures, labInWords } from "../i18n.js";
import { icon } from "../icons.js";
import { cameraAt } from "../going.js";
import { selectField } from "../panels/fields.js";
import { notebookOf } from "./notebook.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("./notebook.js").Kept} Kept */

/** @param {Context} ctx */
export function keptTable(ctx) {
  const { t } = ctx;
  const notebook = notebookOf(ctx);
  const heading = html("h3", { tabindex: -1 }, html("span", {}, t("kept.list")));
  const body = html("div", {});
  const element = html("section", { class: "kept" }, heading, body);
  /** The one that the others are compared with. @type {number | null} */
  let base = null;
  let shown = "";
  const make = async () => {
    const { readings } = notebook;
    if (!readings.some(({ number }) => number === base)) base = readings[0]?.number ?? null;
    const now = `${base} ${readings.map(({ number }) => number).join(" ")}`;
    if (now === shown) return;
    shown = now;
    if (readings.length === 0) return void body.replaceChildren(html("p", { class: "note" }, t("kept.none")));
    const differences = await differencesTo(ctx, readings, base).catch(() => new Map());
    if (now !== shown) return;
    const inside = body.contains(/** @type {ShadowRoot | Document} */ (body.getRootNode()).activeElement);
    const choice = selectField(t("kept.base"), readings.map((one) => [String(one.number), `${one.number.toLocaleString(ctx.language)} · ${placeOf(ctx, one)}`]), {
      value: String(base), as: "entry",
      changed: (number) => {
        base = Number(number);
        void make().then(() => /** @type {HTMLElement | null} */ (body.querySelector("select"))?.focus());
      },
    });
    body.replaceChildren(...(readings.length > 1 ? [choice.element] : []), table(ctx, readings, differences));
    if (inside) heading.focus();
  };
  return { element, refresh: () => void make() };
}

/** ΔE00 of each state of each reading to the same state of the base, by `number state`. @param {Context} ctx @param {Kept[]} readings @param {number | null} base @returns {Promise<Map<string, number>>} */
async function differencesTo(ctx, readings, base) {
  const first = readings.find(({ number }) => number === base);
  const pairs = readings.filter((one) => one !== first).flatMap(({ number, probe }) => probe.colours.flatMap(({ state, lab_d50 }) => {
    const other = first?.probe.colours.find((colour) => colour.state === state);
    return other ? [{ key: `${number} ${state}`, numbers: [...other.lab_d50, ...lab_d50] }] : [];
  }));
  if (pairs.length === 0) return new Map();
  const desk = await ctx.measurer();
  const found = await desk.differences(pairs.flatMap(({ numbers }) => numbers));
  return new Map(pairs.map(({ key }, index) => [key, found[index] ?? NaN]));
}

/** Region and coordinates. @param {Context} ctx @param {Kept} kept */
function placeOf({ dossier, text, t, language }, { probe }) {
  const region = probe.region ? text(dossier.regions.get(probe.region)?.title) || probe.region : t("kept.no_region");
  const at = probe.anchor.position_m && labFigures(probe.anchor.position_m.map((metres) => metres * 1e3), language);
  // Isolated, so that figures stand in their order in every script (Unicode Standard Annex 9, LRI and PDI).
  return at ? `${region}, \u2066${at.join(" / ")} mm\u2069` : region;
}

/** @param {Context} ctx @param {Kept[]} readings @param {Map<string, number>} differences */
function table(ctx, readings, differences) {
  const { t, text, dossier, language } = ctx;
  const notebook = notebookOf(ctx);
  return html("table", {},
    html("caption", { class: "note" }, t("readings.note")),
    html("thead", {}, html("tr", {}, html("th", { scope: "col" }, t("kept.what")), html("th", { scope: "col" }, t("kept.value")), html("th", { scope: "col" }, "ΔE00"))),
    readings.map((one) => {
      const name = t("kept.named", { number: one.number });
      const swatch = (/** @type {readonly number[]} */ srgb) => {
        const made = html("span", { class: "swatch", "aria-hidden": "true" });
        made.style.backgroundColor = `rgb(${srgb.join(" ")})`;
        return made;
      };
      return html("tbody", { "data-reading": one.number },
        html("tr", {}, html("th", { scope: "rowgroup", colspan: 3 }, html("div", { class: "entry-head" },
          html("button", { class: "row", type: "button", title: t("measure.show", { name }), onclick: () => { const camera = cameraAt(ctx, one.probe.anchor); if (camera) ctx.glide({ camera }); } },
            html("span", { class: "measured-number reading" }, one.number.toLocaleString(language)), " ", html("span", { class: "name", dir: "auto" }, placeOf(ctx, one))),
          html("button", { class: "quiet", type: "button", "aria-label": t("measure.remove", { name }), onclick: () => notebook.forget(one.number) }, icon("remove"))))),
        one.probe.colours.map(({ state, lab_d50, srgb }) => {
          const difference = differences.get(`${one.number} ${state}`);
          return html("tr", {}, html("th", { scope: "row", dir: "auto" }, swatch(srgb), text(dossier.states.get(state)?.title) || state),
            html("td", { class: "lab-value", dir: "ltr" }, labInWords(lab_d50, language)), html("td", {}, difference === undefined ? "–" : decimal(difference, language, 1)));
        }),
        one.probe.bands.map(({ layer, value, unit }) => html("tr", {}, html("th", { scope: "row", dir: "auto" }, text(dossier.layers.get(layer)?.title) || layer),
          html("td", { dir: "auto" }, `${value.toLocaleString(language, { maximumSignificantDigits: 3 })} ${unit ?? ""}`), html("td", {}, ""))));
    }));
}
