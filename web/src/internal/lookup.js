// @ts-check
/** Finding things in a dossier by id. Ids that lead nowhere give undefined or are left out. */

/** @typedef {import("../types.d.ts").DossierDocument} DossierDocument */
/** @typedef {import("../types.d.ts").Claim} Claim */
/** @typedef {import("../types.d.ts").Evidence} Evidence */

/** @template {{id: string}} T @param {T[] | undefined} list @returns {Map<string, T>} */
const byId = (list) => new Map((list ?? []).map((item) => [item.id, item]));

/** @param {DossierDocument} document */
export function lookup(document) {
  const claims = byId(document.claims);
  const evidence = byId(document.evidence);
  return {
    document,
    states: byId(document.states),
    layers: byId(document.layers),
    regions: byId(document.regions),
    pigments: byId(document.palette),
    people: byId(document.people),
    pins: byId(document.pins),
    views: byId(document.views),
    claims,
    evidence,
    bands: (document.layers ?? []).filter((layer) => layer.kind === "band"),

    /** @param {string[] | undefined} ids @returns {Claim[]} */
    claimsOf: (ids) => (ids ?? []).flatMap((id) => claims.get(id) ?? []),
    /** @param {string[] | undefined} ids @returns {Evidence[]} */
    evidenceOf: (ids) => (ids ?? []).flatMap((id) => evidence.get(id) ?? []),
    /** @param {string} region @returns {Claim[]} */
    claimsAbout: (region) => (document.claims ?? []).filter((claim) => claim.regions?.includes(region)),
    /** @param {string} region @returns {Evidence[]} */
    evidenceAt: (region) => (document.evidence ?? []).filter((item) => item.region === region),
  };
}

/** @typedef {ReturnType<typeof lookup>} Lookup */

/**
 * The letter that marks a pin on the surface: a to z, then aa, ab …; a number
 * where the interface language has no such custom.
 * @returns {string}
 * @param {number} index from 0
 * @param {string} alphabet letters in order, or "" for numbers
 * @param {string} language
 */
export function pinMark(index, alphabet, language) {
  const letters = [...alphabet];
  if (letters.length === 0) return (index + 1).toLocaleString(language);
  const own = letters[index % letters.length] ?? "";
  return index < letters.length ? own : pinMark(Math.floor(index / letters.length) - 1, alphabet, language) + own;
}

/**
 * Where an attachment lies: beside the dossier, or on the web.
 * @param {string} path
 * @returns {"beside" | "web" | null} null: not a path that is followed
 */
export function attachmentPlace(path) {
  try {
    const { protocol } = new URL(path);
    return protocol === "https:" || protocol === "http:" ? "web" : null;
  } catch {
    return path === "" || /^[\\/]/.test(path) ? null : "beside";
  }
}
