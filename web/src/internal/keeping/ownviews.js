// @ts-check
/** Views that a visitor keeps: in this browser, for one dossier, or taken along as a file. No DOM here. */

/** @typedef {import("../../types.d.ts").View} View */
/** @typedef {{id: string, title: string, text: string, view: Partial<View>}} OwnView */

const FORMAT = "ganosis-views/1";
/** Most views and longest texts that a file may bring: a choice of ours. */
const [MOST, LONGEST] = [500, 4000];

/** A view as it is kept: the language is the reader's, the camera goes with the shape of the picture. @param {View} view @param {number} aspect width to height @returns {Partial<View>} */
export function keptOf({ language: _, ...view }, aspect) {
  return { ...view, camera: { ...view.camera, aspect: Number(aspect.toFixed(3)) } };
}

export class OwnViews {
  /** @type {OwnView[]} */
  list = [];
  /** Whether this browser keeps them. */
  kept = true;
  #key;
  #dossier;
  #storage;

  /** @param {string} dossier what tells it from others @param {() => Storage} [storage] */
  constructor(dossier, storage = () => localStorage) {
    this.#dossier = dossier;
    this.#key = `ganosis views ${dossier}`;
    this.#storage = storage;
    try {
      this.list = soundOf(JSON.parse(storage().getItem(this.#key) ?? "[]"));
    } catch {
      // None are kept here, or they are not ours to read.
    }
  }

  /** @param {Omit<OwnView, "id">} view */
  add(view) {
    this.list = [...this.list, { id: this.#free(), ...view }];
    this.#keep();
  }

  /** @param {string} id @param {Partial<Omit<OwnView, "id">>} fields */
  change(id, fields) {
    this.list = this.list.map((one) => (one.id === id ? { ...one, ...fields } : one));
    this.#keep();
  }

  /** @param {string} id */
  remove(id) {
    this.list = this.list.filter((one) => one.id !== id);
    this.#keep();
  }

  /** @param {string} id @param {number} by −1 or 1 */
  move(id, by) {
    this.list = moved(this.list, this.list.findIndex((one) => one.id === id), by);
    this.#keep();
  }

  /** As a file to take along. */
  toFile() {
    return `${JSON.stringify({ format: FORMAT, dossier: this.#dossier, views: this.list }, null, 2)}\n`;
  }

  /** @param {string} text of such a file @returns {number} how many came */
  fromFile(text) {
    /** @type {any} */
    let file;
    try {
      file = JSON.parse(text);
    } catch {
      throw new Error("This is no file of views. Choose one that was taken along from here.");
    }
    if (file?.format !== FORMAT) throw new Error(`This is no file of views: its \`format\` is not ${FORMAT}. Choose one that was taken along from here.`);
    if (file.dossier !== this.#dossier) throw new Error(`These views are of another dossier: ${String(file.dossier).slice(0, 80)}. Open that one to read them in.`);
    const came = soundOf(file.views);
    for (const { id: _, ...view } of came) this.add(view);
    return came.length;
  }

  #free() {
    const taken = new Set(this.list.map(({ id }) => id));
    for (let number = this.list.length + 1; ; number += 1) if (!taken.has(`own-${number}`)) return `own-${number}`;
  }

  #keep() {
    try {
      this.#storage().setItem(this.#key, JSON.stringify(this.list));
      this.kept = true;
    } catch {
      this.kept = false;
    }
  }
}

/** One entry a place earlier or later. @template T @param {readonly T[]} list @param {number} from @param {number} by @returns {T[]} */
export function moved(list, from, by) {
  const to = from + by;
  const made = [...list];
  if (from < 0 || to < 0 || to >= list.length) return made;
  made.splice(to, 0, ...made.splice(from, 1));
  return made;
}

/** Entries that are views; what else stands there is passed over. @param {unknown} list @returns {OwnView[]} */
function soundOf(list) {
  if (!Array.isArray(list)) return [];
  const plain = (/** @type {unknown} */ text) => (typeof text === "string" ? text.slice(0, LONGEST) : "");
  return list.slice(0, MOST).filter((one) => typeof one?.view === "object" && one.view !== null && !Array.isArray(one.view))
    .map((one, index) => ({ id: plain(one.id) || `own-${index + 1}`, title: plain(one.title), text: plain(one.text), view: one.view }));
}
