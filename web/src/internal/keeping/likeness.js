// @ts-check
/** Small pictures of the object in each state, made once and one after the other while nothing else is to do. */

/** @typedef {import("../context.js").Context} Context */

/** Size of such a picture (px): sharp at half of it on fine screens. A choice of ours. */
export const LIKENESS_PX = { width: 160, height: 120 };
/** Where it is what is touched, as on the gallery tablet. A choice of ours: sharp at the widest that such a picture gets there. */
export const LARGE_LIKENESS_PX = { width: 280, height: 280 };
/** How long until images that were not here are looked for again: a choice of ours, a wait that is hardly noticed. */
const AGAIN_MS = 400;
/** How long a busy page is waited for (ms), and how long one that cannot tell. Choices of ours: pictures in a list may come a moment later, not never. */
const [LATEST_MS, PAUSE_MS] = [250, 30];

/** One set for each viewer. @type {WeakMap<object, Likenesses>} */
const sets = new WeakMap();

/** Whoever asks first of a viewer says how large they are. @param {Context} ctx @param {{width: number, height: number}} [size_px] */
export function likenesses(ctx, size_px = LIKENESS_PX) {
  const known = sets.get(ctx.handle);
  if (known) return known;
  const made = new Likenesses(ctx, size_px);
  sets.set(ctx.handle, made);
  return made;
}

class Likenesses {
  /** Addresses by id. @type {Map<string, string>} */
  #made = new Map();
  /** What the pictures were made from. */
  #made_of = "";
  #under_way = false;
  /** @type {Map<string, Set<HTMLImageElement>>} */
  #wanted = new Map();

  /** @param {Context} ctx @param {{width: number, height: number}} size_px */
  constructor(ctx, size_px) {
    this.ctx = ctx;
    this.size_px = size_px;
    ctx.signal.addEventListener("abort", () => this.#forget(), { once: true });
  }

  /** Puts the picture of a state or band into an image, now or when it is made. @param {string} id @param {HTMLImageElement} image */
  put(id, image) {
    const now = `${this.ctx.changes()} ${this.ctx.view().surround_l}`;
    if (now !== this.#made_of) {
      this.#forget();
      this.#made_of = now;
    }
    const address = this.#made.get(id);
    if (address) {
      show(image, address);
      return;
    }
    const images = this.#wanted.get(id) ?? new Set();
    images.add(image);
    this.#wanted.set(id, images);
    void this.#work();
  }

  async #work() {
    if (this.#under_way) return;
    this.#under_way = true;
    try {
      while (this.#wanted.size > 0 && !this.ctx.signal.aborted) {
        await idle();
        // Of those that are still in a list.
        for (const [id, images] of this.#wanted) if (![...images].some((image) => image.isConnected)) this.#wanted.delete(id);
        let made = false;
        for (const id of [...this.#wanted.keys()]) made = (await this.#make(id)) || made;
        if (!made && this.#wanted.size > 0) await new Promise((resolve) => { setTimeout(resolve, AGAIN_MS); });
      }
    } catch {
      // Lists are of use without pictures.
      this.#wanted.clear();
    } finally {
      this.#under_way = false;
    }
  }

  /** @param {string} id @returns {Promise<boolean>} false: its images are not here yet */
  async #make(id) {
    const { ctx } = this;
    await idle();
    if (ctx.signal.aborted) return false;
    const { width, height } = this.size_px;
    const made_of = this.#made_of;
    await ctx.stage.prepared(() => ctx.handle.prepare_picture_of(id, width, height));
    if (ctx.signal.aborted) return false;
    const rgba = await ctx.during(ctx.handle.picture_of(id, width, height));
    if (!rgba) return false;
    const canvas = new OffscreenCanvas(width, height);
    canvas.getContext("2d")?.putImageData(new ImageData(new Uint8ClampedArray(rgba), width), 0, 0);
    const blob = await canvas.convertToBlob({ type: "image/png" });
    // The document has changed meanwhile.
    if (ctx.signal.aborted || made_of !== this.#made_of) return false;
    const address = URL.createObjectURL(blob);
    this.#made.set(id, address);
    for (const image of this.#wanted.get(id) ?? []) show(image, address);
    this.#wanted.delete(id);
    return true;
  }

  #forget() {
    for (const address of this.#made.values()) URL.revokeObjectURL(address);
    this.#made.clear();
  }
}

/** @param {HTMLImageElement} image @param {string} address */
function show(image, address) {
  image.src = address;
  image.hidden = false;
}

/** When nothing else is to do, or soon. @returns {Promise<void>} */
function idle() {
  return new Promise((resolve) => {
    if (typeof requestIdleCallback === "function") requestIdleCallback(() => resolve(), { timeout: LATEST_MS });
    else setTimeout(resolve, PAUSE_MS);
  });
}
