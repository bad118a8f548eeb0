// @ts-check
/** Changes of a dossier as steps (RFC 6901 paths). No DOM here. */

/** @typedef {import("../../../types.d.ts").DossierDocument} DossierDocument */
/** @typedef {{op: "set" | "insert" | "remove", path: string, value?: unknown}} Step */
/** @typedef {"people" | "regions" | "palette" | "evidence" | "claims" | "pins" | "views" | "states" | "layers" | "set_aside"} ListName */

/** @param {DossierDocument} document @param {ListName} list @returns {Record<string, unknown>[]} */
const listed = (document, list) => /** @type {Record<string, unknown>[]} */ (/** @type {unknown} */ (document[list] ?? []));

/** A new entry at the end of a list. @param {DossierDocument} document @param {ListName} list @param {unknown} item @returns {Step[]} */
export function added(document, list, item) {
  // Where nothing stands yet there may be no list to put it into.
  if (listed(document, list).length === 0) return [{ op: "set", path: `/${list}`, value: [item] }];
  return [{ op: "insert", path: `/${list}/-`, value: item }];
}

/** @param {DossierDocument} document @param {ListName} list @param {string} id @param {unknown} item @returns {Step[]} */
export function changed(document, list, id, item) {
  const index = listed(document, list).findIndex((one) => one["id"] === id);
  return index < 0 ? added(document, list, item) : [{ op: "set", path: `/${list}/${index}`, value: item }];
}

/** Where ids of a list are named: list, field, and whether the field holds several. @type {Partial<Record<ListName, [ListName, string, boolean][]>>} */
const CITED = {
  evidence: [["claims", "evidence", true], ["pins", "evidence", true]],
  claims: [["pins", "claims", true]],
  regions: [["claims", "regions", true], ["evidence", "region", false]],
};

/** An entry goes, and with it every mention that can go. @param {DossierDocument} document @param {ListName} list @param {string} id @returns {Step[]} */
export function removed(document, list, id) {
  /** @type {Step[]} */
  const steps = [];
  for (const [other, field, several] of CITED[list] ?? []) {
    listed(document, other).forEach((item, index) => {
      const value = item[field];
      if (several && Array.isArray(value) && value.includes(id)) steps.push({ op: "set", path: `/${other}/${index}/${field}`, value: value.filter((one) => one !== id) });
      if (!several && value === id) steps.push({ op: "remove", path: `/${other}/${index}/${field}` });
    });
  }
  if (list === "pins" || list === "regions") {
    const field = list === "pins" ? "pin" : "region";
    (document.views ?? []).forEach(({ view }, index) => {
      if (view?.[field] === id) steps.push({ op: "remove", path: `/views/${index}/view/${field}` });
    });
  }
  const at = listed(document, list).findIndex((one) => one["id"] === id);
  if (at >= 0) steps.push({ op: "remove", path: `/${list}/${at}` });
  return steps;
}

/** How often a person or pigment is named: while it is, it must stay. @param {DossierDocument} document @param {ListName} list @param {string} id */
export function mentions(document, list, id) {
  if (list !== "people" && list !== "palette") return 0;
  let count = 0;
  /** @param {unknown} value @param {string} field */
  const look = (value, field) => {
    if (Array.isArray(value)) for (const one of value) look(one, field);
    else if (typeof value === "object" && value !== null) for (const [key, one] of Object.entries(value)) look(one, key);
    else if (value === id && FIELDS[list].includes(field)) count += 1;
  };
  look([document.claims, document.evidence, document.states, document.set_aside], "");
  return count;
}

const FIELDS = { people: ["author", "operator", "by", "proposed_by"], palette: ["pigment", "over", "identified"] };

/**
 * An entry with its fields changed; what was not asked for stays, and what is
 * empty goes.
 * @template {object} T @param {T} base @param {Record<string, unknown>} fields @returns {T}
 */
export function merged(base, fields) {
  /** @type {Record<string, unknown>} */
  const made = { .../** @type {Record<string, unknown>} */ (base) };
  for (const [key, value] of Object.entries(fields)) {
    if (value === undefined || value === null || value === "" || (Array.isArray(value) && value.length === 0)) delete made[key];
    else made[key] = value;
  }
  return /** @type {T} */ (made);
}

/** Today as ISO 8601, where the person is. */
export function today(now = new Date()) {
  const two = (/** @type {number} */ value) => String(value).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
