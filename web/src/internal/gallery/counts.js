// @ts-check
/**
 * How the tablet is used: sums by day, and nothing of any person. They stay on the device until an
 * attendant takes them as a table. No DOM here.
 */

const KEY = "ganosis-gallery-counts";
/** A year and a month; older days are forgotten (days). */
const KEPT_DAYS = 400;
/** What went wrong lately, for the attendant. */
const ERRORS_KEY = "ganosis-gallery-errors";
const KEPT_ERRORS = 50;

/** @typedef {Record<string, Record<string, number>>} Days day (ISO 8601) to what to how often */

/** @param {Storage} store @param {string} key @param {any} otherwise */
function read(store, key, otherwise) {
  try {
    return JSON.parse(store.getItem(key) ?? "null") ?? otherwise;
  } catch {
    return otherwise;
  }
}

/** @param {Storage} store @param {string} key @param {unknown} value */
function write(store, key, value) {
  try {
    store.setItem(key, JSON.stringify(value));
  } catch {
    // A full or forbidden store: the visitor goes before the statistics.
  }
}

export class Counts {
  /** @param {{store?: Storage, today?: () => Date}} [options] */
  constructor({ store = localStorage, today = () => new Date() } = {}) {
    this.store = store;
    this.today = today;
  }

  /** @returns {Days} */
  get days() {
    return read(this.store, KEY, {});
  }

  /** @param {string} what @param {number} [by] */
  add(what, by = 1) {
    const { days } = this;
    const now = this.today();
    const day = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
    const of = (days[day] ??= {});
    of[what] = (of[what] ?? 0) + by;
    for (const old of Object.keys(days).sort().slice(0, -KEPT_DAYS)) delete days[old];
    write(this.store, KEY, days);
  }

  forget() {
    this.store.removeItem(KEY);
  }

  /** As comma-separated values (RFC 4180). */
  csv() {
    const rows = Object.entries(this.days).sort(([a], [b]) => (a < b ? -1 : 1))
      .flatMap(([day, of]) => Object.entries(of).sort(([a], [b]) => (a < b ? -1 : 1)).map(([what, count]) => [day, what, String(count)]));
    return [["day", "what", "count"], ...rows].map((row) => row.map(field).join(",")).join("\r\n") + "\r\n";
  }

  /** @param {string} message */
  note(message) {
    const all = this.errors;
    all.push({ when: this.today().toISOString(), message: message.slice(0, 500) });
    write(this.store, ERRORS_KEY, all.slice(-KEPT_ERRORS));
  }

  /** @returns {{when: string, message: string}[]} */
  get errors() {
    return read(this.store, ERRORS_KEY, []);
  }
}

/** @param {string} text */
const field = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
