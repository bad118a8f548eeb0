// @ts-check
/** What was measured and which readings were kept, as long as the element lives. Nothing of it enters the dossier. */

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Probe} Probe */
/** @typedef {import("../desk/types.d.ts").Measured} Measured */
/** @typedef {import("../desk/types.d.ts").MeasureKind} Kind */
/** @typedef {{position: [number, number, number], normal: [number, number, number]}} Spot */
/** @typedef {{number: number, kind: Kind, places: Spot[], result: Measured}} Measurement */
/** @typedef {{number: number, probe: Probe}} Kept */

export class Notebook {
  /** @type {Measurement[]} */
  measurements = [];
  /** @type {Kept[]} */
  readings = [];
  /** Places set of what is being measured. @type {Spot[]} */
  pending = [];
  /** The measurement that stands out. @type {number | null} */
  chosen = null;
  /** Called after every change. @type {Set<() => void>} */
  changed = new Set();
  #last = { measurement: 0, reading: 0 };

  /** @param {Kind} kind @param {Spot[]} places @param {Measured} result @returns {Measurement} */
  add(kind, places, result) {
    this.#last.measurement += 1;
    const measurement = { number: this.#last.measurement, kind, places, result };
    this.measurements.push(measurement);
    this.chosen = measurement.number;
    this.tell();
    return measurement;
  }

  /** @param {number} number */
  remove(number) {
    this.measurements = this.measurements.filter((one) => one.number !== number);
    if (this.chosen === number) this.chosen = null;
    if (this.measurements.length === 0) this.#last.measurement = 0;
    this.tell();
  }

  /** @param {number | null} number */
  choose(number) {
    this.chosen = number;
    this.tell();
  }

  /** @param {Spot[]} places */
  set(places) {
    this.pending = places;
    this.tell();
  }

  /** Keeps a reading; one of the same place that is kept already is given back. @param {Probe} probe @returns {Kept} */
  keep(probe) {
    const known = this.kept(probe);
    if (known) return known;
    this.#last.reading += 1;
    const kept = { number: this.#last.reading, probe };
    this.readings.push(kept);
    this.tell();
    return kept;
  }

  /** @param {Probe} probe @returns {Kept | null} */
  kept(probe) {
    const same = (/** @type {Probe} */ other) => other.sheet === probe.sheet && other.uv[0] === probe.uv[0] && other.uv[1] === probe.uv[1];
    return this.readings.find((one) => same(one.probe)) ?? null;
  }

  /** @param {number} number */
  forget(number) {
    this.readings = this.readings.filter((one) => one.number !== number);
    if (this.readings.length === 0) this.#last.reading = 0;
    this.tell();
  }

  clear() {
    this.measurements = [];
    this.pending = [];
    this.chosen = null;
    this.#last.measurement = 0;
    this.tell();
  }

  tell() {
    for (const hear of this.changed) hear();
  }
}

/** One for each picture. @type {WeakMap<object, Notebook>} */
const notebooks = new WeakMap();

/** @param {Context} ctx @returns {Notebook} */
export function notebookOf({ stage }) {
  const known = notebooks.get(stage);
  if (known) return known;
  const fresh = new Notebook();
  notebooks.set(stage, fresh);
  return fresh;
}
