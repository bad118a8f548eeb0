// @ts-check
/** What can be chosen, and the entry that a form begins with. */
import { dateInWords } from "../evidence.js";
import { labelOf } from "./labels.js";
import { added, changed } from "./steps.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("./pick.js").Choice} Choice */
/** @typedef {import("../../../types.d.ts").DossierDocument} DossierDocument */

/** @type {Record<string, string>} */
const KIND = { pins: "pin", evidence: "evidence", claims: "claim", palette: "pigment", people: "person", regions: "region", views: "view", states: "state", layers: "layer" };

/** The document as it is edited. @param {Context} ctx @returns {DossierDocument} */
export const edited = (ctx) => ctx.session?.document ?? ctx.dossier.document;

/**
 * A copy of an entry, or a new one that has no id yet.
 * @template {Exclude<import("./steps.js").ListName, "set_aside">} L
 * @param {Context} ctx @param {L} list @param {string | null} id @param {Record<string, unknown>} fresh fields of a new one
 * @returns {NonNullable<DossierDocument[L]>[number]}
 */
export function entryOf(ctx, list, id, fresh) {
  const all = /** @type {{id: string}[]} */ (edited(ctx)[list] ?? []);
  const found = id === null ? undefined : all.find((one) => one.id === id);
  const entry = found ? structuredClone(found) : { ...fresh, id: id ?? "" };
  return /** @type {NonNullable<DossierDocument[L]>[number]} */ (entry);
}

/** The id that an entry keeps, or one that is free now. @param {Context} ctx @param {keyof typeof KIND & string} list @param {string | null} id @param {string} [like] how ids of this sort begin */
export function idFor(ctx, list, id, like) {
  return id ?? ctx.session?.freshId(KIND[list] ?? list, like) ?? "";
}

/**
 * What a form keeps: the entry in its list, the step's name, and what is shown then.
 * @param {Context} ctx @param {Exclude<import("./steps.js").ListName, "set_aside">} list @param {string | null} id null: a new one
 * @param {{id: string}} made @param {import("../../../types.d.ts").Text | null | undefined} name in the step's name
 * @param {import("../../context.js").Subject | string} [then] the card of the entry, where nothing else is said
 */
export function kept(ctx, list, id, made, name, then) {
  const kind = /** @type {Exclude<import("../../context.js").FormKind, "review">} */ (KIND[list]);
  const now = edited(ctx);
  return {
    steps: id === null ? added(now, list, made) : changed(now, list, made.id, made),
    label: labelOf(ctx, `undo.${id === null ? "add" : "change"}.${kind}`, name),
    then: then ?? /** @type {import("../../context.js").Subject} */ (/** @type {unknown} */ ({ kind, id: made.id })),
  };
}

/** @param {Context} ctx @returns {Choice[]} newest first */
export function evidenceChoices(ctx) {
  const { t, text } = ctx;
  return (edited(ctx).evidence ?? []).map((item) => ({
    id: item.id, title: text(item.title) || item.id,
    // Asked for only where it is shown: writing a date out takes long.
    get note() { return [t(`technique.${item.technique}`), dateInWords(ctx, item.date)].filter(Boolean).join(", "); },
  })).reverse();
}

/** @param {Context} ctx @returns {Choice[]} */
export function claimChoices(ctx) {
  const { t, text, dossier } = ctx;
  return (edited(ctx).claims ?? []).map((claim) => ({
    id: claim.id,
    title: [...(claim.regions ?? []).map((id) => text(dossier.regions.get(id)?.title) || id), ...(claim.parts ?? []), claim.pigment ? text(dossier.pigments.get(claim.pigment)?.title) || claim.pigment : ""].filter(Boolean).join(", ") || claim.id,
    note: [claim.id, t(`certainty.${claim.certainty}`)].join(", "),
  })).reverse();
}

/** @param {Context} ctx @returns {Choice[]} */
export function regionChoices(ctx) {
  return (edited(ctx).regions ?? []).map(({ id, title }) => ({ id, title: ctx.text(title) || id }));
}

/** @param {Context} ctx @returns {Choice[]} */
export function pigmentChoices(ctx) {
  return (edited(ctx).palette ?? []).map(({ id, title, elements }) => ({ id, title: ctx.text(title) || id, note: (elements ?? []).join(" ") }));
}
