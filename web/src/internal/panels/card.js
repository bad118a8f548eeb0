// @ts-check
/** The card about a pin, a region or a point: what is claimed there and what it rests on. */
import { html } from "../dom.js";
import { markOf } from "../lookup.js";
import { claimEntry } from "./claim.js";
import { evidenceEntry } from "./evidence.js";
import { readings } from "./readings.js";
import { listOf } from "../longlist.js";
import { claimCard, evidenceCard, pigmentCard, pinsCard } from "./cards.js";
import { straightButton } from "./straight.js";
import { amend, begin } from "./editing/amend.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../context.js").Subject} Subject */

/** @param {Context} ctx @param {Subject} subject @returns {import("../context.js").Panel} */
export function card(ctx, subject) {
  if (subject.kind === "pin") return { element: pinCard(ctx, subject.id) };
  if (subject.kind === "region") return { element: regionCard(ctx, subject.id, subject.probe) };
  if (subject.kind === "evidence") return { element: evidenceCard(ctx, subject.id) };
  if (subject.kind === "claim") return { element: claimCard(ctx, subject.id) };
  if (subject.kind === "pigment") return { element: pigmentCard(ctx, subject.id) };
  if (subject.kind === "pins") return { element: pinsCard(ctx, subject.ids) };
  if (subject.kind === "form") return ctx.editors?.formPage(ctx, subject) ?? notEditing(ctx);
  return {
    element: html("article", { class: "card" },
      html("h2", { tabindex: -1 }, ctx.t("card.point")),
      html("p", { class: "prose" }, ctx.t("card.no_region")),
      readings(ctx, subject.probe),
      begin(ctx, { anchor: subject.probe.anchor })),
  };
}

/** In place of what is only for those who edit. @param {Context} ctx @returns {import("../context.js").Panel} */
export function notEditing({ t }) {
  return { element: html("article", { class: "card" }, html("h2", { tabindex: -1 }, t("edit.not_editing"))) };
}

/** @param {Context} ctx @param {string} id */
function pinCard(ctx, id) {
  const { t, dossier, text } = ctx;
  const pin = dossier.pins.get(id);
  if (!pin) return html("article", { class: "card" }, html("h2", { tabindex: -1 }, id));
  const index = (dossier.document.pins ?? []).indexOf(pin);
  const claims = dossier.claimsOf(pin.claims);
  return html("article", { class: "card" },
    html("p", { class: "over" }, html("span", { class: "mark" }, markOf(ctx, index)), t("card.pin")),
    html("h2", { dir: "auto", tabindex: -1 }, text(pin.title)),
    pin.text !== undefined && html("p", { class: "prose", dir: "auto" }, text(pin.text)),
    amend(ctx, "pin", id),
    evidenceSection(ctx, dossier.evidenceOf(pin.evidence)),
    claimSection(ctx, claims));
}

/** @param {Context} ctx @param {string} id @param {import("../context.js").Probe | null} probe */
function regionCard(ctx, id, probe) {
  const { t, dossier, text } = ctx;
  const region = dossier.regions.get(id);
  const { left, right } = ctx.view();
  /** What concerns the states on the screen comes first. @param {import("../../types.d.ts").Claim} claim */
  const rank = (claim) => (claim.states?.some((state) => state === left || state === right) ? 0 : 1);
  const claims = dossier.claimsAbout(id).toSorted((a, b) => rank(a) - rank(b));
  const cited = new Set(claims.flatMap((claim) => claim.evidence ?? []));
  return html("article", { class: "card" },
    html("p", { class: "over" }, t("card.region")),
    html("h2", { dir: "auto", tabindex: -1 }, region ? text(region.title) : id),
    straightButton(ctx, id),
    claims.length === 0 && html("p", { class: "prose" }, t("card.no_claims")),
    claimSection(ctx, claims),
    evidenceSection(ctx, dossier.evidenceAt(id).filter((item) => !cited.has(item.id))),
    probe && readings(ctx, probe),
    begin(ctx, { region: id, ...(probe && { anchor: probe.anchor }) }));
}

/** @param {Context} ctx @param {import("../../types.d.ts").Claim[]} claims */
function claimSection(ctx, claims) {
  if (claims.length === 0) return null;
  return html("section", { class: "claims" }, html("h3", {}, ctx.t("count.claims", { count: claims.length })),
    listOf(claims, (claim) => claimEntry(ctx, claim), { guess: 320 }));
}

/** @param {Context} ctx @param {import("../../types.d.ts").Evidence[]} items */
function evidenceSection(ctx, items) {
  if (items.length === 0) return null;
  return html("section", { class: "observations" }, html("h3", {}, ctx.t("count.evidence", { count: items.length })),
    listOf(items, (item) => evidenceEntry(ctx, item, items.length <= 2), { guess: 66 }));
}
