// @ts-check
/** The plane that cuts the object open: where it stands and which side is taken away. */
import { html } from "../dom.js";
import { decimal } from "../i18n.js";
import { choice, slider } from "./fields.js";
import { lengthInWords } from "../scale.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Section} Section */
/** @typedef {import("../../types.d.ts").View} View */

/** Normals by the dossier's own up and front. @type {Record<string, [number, number]>} */
const WAYS = { across: [90, 0], along: [0, 0], level: [0, 90] };

/** The same plane with its other side taken away. @param {Section} section @returns {Section} */
export function flipped({ azimuth_deg, elevation_deg, position }) {
  return { azimuth_deg: azimuth_deg > 0 ? azimuth_deg - 180 : azimuth_deg + 180, elevation_deg: -elevation_deg, position: -position || 0 };
}

/** What a section is called: its way, or that it was set from where somebody stood. @param {Section | null} section */
export function wayOf(section) {
  if (!section) return "none";
  const same = (/** @type {Section} */ { azimuth_deg, elevation_deg }, /** @type {[number, number]} */ [azimuth, elevation]) =>
    Math.abs(elevation_deg - elevation) < 1e-6 && (elevation === 90 || Math.abs(azimuth_deg - azimuth) < 1e-6);
  const ways = Object.entries(WAYS);
  return ways.find(([, way]) => same(section, way) || same(flipped(section), way))?.[0] ?? "facing";
}

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function sectionPart(ctx) {
  const { t } = ctx;
  const ways = ["none", ...Object.keys(WAYS), "facing"];
  const way = choice(t("section.way"), ways.map((id) => [id, t(`section.${id}`)]), wayOf(ctx.view().section), (id) => {
    const { camera, section } = ctx.view();
    const [azimuth_deg, elevation_deg] = WAYS[id] ?? [camera.azimuth_deg, camera.elevation_deg];
    ctx.change({ section: id === "none" ? null : { azimuth_deg, elevation_deg, position: section?.position ?? 0 } });
  });
  const length = (/** @type {number} */ metres) => lengthInWords(Number(metres.toPrecision(2)), ctx.language);
  const inWords = (/** @type {number} */ position) => {
    const metres = position * ctx.handle.radius_m();
    return Math.abs(metres) < 1e-9 ? decimal(0, ctx.language, 0) : `${metres < 0 ? "−" : "+"}${length(Math.abs(metres))}`;
  };
  const place = slider(t("section.position"), [-1, 1, 0.005], inWords, (position) => {
    const { section } = ctx.view();
    if (section) ctx.change({ section: { ...section, position } });
  });
  const flip = html("button", {
    class: "plain", type: "button", onclick: () => {
      const { section } = ctx.view();
      if (section) ctx.change({ section: flipped(section) });
    },
  }, t("section.flip"));
  const more = html("div", {}, html("p", { class: "note" }, t("section.note")), place.element, html("div", { class: "acts" }, flip));
  return {
    element: html("section", { class: "cut-open" }, html("h3", {}, t("section")), way.element, more),
    update({ section }) {
      way.choose(wayOf(section));
      more.hidden = !section;
      if (section) place.show(section.position);
    },
  };
}
