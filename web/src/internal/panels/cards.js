// @ts-check
/** Cards about one observation, claim or pigment, and about pins that stand together. */
import { html } from "../dom.js";
import { decimal, labInWords } from "../i18n.js";
import { markOf } from "../lookup.js";
import { listOf } from "../longlist.js";
import { cameraAt } from "../going.js";
import { claimEntry } from "./claim.js";
import { evidenceEntry } from "./evidence.js";
import { hintPart } from "./hints.js";
import { amend } from "./editing/amend.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @param {string} over @param {string} title @param {...(Node | null | false | undefined)} children */
function sheet(ctx, over, title, ...children) {
  return html("article", { class: "card" }, html("p", { class: "over" }, ctx.t(over)), html("h2", { dir: "auto", tabindex: -1 }, title), children.map((child) => child ?? null));
}

/** @param {Context} ctx @param {string[]} regions */
function regionRows(ctx, regions) {
  return html("div", { class: "list" }, regions.map((id) => html("button", { class: "row", type: "button", onclick: () => ctx.show({ kind: "region", id, probe: null }) },
    html("span", { class: "name", dir: "auto" }, ctx.text(ctx.dossier.regions.get(id)?.title) || id))));
}

/** @param {Context} ctx @param {string} id */
export function evidenceCard(ctx, id) {
  const { t, dossier, text } = ctx;
  const item = dossier.evidence.get(id);
  if (!item) return sheet(ctx, "card.evidence", id);
  const citing = dossier.claimsCiting(id);
  const { session } = ctx;
  return sheet(ctx, "card.evidence", text(item.title) || id,
    item.region ? regionRows(ctx, [item.region]) : null,
    evidenceEntry(ctx, item, true),
    hintPart(ctx, item),
    session && html("p", {}, html("button", {
      class: "action", type: "button", "data-begin": "claim",
      onclick: () => ctx.show({ kind: "form", form: "claim", id: null, with: { evidence: [id], ...(item.region && { region: item.region }) } }),
    }, t("edit.claim_from"))),
    citing.length > 0 && html("section", { class: "claims" }, html("h3", {}, t("card.cited_by", { count: citing.length })),
      listOf(citing, (claim) => claimEntry(ctx, claim), { guess: 320 })));
}

/** @param {Context} ctx @param {string} id */
export function claimCard(ctx, id) {
  const claim = ctx.dossier.claims.get(id);
  if (!claim) return sheet(ctx, "card.claim", id);
  const regions = claim.regions ?? [];
  const parts = (claim.parts ?? []).map((part) => ctx.text(ctx.dossier.document.surface?.parts?.find((one) => one.id === part)?.title) || part);
  const names = [...regions.map((region) => ctx.text(ctx.dossier.regions.get(region)?.title) || region), ...parts];
  return sheet(ctx, "card.claim", new Intl.ListFormat(ctx.language).format(names) || id, claimEntry(ctx, claim),
    regions.length > 0 && html("section", {}, html("h3", {}, ctx.t("list.regions")), regionRows(ctx, regions)));
}

/** @param {Context} ctx @param {string} id */
export function pigmentCard(ctx, id) {
  const { t, text, language } = ctx;
  const entry = ctx.dossier.pigments.get(id);
  if (!entry) return sheet(ctx, "card.pigment", id);
  const lab = entry.lab_d50;
  const swatch = html("span", { class: "swatch", "aria-hidden": "true" });
  if (lab) swatch.style.backgroundColor = `lab(${lab.join(" ")})`;
  return sheet(ctx, "card.pigment", text(entry.title) || id,
    html("div", { class: "pigment" }, lab && swatch, html("div", {},
      lab && html("span", { class: "figures" }, labInWords(lab, language)),
      html("span", { class: "note" }, [
        entry.spread_delta_e ? t("pigment.spread", { value: decimal(entry.spread_delta_e, language, 1) }) : "",
        entry.readings ? t("count.readings", { count: entry.readings }) : "",
        entry.elements?.length ? new Intl.ListFormat(language).format(entry.elements) : "",
        entry.source ? text(entry.source) : "",
      ].filter(Boolean).join(" · ")))),
    entry.caution !== undefined && html("p", { class: "caution", dir: "auto" }, text(entry.caution)),
    amend(ctx, "pigment", id));
}

/** @param {Context} ctx @param {string[]} ids */
export function pinsCard(ctx, ids) {
  const { t, dossier, text } = ctx;
  const all = dossier.document.pins ?? [];
  const pins = ids.flatMap((id) => { const pin = dossier.pins.get(id); return pin ? [pin] : []; });
  const index_of = new Map(all.map((pin, index) => [pin.id, index]));
  return html("article", { class: "card" },
    html("p", { class: "over" }, t("card.pins")), html("h2", { tabindex: -1 }, t("count.pins", { count: pins.length })),
    html("section", { class: "list pins" }, listOf(pins, (pin) =>
      html("button", { class: "row", type: "button", "data-pin": pin.id, onclick: () => ctx.show({ kind: "pin", id: pin.id }, cameraAt(ctx, pin.anchor)) },
        html("span", { class: "key mark" }, markOf(ctx, index_of.get(pin.id) ?? 0)),
        html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, text(pin.title)))))));
}
