// @ts-check
/** A person who observes, claims or reviews. */
import { entryOf, idFor, kept } from "./choices.js";
import { clearanceField } from "./clearance.js";
import { merged } from "./steps.js";
import { textsField } from "./texts.js";

/** @param {import("../../context.js").Context} ctx @param {string | null} id @returns {import("./form.js").Form} */
export function personForm(ctx, id) {
  const { t } = ctx;
  const person = entryOf(ctx, "people", id, {});
  const plain = typeof person.name === "object" ? person.name : person.name ?? "";
  const name = textsField(ctx, { label: t("form.name"), value: plain, required: true });
  const role = textsField(ctx, { label: t("form.role"), value: person.role });
  const clearance = clearanceField(ctx, person);
  return {
    fields: [name.element, role.element, clearance.element],
    read() {
      const made = merged(person, { id: idFor(ctx, "people", id), name: name.read(), role: role.read(), ...clearance.read() });
      return kept(ctx, "people", id, made, made.name, "workbench");
    },
  };
}
