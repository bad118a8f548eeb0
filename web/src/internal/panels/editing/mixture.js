// @ts-check
/** The paint of a claim: one pigment, a mixture with shares, and what lies beneath. */
import { html } from "../../dom.js";
import { pigmentChoices } from "./choices.js";
import { numberField, selectField } from "./fields.js";
import { pickField } from "./pick.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../../types.d.ts").Claim} Claim */

/**
 * @param {Context} ctx @param {Claim} claim
 * @returns {{element: HTMLElement, choose(pigment: string): void, read(): {pigment: string | undefined, mixture: unknown[], over: string}}}
 */
export function mixtureField(ctx, claim) {
  const { t } = ctx;
  const before = claim.pigment ? [claim.pigment] : (claim.mixture ?? []).map(({ pigment }) => pigment);
  const shares = html("div", { class: "shares" });
  /** @type {Map<string, ReturnType<typeof numberField>>} */
  let fields = new Map();
  const mix = (/** @type {string[]} */ ids) => {
    const kept = fields;
    fields = new Map(ids.length > 1 ? ids.map((id) => {
      const known = claim.mixture?.find(({ pigment }) => pigment === id)?.share;
      const name = pigmentChoices(ctx).find((choice) => choice.id === id)?.title ?? id;
      return [id, kept.get(id) ?? numberField(ctx, t("form.share", { pigment: name }), known ? known * 100 : null, { min: 0, max: 100, unit: "%" })];
    }) : []);
    shares.replaceChildren(...[...fields.values()].map(({ element }) => element));
  };
  const pigments = pickField(ctx, { label: t("form.paint"), all: () => pigmentChoices(ctx), chosen: before, changed: mix });
  const over = selectField(t("form.over"), [["", t("form.no_layer")], ...pigmentChoices(ctx).map(({ id, title }) => /** @type {[string, string]} */ ([id, title]))], claim.over ?? "");
  mix(before);
  return {
    element: html("div", {}, pigments.element, shares, over.element),
    choose(pigment) {
      pigments.set([pigment]);
      mix([pigment]);
    },
    read() {
      const ids = pigments.read();
      const mixture = ids.length < 2 ? [] : ids.map((pigment) => {
        const share = fields.get(pigment)?.read();
        const known = claim.mixture?.find((one) => one.pigment === pigment) ?? { pigment };
        return { ...known, ...(share !== undefined && { share: share / 100 }) };
      });
      return { pigment: ids.length === 1 ? ids[0] : undefined, mixture, over: over.read() };
    },
  };
}
