// @ts-check
/** Ids of new entries and names of new files, in the habit of the dossier. */

/** @typedef {import("../../types.d.ts").DossierDocument} DossierDocument */

/** Where entries of a kind stand in the document. @type {Record<string, keyof DossierDocument>} */
const LISTS = { pin: "pins", evidence: "evidence", claim: "claims", pigment: "palette", person: "people", region: "regions", state: "states", layer: "layers", view: "views" };

/**
 * An id that no entry of this kind has: numbered on where the dossier numbers its own.
 * @param {DossierDocument} document @param {string} kind @param {string} [like] how ids of this sort begin, such as `xrf`
 */
export function freshId(document, kind, like) {
  const list = /** @type {{id: string}[]} */ (document[LISTS[kind] ?? /** @type {keyof DossierDocument} */ (kind)] ?? []);
  const taken = new Set(list.map(({ id }) => id));
  /** @type {Map<string, {count: number, highest: number, digits: number}>} */
  const habits = new Map();
  for (const id of taken) {
    const [, head = "", number = ""] = /^(.*?)(\d{1,9})$/.exec(id) ?? [];
    if (!number || (like && !head.startsWith(like))) continue;
    const habit = habits.get(head) ?? { count: 0, highest: 0, digits: 0 };
    habits.set(head, { count: habit.count + 1, highest: Math.max(habit.highest, Number(number)), digits: Math.max(habit.digits, number.length) });
  }
  const [found] = [...habits].sort(([, a], [, b]) => b.count - a.count);
  const [head, { highest, digits }] = found ?? [`${like ?? kind}-`, { highest: 0, digits: 1 }];
  for (let number = highest + 1; ; number += 1) {
    const id = head + String(number).padStart(digits, "0");
    if (!taken.has(id)) return id;
  }
}

/** A file's name that does on every system: what else stands in it becomes a hyphen. @param {string} name */
export function plainName(name) {
  const [, stem = "", ending = ""] = /^(.*?)(\.[A-Za-z0-9]+)?$/s.exec(name) ?? [];
  const plain = stem.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").replace(/[^A-Za-z0-9._-]+/g, "-").replace(/^[-.]+|[-.]+$/g, "");
  return `${plain.slice(0, 80) || "file"}${ending.toLowerCase()}`;
}

/** The folder that most attachments of a dossier lie in. @param {DossierDocument} document */
export function attachmentFolder(document) {
  /** @type {Map<string, number>} */
  const folders = new Map();
  for (const { attachments } of document.evidence ?? []) {
    for (const { file } of attachments ?? []) {
      const folder = /^[a-z][a-z0-9+.-]*:/i.test(file) ? null : file.slice(0, file.lastIndexOf("/") + 1);
      if (folder) folders.set(folder, (folders.get(folder) ?? 0) + 1);
    }
  }
  return [...folders].sort(([, a], [, b]) => b - a)[0]?.[0] ?? "evidence/";
}

/** `name.csv`, `name-2.csv`, … @param {string} path @param {number} number */
export function numbered(path, number) {
  return number < 2 ? path : path.replace(/(\.[^./]*)?$/, (ending) => `-${number}${ending}`);
}

/** Steps that write another string wherever the document has this one. @param {unknown} value @param {string} from @param {string} to @param {string} [path] @returns {import("./types.d.ts").Step[]} */
export function replacing(value, from, to, path = "") {
  if (value === from) return [{ op: "set", path, value: to }];
  if (typeof value !== "object" || value === null) return [];
  // RFC 6901, section 3.
  return Object.entries(value).flatMap(([key, inner]) => replacing(inner, from, to, `${path}/${key.replace(/~/g, "~0").replace(/\//g, "~1")}`));
}
