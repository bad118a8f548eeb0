// @ts-check
/** One claim: how certain, which pigment, why, who says so, and the evidence it cites. */
import { html } from "../dom.js";
import { certaintyPattern } from "../patterns.js";
import { decimal, labInWords, percent } from "../i18n.js";
import { evidenceEntry, personInWords, dateInWords } from "./evidence.js";
import { reviewPart } from "./reviews.js";
import { amend } from "./editing/amend.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Claim} Claim */

/** @param {Context} ctx @param {Claim} claim */
export function claimEntry(ctx, claim) {
  const { t, dossier, text } = ctx;
  const states = (claim.states ?? []).map((id) => { const state = dossier.states.get(id); return state ? text(state.title) : id; });
  const cited = dossier.evidenceOf(claim.evidence);
  return html("article", { class: "claim", "data-claim": claim.id, "data-certainty": claim.certainty },
    html("div", { class: "certainty" }, certaintyPattern(claim.certainty),
      html("strong", {}, t(`certainty.${claim.certainty}`)), html("span", { class: "note" }, t(`certainty.${claim.certainty}.means`))),
    pigment(ctx, claim),
    claim.argument !== undefined && html("p", { class: "prose", dir: "auto" }, text(claim.argument)),
    html("p", { class: "note" }, [
      personInWords(ctx, claim.author), dateInWords(ctx, claim.date),
      states.length > 0 && t("claim.in_states", { states: new Intl.ListFormat(ctx.language).format(states) }),
    ].filter(Boolean).join(" · ")),
    cited.length === 0 ? html("p", { class: "note" }, t("claim.no_evidence")) : cited.map((item) => evidenceEntry(ctx, item, false)),
    reviewPart(ctx, claim),
    amend(ctx, "claim", claim.id));
}

/** @param {Context} ctx @param {Claim} claim */
function pigment(ctx, claim) {
  const { t, text, language, dossier } = ctx;
  const titled = (/** @type {string} */ id) => text(dossier.pigments.get(id)?.title) || id;
  const over = claim.over && html("p", { class: "note", dir: "auto" }, t("claim.over", { pigment: titled(claim.over) }));
  if (!claim.pigment) {
    const parts = claim.mixture ?? [];
    if (parts.length === 0) return over || null;
    const shares = parts.map(({ pigment: id, share }) => (share ? `${titled(id)} ${percent(share, language)}` : titled(id)));
    return html("div", { class: "pigment" }, html("div", {},
      html("span", { class: "name", dir: "auto" }, t("claim.mixture", { pigments: new Intl.ListFormat(language).format(shares) }), claim.finish && `, ${t(`finish.${claim.finish}`)}`), over));
  }
  const entry = dossier.pigments.get(claim.pigment);
  const name = [titled(claim.pigment), claim.finish && t(`finish.${claim.finish}`)].filter(Boolean).join(", ");
  const swatch = html("span", { class: "swatch", "aria-hidden": "true" });
  const lab = entry?.lab_d50;
  // CSS Color 4 gives lab() in D50, as the palette is; what the display cannot show the browser maps.
  if (lab) swatch.style.backgroundColor = `lab(${lab[0]} ${lab[1]} ${lab[2]})`;
  const spread = entry?.spread_delta_e;
  return html("div", { class: "pigment" }, lab && swatch,
    html("div", {}, html("span", { class: "name", dir: "auto" }, name), over,
      lab && html("span", { class: "figures" }, labInWords(lab, language)),
      html("span", { class: "note" }, [
        spread !== undefined && spread !== null && t("pigment.spread", { value: decimal(spread, language, 1) }),
        entry?.readings ? t("count.readings", { count: entry.readings }) : "",
        entry?.source ? text(entry.source) : "",
      ].filter(Boolean).join(" · ")),
      entry?.caution !== undefined && html("span", { class: "caution", dir: "auto" }, text(entry.caution))));
}
