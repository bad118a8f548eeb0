// @ts-check
/** A child's work: painting by the desk, step by step, and keeping it on this device. */
import { Desk } from "../desk/desk.js";
import { Drafts } from "../desk/draft.js";
import { BASE } from "../site/base.js";
import { REGIONS } from "./document.js";

/** @typedef {import("../desk/types.d.ts").Outcome} Outcome */

/** Kept when the hand has rested so long (ms). */
const KEEP_AFTER_MS = 1500;

export class Work {
  undo_label = /** @type {string | null} */ (null);
  redo_label = /** @type {string | null} */ (null);
  #timer = 0;
  #queue = Promise.resolve();

  /**
   * @param {object} options
   * @param {import("../context.js").Context} options.ctx
   * @param {object} options.document that is painted on
   * @param {(rects: import("../desk/types.d.ts").Rect[]) => void} options.changed
   */
  constructor({ ctx, document, changed }) {
    this.changed = changed;
    this.desk = Desk.open({ base: BASE, source: ctx.source, documentBytes: new TextEncoder().encode(JSON.stringify(document)), signal: ctx.signal });
    this.desk.catch(() => {});
    this.drafts = new Drafts({ address: ctx.source.address, id: String(Reflect.get(document, "id")) });
    ctx.signal.addEventListener("abort", () => {
      clearTimeout(this.#timer);
      void this.drafts.close();
    });
  }

  /** Takes up what was painted here before. @returns {Promise<boolean>} whether there was anything */
  async resume() {
    const [last, ...older] = await this.drafts.left().catch(() => []);
    for (const { key } of older) void this.drafts.forget(key);
    if (!last || last.maps.length === 0) return false;
    const desk = await this.desk;
    try {
      this.#took(await desk.restore({ text: last.text, maps: last.maps }, "kept"));
    } catch {
      // Of another form of the object than today's: it cannot be taken up.
      return false;
    } finally {
      void this.drafts.forget(last.key);
    }
    return true;
  }

  /** A whole region at once. @param {number} region its number @param {{sheet: string, uv: ArrayLike<number>}} anchor @param {number} colour @param {string} label */
  fill(region, { sheet, uv }, colour, label) {
    return this.draw("fill", { anchor: { sheet, uv: [...Array.from(uv)] }, number: colour, over: "all", connected: false, by: "band", layer: REGIONS, from: region - 0.4, to: region + 0.4, label });
  }

  /** @template {keyof import("../desk/types.d.ts").Drawing} K @param {K} operation @param {import("../desk/types.d.ts").Drawing[K]} values */
  async draw(operation, values) {
    const outcome = await (await this.desk).draw(operation, values);
    return this.#took(outcome);
  }

  async undo() { return this.#took(await (await this.desk).undo()); }
  async redo() { return this.#took(await (await this.desk).redo()); }

  /** Bare stone again, by steps that can be taken back. @param {Iterable<number>} colours that are used @param {string} label */
  async clear(colours, label) {
    for (const from of colours) await this.draw("assign", { from, to: 0, label });
  }

  /** @param {Outcome} outcome */
  #took(outcome) {
    [this.undo_label, this.redo_label] = [outcome.undo, outcome.redo];
    this.changed(outcome.rects);
    clearTimeout(this.#timer);
    this.#timer = window.setTimeout(() => void this.keep(), KEEP_AFTER_MS);
    return outcome;
  }

  /** @returns {Promise<boolean>} false: this browser keeps nothing */
  async keep() {
    clearTimeout(this.#timer);
    /** @type {boolean} */
    let kept = false;
    this.#queue = this.#queue.then(async () => {
      const { text, maps } = await (await this.desk).draft();
      kept = await this.drafts.keep({ revision: 0, when: Date.now(), text, maps, files: [] });
    }).catch(() => {});
    await this.#queue;
    return kept;
  }
}
