// @ts-check
/** Finding things in a dossier by id. Ids that lead nowhere give undefined or are left out. */

/** @typedef {import("../types.d.ts").DossierDocument} DossierDocument */
/** @typedef {import("../types.d.ts").Claim} Claim */
/** @typedef {import("../types.d.ts").Evidence} Evidence */

/** @template {{id: string}} T @param {T[] | undefined} list @returns {Map<string, T>} */
const byId = (list) => new Map((list ?? []).map((item) => [item.id, item]));

/**
 * Lists by what they name. @template T @param {T[] | undefined} list
 * @param {(item: T) => readonly (string | null | undefined)[]} names @returns {Map<string, T[]>}
 */
function byName(list, names) {
  /** @type {Map<string, T[]>} */
  const found = new Map();
  for (const item of list ?? []) {
    for (const name of new Set(names(item))) {
      if (!name) continue;
      const there = found.get(name);
      if (there) there.push(item);
      else found.set(name, [item]);
    }
  }
  return found;
}

/** @param {DossierDocument} document */
export function lookup(document) {
  const claims = byId(document.claims);
  const evidence = byId(document.evidence);
  const by_region = byName(document.claims, (claim) => claim.regions ?? []);
  const at_region = byName(document.evidence, (item) => [item.region]);
  const citing = byName(document.claims, (claim) => claim.evidence ?? []);
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
    claimsAbout: (region) => by_region.get(region) ?? [],
    /** @param {string} region @returns {Evidence[]} */
    evidenceAt: (region) => at_region.get(region) ?? [],
    /** @param {string} item id of an observation @returns {Claim[]} */
    claimsCiting: (item) => citing.get(item) ?? [],
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

/** The mark of a pin in the language spoken now. @param {import("./context.js").Context} ctx @param {number} index from 0 */
export function markOf({ t, language }, index) {
  const alphabet = t("pin.alphabet");
  return pinMark(index, alphabet === "123" ? "" : alphabet, language);
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
