// @ts-check
/** While somebody edits: the way from a card to the form of what it shows, and to what may begin there. */
import { html } from "../../dom.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../context.js").FormKind} FormKind */

/** @param {Context} ctx @param {FormKind} form @param {string} id */
export function amend(ctx, form, id) {
  if (!ctx.session) return null;
  return html("div", { class: "row-actions" }, html("button", {
    class: "quiet", type: "button", "data-amend": form, onclick: () => ctx.show({ kind: "form", form, id }),
  }, ctx.t(`edit.amend.${form}`)));
}

/** New things at a place. @param {Context} ctx @param {{region?: string, anchor?: import("../../../types.d.ts").Anchor}} there */
export function begin(ctx, { region, anchor }) {
  if (!ctx.session) return null;
  const given = { ...(region !== undefined && { region }), ...(anchor && { anchor }) };
  const entries = /** @type {[FormKind, Record<string, unknown>][]} */ ([
    ["evidence", given], ...(region === undefined ? [] : [["claim", { region }]]), ...(anchor ? [["pin", { anchor }]] : []),
  ]);
  return html("section", {}, html("h3", {}, ctx.t("edit.begin_here")), html("div", { class: "row-actions" }, entries.map(([form, values]) =>
    html("button", { class: "action", type: "button", "data-begin": form, onclick: () => ctx.show({ kind: "form", form, id: null, with: values }) }, ctx.t(`edit.add.${form}`)))));
}
