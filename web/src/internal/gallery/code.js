// @ts-check
/** The attendant's code: kept as a derived key only; every wrong one makes the next wait longer. */

const KEY = "ganosis-attendant";
/** PBKDF2 with SHA-256 (RFC 8018); a few digits are soon tried out, so each try costs time. A choice of ours. */
const ROUNDS = 200_000;
/** From the fourth wrong code on each waits twice as long (ms). */
const [FREE_TRIES, FIRST_WAIT_MS, LONGEST_WAIT_MS] = [3, 15_000, 600_000];

/** @param {string} code @param {Uint8Array} salt */
async function derive(code, salt) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(code), "PBKDF2", false, ["deriveBits"]);
  const bits = await crypto.subtle.deriveBits({ name: "PBKDF2", hash: "SHA-256", salt: /** @type {BufferSource} */ (salt), iterations: ROUNDS }, key, 256);
  return hex(new Uint8Array(bits));
}

/** @param {Uint8Array} bytes */
export const hex = (bytes) => [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
/** @param {string} text */
const bytesOf = (text) => Uint8Array.from(text.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16));

/** @typedef {{salt: string, key: string, wrong: number, until: number}} Kept */

export class Code {
  /** @param {{store?: Storage, now?: () => number}} [options] */
  constructor({ store = localStorage, now = Date.now } = {}) {
    this.store = store;
    this.now = now;
  }

  /** @returns {Kept | null} */
  get #kept() {
    try {
      return JSON.parse(this.store.getItem(KEY) ?? "null");
    } catch {
      return null;
    }
  }

  get chosen() { return this.#kept !== null; }

  /** How long no code is taken (ms). */
  get waits_ms() { return Math.max(0, (this.#kept?.until ?? 0) - this.now()); }

  /** @param {string} code 4 to 8 digits */
  async choose(code) {
    if (!/^\d{4,8}$/.test(code)) throw new RangeError("A code has 4 to 8 digits.");
    const salt = crypto.getRandomValues(new Uint8Array(16));
    this.#keep({ salt: hex(salt), key: await derive(code, salt), wrong: 0, until: 0 });
  }

  /** @param {string} code @returns {Promise<boolean>} */
  async is(code) {
    const kept = this.#kept;
    if (!kept || this.waits_ms > 0) return false;
    const right = await derive(code, bytesOf(kept.salt)) === kept.key;
    const wrong = right ? 0 : kept.wrong + 1;
    const wait = wrong <= FREE_TRIES ? 0 : Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** (wrong - FREE_TRIES - 1));
    this.#keep({ ...kept, wrong, until: wait > 0 ? this.now() + wait : 0 });
    return right;
  }

  /** @param {Kept} kept */
  #keep(kept) { this.store.setItem(KEY, JSON.stringify(kept)); }
}
