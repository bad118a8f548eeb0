// @ts-check
/** Who signs, chosen from the dossier's people; the last one stands first. */
import { FormFault, selectField } from "./fields.js";
import { lastPerson, rememberPerson } from "./remember.js";

/** @typedef {import("../../context.js").Context} Context */

/**
 * @param {Context} ctx @param {string} label @param {"operator" | "author" | "reviewer"} role
 * @param {string | null | undefined} value null or undefined: whoever signed last
 * @param {boolean} [required] somebody must be chosen
 */
export function personField(ctx, label, role, value, required = false) {
  const { session, text } = ctx;
  const document = session?.document ?? ctx.dossier.document;
  const chosen = value ?? lastPerson(ctx.handle, document, role);
  const options = (document.people ?? []).map(({ id, name, role: does }) => /** @type {[string, string]} */ ([id, [text(name), text(does)].filter(Boolean).join(", ") || id]));
  const field = selectField(label, [["", "–"], ...options], chosen);
  return {
    ...field,
    read() {
      const person = field.read();
      if (person === "" && required) throw new FormFault(ctx.t("form.needs_person"), field.select);
      if (person !== "") rememberPerson(ctx.handle, role, person);
      return person;
    },
  };
}
