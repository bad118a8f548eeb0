// @ts-check
/** Everything that can be edited, with the way to add more. */
import { html } from "../../dom.js";
import { icon } from "../../icons.js";
import { listOf } from "../../longlist.js";
import { notEditing } from "../card.js";
import { notesPart } from "./notes.js";
import { claimChoices, edited, evidenceChoices, pigmentChoices } from "./choices.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../context.js").FormKind} FormKind */

/** @param {Context} ctx @returns {import("../../context.js").Panel} */
export function workbench(ctx) {
  const { t, text, session } = ctx;
  if (!session) return notEditing(ctx);
  const document = edited(ctx);
  const named = (/** @type {{id: string, title: import("../../../types.d.ts").Text}[] | undefined} */ list) => (list ?? []).map(({ id, title }) => ({ id, title: text(title) || id }));
  return {
    element: html("article", { class: "workbench" },
      html("h2", { tabindex: -1 }, t("page.workbench")),
      html("p", { class: "remark" }, t(session.where === "server" ? "edit.goes_to_server" : "edit.goes_to_zip"), session.why && html("span", { lang: "en", dir: "auto" }, ` ${session.why}`)),
      group(ctx, "evidence", evidenceChoices(ctx)),
      group(ctx, "claim", claimChoices(ctx)),
      group(ctx, "pin", named(document.pins)),
      group(ctx, "region", named(document.regions), html("button", { class: "action", type: "button", onclick: () => ctx.turnTo("drawing") }, icon("drawing"), html("span", {}, t("page.drawing")))),
      group(ctx, "pigment", pigmentChoices(ctx)),
      group(ctx, "person", (document.people ?? []).map(({ id, name, role }) => ({ id, title: text(name) || id, note: text(role) }))),
      group(ctx, "state", named(document.states), null),
      group(ctx, "layer", named(document.layers), null),
      notesPart(ctx)),
  };
}

/** @param {Context} ctx @param {FormKind} form @param {import("./pick.js").Choice[]} entries @param {HTMLElement | null} [more] beside what adds one; null: none is added here */
function group(ctx, form, entries, more) {
  const { t } = ctx;
  return html("details", { class: "more", "data-group": form }, html("summary", {}, html("span", {}, t(`edit.group.${form}`)), html("span", { class: "count" }, entries.length.toLocaleString(ctx.language))),
    more !== null && html("div", { class: "row-actions" }, html("button", { class: "action", type: "button", "data-add": form, onclick: () => ctx.show({ kind: "form", form, id: null }) }, icon("add"), html("span", {}, t(`edit.add.${form}`))), more),
    html("div", { class: "list" }, listOf(entries, (entry) =>
      html("button", { class: "row", type: "button", "data-id": entry.id, onclick: () => ctx.show({ kind: "form", form, id: entry.id }) },
        html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, entry.title), entry.note && html("span", { class: "note", dir: "auto" }, entry.note))), { label: t(`edit.group.${form}`), guess: 68 })));
}
