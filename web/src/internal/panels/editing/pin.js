// @ts-check
/** A pin: its place, text, and what it points to. */
import { pickField } from "./pick.js";
import { placeField } from "./place.js";
import { merged } from "./steps.js";
import { textsField } from "./texts.js";
import { FormFault } from "./fields.js";
import { claimChoices, evidenceChoices, entryOf, idFor, kept } from "./choices.js";
import { clearanceField } from "./clearance.js";

/** @typedef {import("../../context.js").Context} Context */

/** @param {Context} ctx @param {string | null} id @param {Record<string, unknown>} given @returns {import("./form.js").Form} */
export function pinForm(ctx, id, given) {
  const { t } = ctx;
  const pin = entryOf(ctx, "pins", id, { title: "", ...given });
  const place = placeField(ctx, { anchor: pin.anchor, at_once: !pin.anchor });
  const title = textsField(ctx, { label: t("form.title"), value: id === null ? undefined : pin.title, required: true });
  const text = textsField(ctx, { label: t("form.text"), value: pin.text, lines: 4 });
  const evidence = pickField(ctx, { label: t("form.pin_evidence"), all: () => evidenceChoices(ctx), chosen: pin.evidence ?? [] });
  const claims = pickField(ctx, { label: t("form.pin_claims"), all: () => claimChoices(ctx), chosen: pin.claims ?? [] });
  const clearance = clearanceField(ctx, pin);
  return {
    fields: [place.element, title.element, text.element, evidence.element, claims.element, clearance.element],
    stop: place.stop,
    read() {
      const anchor = place.read();
      if (!anchor) throw new FormFault(t("form.needs_place"));
      const made = merged(pin, { id: idFor(ctx, "pins", id), title: title.read(), text: text.read(), anchor, evidence: evidence.read(), claims: claims.read(), ...clearance.read() });
      return kept(ctx, "pins", id, made, made.title);
    },
  };
}
