// @ts-check
/** A view of the dossier: its title and text. What it shows is what was seen when it was added. */
import { edited, entryOf, idFor, kept } from "./choices.js";
import { clearanceField } from "./clearance.js";
import { merged } from "./steps.js";
import { textsField } from "./texts.js";

/** @param {import("../../context.js").Context} ctx @param {string | null} id @param {Record<string, unknown>} given @returns {import("./form.js").Form} */
export function viewForm(ctx, id, given) {
  const { t } = ctx;
  const view = entryOf(ctx, "views", id, { title: "", ...given });
  const title = textsField(ctx, { label: t("form.title"), value: id === null ? undefined : view.title, required: true });
  const text = textsField(ctx, { label: t("form.text"), value: view.text, lines: 4 });
  const clearance = clearanceField(ctx, view);
  return {
    fields: [title.element, text.element, clearance.element],
    read() {
      // It may have been replaced since the form was opened.
      const now = (edited(ctx).views ?? []).find((one) => one.id === id)?.view ?? view.view;
      const made = merged(view, { id: idFor(ctx, "views", id), title: title.read(), text: text.read(), view: now, ...clearance.read() });
      return kept(ctx, "views", id, made, made.title, "portfolio");
    },
  };
}
