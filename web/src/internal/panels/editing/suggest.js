// @ts-check
/** What a new claim probably says, from the observations it rests on. No DOM here. */

/** @typedef {import("../../../types.d.ts").DossierDocument} DossierDocument */
/** @typedef {import("../../../types.d.ts").Evidence} Evidence */
/** @typedef {import("../../../types.d.ts").Certainty} Certainty */

/** Analyses and observations of the audit's table of techniques, which asks the same of `measured` and `observed`. */
const ANALYSES = ["xrf", "sem-edx", "raman", "ftir", "reflectance-spectrum"];
const SEEN = ["micrograph", "cross-section", "visible", "uvl", "uvr", "irr", "vil", "raking-light", "colorimetry"];

/** @param {Evidence[]} evidence @returns {Certainty} */
export function likelyCertainty(evidence) {
  if (evidence.some(({ technique }) => ANALYSES.includes(technique))) return "measured";
  if (evidence.some(({ technique }) => SEEN.includes(technique))) return "observed";
  return evidence.length > 0 ? "comparative" : "conjectural";
}

/** States that a claim is likely about: those on the screen that are argued for, else every one that is. @param {DossierDocument} document @param {{left: string, right: string}} view */
export function likelyStates(document, { left, right }) {
  const argued = (document.states ?? []).filter(({ kind }) => kind !== "as-found").map(({ id }) => id);
  const shown = argued.filter((id) => id === left || id === right);
  return shown.length > 0 ? shown : argued.slice(0, 1);
}

/**
 * Entries of the palette that the hint's pigments may be: by id, else by name.
 * @param {DossierDocument} document @param {import("../../../types.d.ts").Hint | null} hint
 * @returns {string[]} ids, in the hint's order
 */
export function likelyPigments(document, hint) {
  const palette = document.palette ?? [];
  /** @param {import("../../../types.d.ts").Text} title */
  const words = (title) => (typeof title === "string" ? title : Object.values(title).join(" ")).toLowerCase();
  const found = (hint?.consistent_with ?? []).filter(({ later }) => !later).flatMap(({ pigment, name }) =>
    palette.filter(({ id, title }) => id === pigment || id.startsWith(`${pigment}-`) || words(title).includes(name.toLowerCase())).map(({ id }) => id));
  return [...new Set(found)];
}
