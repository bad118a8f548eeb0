// @ts-check
/**
 * The photographs that are being placed, as long as the element lives: one is in hand, with its points, its
 * lens and what was found; of the others only that is kept, and the file that they are read from again. What
 * enters the dossier is written by `keep.js` alone.
 */
import { sentenceOf } from "../errors.js";
import { tripodOf } from "../tripod/tripod.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../tripod/types.d.ts").Answer} Answer */
/** @typedef {import("../tripod/types.d.ts").Frame} Frame */
/** @typedef {import("../tripod/types.d.ts").Lens} Lens */
/** @typedef {import("../tripod/types.d.ts").Pair} Pair */
/** @typedef {import("../tripod/types.d.ts").PosedPhoto} PosedPhoto */
/** @typedef {import("../tripod/types.d.ts").Shown} Shown */
/** @typedef {[number, number, number]} Place metres */
/** @typedef {Omit<Shown, "rgba"> & {file: string, sha256: string, image: ImageBitmap}} Picture */
/** What is known of a photograph. @typedef {Pick<Shot, "pairs" | "pending" | "lens" | "answer" | "placed" | "agreed" | "trouble" | "chosen">} Known */
/** @typedef {{source: File, sha256: string, known: Known}} Taken */

/** Pairs that are needed: with a lens, and without. As `ganosis pose` says. */
const NEEDED = { lens: 4, none: 6 };
/** Longest side of what is shown: about what graphics devices hold, and less where fingers point (choices of ours). */
const LARGEST_PX = { fine: 8192, coarse: 4096 };

export class Shot {
  /** @type {Picture | null} */
  picture = null;
  /** @type {Pair[]} */
  pairs = [];
  /** One half of the next pair. @type {{pixel: [number, number] | null, place: Place | null}} */
  pending = { pixel: null, place: null };
  /** @type {{lens: Lens, file: string} | null} */
  lens = null;
  /** @type {Answer | null} */
  answer = null;
  /** Where it was taken from: solved, or read. @type {{posed: PosedPhoto, frame: Frame} | null} */
  placed = null;
  /** How the pose came to agree with a layer, if it did since the points changed. @type {{layer: string, agreement: import("../tripod/types.d.ts").Agreed["agreement"]} | null} */
  agreed = null;
  /** Why there is no answer, in a sentence. */
  trouble = "";
  busy = false;
  /** The pair that stands out. @type {string | null} */
  chosen = null;
  /** How it is thrown onto the surface. */
  shows = { photo: true, opacity: 0.7, frustum: true, arrows: true };
  /** All photographs, as they were chosen. @type {Taken[]} */
  taken = [];
  /** Which of them is in hand; -1 without any. */
  at = -1;
  /** Called after every change. @type {Set<() => void>} */
  changed = new Set();
  #asked = 0;

  get needed() {
    return this.lens ? NEEDED.lens : NEEDED.none;
  }

  /** What is known of each photograph, in their order. @returns {Known[]} */
  get known() {
    return this.taken.map(({ known }, index) => (index === this.at ? this.#known() : known));
  }

  /** Takes a photograph in hand; the one before is kept. @param {Context} ctx @param {File} file */
  async take(ctx, file) {
    const picture = await this.#load(ctx, file);
    // Chosen twice, it is the same.
    const again = this.taken.findIndex(({ sha256, source }) => (sha256 ? sha256 === picture.sha256 : source === file));
    if (again >= 0) return this.#take_up(again, picture);
    // A lens of another size is not of this photograph.
    const own = this.lens?.lens;
    const lens = own?.width_px === picture.width_px && own.height_px === picture.height_px ? this.lens : null;
    this.taken.push({ source: file, sha256: picture.sha256, known: { ...nothing(), lens } });
    this.#take_up(this.taken.length - 1, picture);
  }

  /** Takes another in hand. @param {Context} ctx @param {number} index */
  async choose(ctx, index) {
    const wanted = this.taken[index];
    if (!wanted || index === this.at) return;
    const picture = await this.#load(ctx, wanted.source);
    const now = this.taken.indexOf(wanted);
    if (now >= 0) this.#take_up(now, picture);
  }

  /** Puts a photograph away, with all that is known of it. @param {Context} ctx @param {number} index */
  async drop(ctx, index) {
    const in_hand = index === this.at;
    if (in_hand) {
      this.#asked += 1;
      this.picture?.image.close();
      this.picture = null;
      this.at = -1;
      Object.assign(this, nothing(), { lens: this.lens, busy: false });
    } else if (index < this.at) this.at -= 1;
    this.taken.splice(index, 1);
    this.tell();
    if (in_hand && this.taken.length > 0) await this.choose(ctx, Math.min(index, this.taken.length - 1));
  }

  /** @param {Context} ctx @param {File} file @returns {Promise<Picture>} */
  async #load(ctx, file) {
    const tripod = await tripodOf(ctx);
    const bytes = new Uint8Array(await file.arrayBuffer());
    // Where the page is not from a safe origin, browsers lend no digest.
    const digest = await globalThis.crypto?.subtle?.digest("SHA-256", bytes);
    const sha256 = digest ? [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("") : "";
    const coarse = globalThis.matchMedia?.("(pointer: coarse)").matches;
    const { rgba, ...shown } = await tripod.take(bytes, file.name, LARGEST_PX[coarse ? "coarse" : "fine"]);
    const data = new ImageData(new Uint8ClampedArray(/** @type {ArrayBuffer} */ (rgba.buffer)), shown.shown_width, shown.shown_height);
    const image = await createImageBitmap(data, { colorSpaceConversion: "none", premultiplyAlpha: "none" });
    return { ...shown, file: file.name, sha256, image };
  }

  /** @returns {Known} */
  #known() {
    const { pairs, pending, lens, answer, placed, agreed, trouble, chosen } = this;
    return { pairs, pending, lens, answer, placed, agreed, trouble, chosen };
  }

  /** @param {number} index @param {Picture} picture */
  #take_up(index, picture) {
    const before = this.taken[this.at];
    if (before) before.known = this.#known();
    this.#asked += 1;
    this.picture?.image.close();
    this.at = index;
    Object.assign(this, this.taken[index]?.known ?? nothing(), { picture, busy: false });
    this.tell();
  }

