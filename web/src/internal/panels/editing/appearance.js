// @ts-check
/** A state or a layer: its words, and whether it is for the public. What it is made of comes with the files. */
import { entryOf, kept } from "./choices.js";
import { clearanceField } from "./clearance.js";
import { merged } from "./steps.js";
import { textsField } from "./texts.js";

/** @param {"states" | "layers"} list @returns {(ctx: import("../../context.js").Context, id: string | null) => import("./form.js").Form} */
export const appearanceForm = (list) => (ctx, id) => {
  const { t } = ctx;
  const entry = entryOf(ctx, list, id, {});
  const title = textsField(ctx, { label: t("form.title"), value: entry.title, required: true });
  const description = textsField(ctx, { label: t("form.text"), value: entry.description, lines: 4 });
  const clearance = clearanceField(ctx, entry);
  return {
    fields: [title.element, description.element, clearance.element],
    read: () => kept(ctx, list, entry.id, merged(entry, { title: title.read(), description: description.read(), ...clearance.read() }), title.read(), "workbench"),
  };
};
