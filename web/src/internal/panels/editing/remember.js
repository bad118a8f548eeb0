// @ts-check
/** What the next form may begin with: who wrote last, with which instrument. No DOM here. */

/** @typedef {import("../../../types.d.ts").DossierDocument} DossierDocument */
/** @typedef {import("../../../types.d.ts").Evidence} Evidence */

/** Who signed last in this sitting, by what they did. @type {WeakMap<object, Map<string, string>>} */
const signed = new WeakMap();

/** @param {object} sitting @param {string} role @param {string} person */
export function rememberPerson(sitting, role, person) {
  const known = signed.get(sitting) ?? new Map();
  signed.set(sitting, known.set(role, person));
}

/**
 * Who probably signs: whoever did so last in this sitting, else last in the
 * dossier, else whoever signed anything, else the first of its people.
 * @param {object} sitting @param {DossierDocument} document @param {"operator" | "author" | "reviewer"} role
 */
export function lastPerson(sitting, document, role) {
  const known = signed.get(sitting);
  const ids = new Set((document.people ?? []).map(({ id }) => id));
  const written = {
    operator: document.evidence?.findLast(({ operator }) => operator)?.operator,
    author: document.claims?.findLast(({ author }) => author)?.author,
    reviewer: document.claims?.findLast(({ reviews }) => reviews?.length)?.reviews?.at(-1)?.by,
  };
  const wanted = [known?.get(role), known && [...known.values()].at(-1), written[role], document.people?.[0]?.id];
  return wanted.find((id) => id && ids.has(id)) ?? "";
}

/** The latest observation of a technique: its instrument and settings hold until somebody says otherwise. @param {DossierDocument} document @param {string} technique @returns {Evidence | undefined} */
export function lastOf(document, technique) {
  return document.evidence?.findLast((item) => item.technique === technique && item.instrument !== undefined);
}

/** Technique of this sitting's last observation. @type {WeakMap<object, string>} */
const techniques = new WeakMap();

/** @param {object} sitting @param {string} technique */
export function rememberTechnique(sitting, technique) {
  techniques.set(sitting, technique);
}

/** The last technique of this sitting, else the one that the dossier has most often, else XRF. @param {object} sitting @param {DossierDocument} document */
export function likelyTechnique(sitting, document) {
  /** @type {Map<string, number>} */
  const counts = new Map();
  for (const { technique } of document.evidence ?? []) counts.set(technique, (counts.get(technique) ?? 0) + 1);
  const [most] = [...counts].sort(([, a], [, b]) => b - a);
  return techniques.get(sitting) ?? most?.[0] ?? "xrf";
}