  /** @param {Context} ctx @param {{pixel?: [number, number], place?: Place}} half */
  set(ctx, half) {
    Object.assign(this.pending, half);
    const { pixel, place } = this.pending;
    if (!pixel || !place) return this.tell();
    this.pending = { pixel: null, place: null };
    const name = String(1 + Math.max(0, ...this.pairs.map((pair) => Number(pair.name)).filter(Number.isFinite)));
    this.pairs = [...this.pairs, { name, pixel, surface_m: place }];
    this.chosen = name;
    void this.solve(ctx);
  }

  /** Takes back what was set last. @param {Context} ctx */
  back(ctx) {
    const { pixel, place } = this.pending;
    if (pixel || place) {
      this.pending = { pixel: null, place: null };
      return this.tell();
    }
    this.remove(ctx, this.pairs.at(-1)?.name ?? "");
  }

  /** @param {Context} ctx @param {string} name of a pair */
  remove(ctx, name) {
    if (!this.pairs.some((pair) => pair.name === name)) return;
    this.pairs = this.pairs.filter((pair) => pair.name !== name);
    if (this.chosen === name) this.chosen = null;
    void this.solve(ctx);
  }

  /** Points, a pose or a lens from a file. @param {Context} ctx @param {File} file */
  async read(ctx, file) {
    if (!this.picture) return;
    const tripod = await tripodOf(ctx);
    const told = await tripod.read(await file.text(), file.name, this.picture.file);
    if ("pairs" in told) {
      this.pairs = told.pairs;
      this.pending = { pixel: null, place: null };
    } else if ("lens" in told) this.lens = { lens: told.lens, file: file.name };
    else {
      const frame = await tripod.frame(told.posed);
      this.lens = { lens: told.posed.lens, file: file.name };
      this.#forget();
      this.placed = { posed: told.posed, frame };
      // What the file says holds until points say otherwise.
      if (this.pairs.length < this.needed) return this.tell();
    }
    await this.solve(ctx);
  }

  /** @param {Context} ctx @param {Lens | null} lens @param {string} file */
  async take_lens(ctx, lens, file) {
    this.lens = lens && { lens, file };
    await this.solve(ctx);
  }

  /** @param {Context} ctx */
  async solve(ctx) {
    const { pairs, picture, lens } = this;
    this.#asked += 1;
    const asked = this.#asked;
    this.trouble = "";
    if (!picture || pairs.length < this.needed) {
      if (this.answer) this.#forget();
      return this.tell();
    }
    this.busy = true;
    this.tell();
    try {
      const tripod = await tripodOf(ctx);
      const answer = await tripod.solve({ pairs, lens: lens?.lens ?? null });
      if (asked !== this.#asked) return;
      const { fit, frame } = answer;
      this.answer = answer;
      this.agreed = null;
      this.placed = { frame, posed: { photo: { file: picture.file, sha256: picture.sha256 }, lens: fit.lens, pose: fit.pose, fit: fit.summary } };
    } catch (error) {
      if (asked !== this.#asked) return;
      this.#forget();
      this.trouble = sentenceOf(error);
    }
    this.busy = false;
    this.tell();
  }

  /**
   * Brings the pose into agreement with a layer.
   * @param {Context} ctx @param {import("../../types.d.ts").Layer} layer @param {string[]} without nodes that are not there in what is shown
   */
  async agree(ctx, layer, without) {
    const { placed } = this;
    if (!placed) return;
    const { sheets = [] } = ctx.dossier.document.surface ?? {};
    const files = Object.fromEntries((layer.images ?? []).flatMap(({ sheet, file }) => {
      const own = sheets.find(({ id }) => id === sheet);
      return own ? [[own.material ?? own.id, file]] : [];
    }));
    this.#asked += 1;
    const asked = this.#asked;
    this.busy = true;
    this.trouble = "";
    this.tell();
    try {
      const tripod = await tripodOf(ctx);
      const { posed, frame, agreement } = await tripod.agree({ posed: placed.posed, files, without });
      if (asked !== this.#asked) return;
      // How far the points were off belongs to the pose that they gave.
      this.answer = null;
      this.placed = { posed, frame };
      this.agreed = { layer: layer.id, agreement };
    } catch (error) {
      if (asked !== this.#asked) return;
      this.trouble = sentenceOf(error);
    }
    this.busy = false;
    this.tell();
  }

  #forget() {
    this.answer = null;
    this.agreed = null;
    this.placed = null;
    this.busy = false;
  }

  /** @param {Partial<Shot["shows"]>} shows */
  show(shows) {
    Object.assign(this.shows, shows);
    this.tell();
  }

  tell() {
    for (const hear of this.changed) hear();
  }
}

/** @returns {Known} */
const nothing = () => ({ pairs: [], pending: { pixel: null, place: null }, lens: null, answer: null, placed: null, agreed: null, trouble: "", chosen: null });

/** One for each picture. @type {WeakMap<object, Shot>} */
const shots = new WeakMap();

/** @param {Context} ctx @returns {Shot} */
export function shotOf({ stage }) {
  const known = shots.get(stage);
  if (known) return known;
  const fresh = new Shot();
  shots.set(stage, fresh);
  return fresh;
}
