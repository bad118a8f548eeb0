// @ts-check
/** The colophon: credit, rights, cautions, and what draws the picture. */
import { html } from "../dom.js";
import { within } from "../i18n.js";
import { CERTAINTIES, certaintyPattern } from "../patterns.js";
import { COMPARISONS } from "../comparisons.js";
import { CAUTION_OF } from "./evidence.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function about(ctx) {
  const { t, text, language } = ctx;
  const { document } = ctx.dossier;
  const cautions = cautionsOf(ctx);
  const people = document.people ?? [];
  return {
    element: html("article", { class: "about" },
      html("h2", { tabindex: -1 }, t("page.about")),
      section(t("about.certainty"), html("dl", { class: "key" }, CERTAINTIES.map((certainty) => html("div", {},
        html("dt", {}, certaintyPattern(certainty), t(`certainty.${certainty}`)), html("dd", {}, t(`certainty.${certainty}.means`)))))),
      cautions.length > 0 && section(t("about.cautions"), ...cautions.map((caution) => html("p", { class: "caution", dir: "auto" }, caution))),
      document.notice !== undefined && section(t("about.notice"), html("p", { class: "prose", dir: "auto" }, text(document.notice))),
      document.rights !== undefined && section(t("about.rights"), html("p", { class: "prose", dir: "auto" }, text(document.rights.credit)), licence(document.rights.licence)),
      people.length > 0 && section(t("about.people"), html("ul", { class: "plain" }, people.map((person) => html("li", {}, [text(person.name), text(person.role)].filter(Boolean).map((part) => within(part, language)).join(", "))))),
      section(t("about.keys"), html("dl", { class: "shortcuts" }, ["orbit", "pan", "zoom", "reset", "move", "turn", "straight", "views"].map((key) => html("div", {}, html("dt", {}, t(`keys.${key}`)), html("dd", {}, t(`keys.${key}.does`)))))),
      section(t("about.drawing"), html("p", { class: "note" }, drawing(ctx)))),
  };
}

/** @param {string} title @param {...HTMLElement | null} children */
function section(title, ...children) {
  return html("section", {}, html("h3", {}, title), children);
}

/** @param {Context} ctx */
function drawing(ctx) {
  const { name, adapter, largest_texture_px, canvas } = ctx.handle.backend();
  return ctx.t("about.backend", { name, adapter: adapter || "–", largest: largest_texture_px, gamut: canvas === "display-p3" ? "Display P3" : "sRGB" });
}

/** @param {string | undefined} address */
function licence(address) {
  if (!address) return null;
  if (!/^https?:/.test(address)) return html("p", { class: "note" }, address);
  return html("p", {}, html("a", { href: address, target: "_blank", rel: "noopener noreferrer license" }, address));
}

/** The usual cautions, where this dossier gives cause for them. @param {Context} ctx @returns {string[]} */
function cautionsOf(ctx) {
  const { t, text } = ctx;
  const { document } = ctx.dossier;
  const used = [...(document.evidence ?? []).map((item) => item.technique), ...ctx.dossier.bands.map((layer) => String(layer.band).toLowerCase())];
  const usual = new Set(used.map((technique) => CAUTION_OF[technique]).filter(Boolean));
  if ((document.palette ?? []).some((entry) => entry.caution !== undefined)) usual.add("pigments");
  if (COMPARISONS.some((one) => one.flickers)) usual.add("flicker");
  const own = ctx.dossier.bands.filter((layer) => layer.caution !== undefined).map((layer) => `${text(layer.title)}: ${text(layer.caution)}`);
  return [...[...usual].map((key) => t(`caution.${key}`)), ...own];
}
