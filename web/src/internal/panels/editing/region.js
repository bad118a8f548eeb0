// @ts-check
/** A region: its title and number. Where it lies is drawn. */
import { edited, entryOf, idFor, kept } from "./choices.js";
import { clearanceField } from "./clearance.js";
import { merged } from "./steps.js";
import { textsField } from "./texts.js";

/** Largest number of a region: maps have 16 bits. */
const MOST = 65535;

/** The lowest number that no region has. @param {import("../../../types.d.ts").DossierDocument} document */
export function freeNumber(document) {
  const used = new Set((document.regions ?? []).map(({ number }) => number));
  let number = 1;
  while (used.has(number) && number < MOST) number += 1;
  return number;
}

/** @param {import("../../context.js").Context} ctx @param {string | null} id @returns {import("./form.js").Form} */
export function regionForm(ctx, id) {
  const { t } = ctx;
  const region = entryOf(ctx, "regions", id, {});
  const title = textsField(ctx, { label: t("form.title"), value: region.title, required: true });
  const clearance = clearanceField(ctx, region);
  return {
    fields: [title.element, clearance.element],
    read() {
      // What was free when the form was opened may be taken since.
      const now = edited(ctx);
      const made = merged(region, { id: idFor(ctx, "regions", id), number: id === null ? freeNumber(now) : region.number, title: title.read(), ...clearance.read() });
      return kept(ctx, "regions", id, made, made.title, "drawing");
    },
  };
}
