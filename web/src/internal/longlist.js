// @ts-check
/**
 * A list of any length of which only the rows near the eye are in the page.
 * Rows may differ in height: a height is guessed until the row has been seen.
 */
import { html } from "./dom.js";

/** Rows kept ready above and below what is seen, in pixels. */
const MARGIN_PX = 400;
/** Rows whose heights are summed up together. */
const BLOCK = 256;

/** Heights of rows and what they add up to. No DOM here. */
export class Heights {
  /** @param {number} count @param {(index: number) => number} guess */
  constructor(count, guess) {
    this.heights = Float64Array.from({ length: count }, (_, index) => guess(index));
    this.blocks = new Float64Array(Math.ceil(count / BLOCK));
    this.heights.forEach((height, index) => { this.blocks[Math.floor(index / BLOCK)] += height; });
  }

  get total() {
    return this.blocks.reduce((sum, block) => sum + block, 0);
  }

  /** @param {number} index @param {number} height */
  set(index, height) {
    const block = Math.floor(index / BLOCK);
    this.blocks[block] = (this.blocks[block] ?? 0) + height - (this.heights[index] ?? 0);
    this.heights[index] = height;
  }

  /** Where a row begins. @param {number} index */
  top(index) {
    const block = Math.floor(index / BLOCK);
    let top = 0;
    for (let at = 0; at < block; at += 1) top += this.blocks[at] ?? 0;
    for (let at = block * BLOCK; at < index; at += 1) top += this.heights[at] ?? 0;
    return top;
  }

  /** The row at a height, or the last. @param {number} y */
  at(y) {
    let [block, top] = [0, 0];
    while (block + 1 < this.blocks.length && top + (this.blocks[block] ?? 0) <= y) {
      top += this.blocks[block] ?? 0;
      block += 1;
    }
    let index = block * BLOCK;
    while (index + 1 < this.heights.length && top + (this.heights[index] ?? 0) <= y) {
      top += this.heights[index] ?? 0;
      index += 1;
    }
    return index;
  }
}

export class LongList {
  #heights = new Heights(0, () => 0);
  /** @type {Map<number, HTMLElement>} */
  #rows = new Map();
  /** @type {HTMLElement | null} */
  #scroller = null;
  #watch = new ResizeObserver((entries) => this.#resized(entries));

  /**
   * @param {object} options
   * @param {string} [options.label]
   * @param {(index: number) => Node} options.render
   * @param {(index: number) => number} [options.guess] height of a row in pixels
   */
  constructor(options) {
    this.options = options;
    this.element = html("div", { class: "long", role: "list", "aria-label": options.label });
    this.element.addEventListener("keydown", (event) => this.#key(event));
    this.#watch.observe(this.element);
  }

  /** Shows so many rows, all of them anew. @param {number} count */
  show(count) {
    this.#heights = new Heights(count, this.options.guess ?? (() => 56));
    for (const row of this.#rows.values()) this.#drop(row);
    this.#rows.clear();
    this.#place();
  }

  /** Makes the rows that are in the page anew; what had the focus keeps it. */
  refresh() {
    const root = this.element.getRootNode();
    const active = root instanceof ShadowRoot || root instanceof Document ? root.activeElement : null;
    for (const [index, row] of this.#rows) {
      const focused = row.contains(active);
      row.replaceChildren(this.options.render(index));
      if (focused) /** @type {HTMLElement | null} */ (row.querySelector("button, a, summary"))?.focus({ preventScroll: true });
    }
  }

  get count() {
    return this.#heights.heights.length;
  }

  /** Brings a row before the eye. @param {number} index @param {boolean} [focus] on the first thing in it that takes it */
  reveal(index, focus = false) {
    const scroller = this.#scroller;
    if (!scroller || index < 0 || index >= this.count) return;
    const top = this.#offset() + this.#heights.top(index);
    const bottom = top + (this.#heights.heights[index] ?? 0);
    if (top < scroller.scrollTop) scroller.scrollTop = top - 8;
    else if (bottom > scroller.scrollTop + scroller.clientHeight) scroller.scrollTop = bottom - scroller.clientHeight + 8;
    this.#place();
    if (focus) /** @type {HTMLElement | null | undefined} */ (this.#rows.get(index)?.querySelector("button, a, summary"))?.focus({ preventScroll: true });
  }

  /** Where the list begins in what is scrolled. */
  #offset() {
    const scroller = this.#scroller;
    return scroller ? this.element.getBoundingClientRect().top - scroller.getBoundingClientRect().top + scroller.scrollTop : 0;
  }

  /** @param {HTMLElement} row */
  #drop(row) {
    this.#watch.unobserve(row);
    row.remove();
  }

  #attach() {
    const scroller = /** @type {HTMLElement | null} */ (this.element.closest("[data-scrolls]"));
    if (!scroller || scroller === this.#scroller) return;
    this.#scroller = scroller;
    const scrolled = () => {
      if (this.element.isConnected && this.element.closest("[data-scrolls]") === scroller) this.#place();
      else {
        scroller.removeEventListener("scroll", scrolled);
        this.#watch.unobserve(scroller);
        this.#scroller = null;
      }
    };
    scroller.addEventListener("scroll", scrolled, { passive: true });
    this.#watch.observe(scroller);
  }

  #place() {
    this.element.style.blockSize = `${this.#heights.total}px`;
    this.#attach();
    const scroller = this.#scroller;
    if (!scroller || this.count === 0 || scroller.clientHeight === 0) return;
    const from = scroller.scrollTop - this.#offset();
    const first = this.#heights.at(Math.max(0, from - MARGIN_PX));
    const last = this.#heights.at(Math.max(0, from + scroller.clientHeight + MARGIN_PX));
    const root = this.element.getRootNode();
    const active = root instanceof ShadowRoot || root instanceof Document ? root.activeElement : null;
    for (const [index, row] of this.#rows) {
      // What has the focus stays, wherever it is scrolled to.
      if ((index < first || index > last) && !row.contains(active)) {
        this.#drop(row);
        this.#rows.delete(index);
      }
    }
    let top = this.#heights.top(first);
    for (let index = first; index <= last; index += 1) {
      const row = this.#rows.get(index) ?? this.#make(index);
      row.style.transform = `translateY(${top}px)`;
      top += this.#heights.heights[index] ?? 0;
    }
  }

  /** @param {number} index */
  #make(index) {
    const row = html("div", { class: "long-row", role: "listitem", "aria-setsize": this.count, "aria-posinset": index + 1, "data-index": index });
    row.append(this.options.render(index));
    this.#rows.set(index, row);
    // In the order of the list, so that the tab key follows it.
    const after = [...this.element.children].find((other) => Number(/** @type {HTMLElement} */ (other).dataset["index"]) > index);
    this.element.insertBefore(row, after ?? null);
    this.#watch.observe(row);
    return row;
  }

  /** @param {ResizeObserverEntry[]} entries */
  #resized(entries) {
    this.#attach();
    const scroller = this.#scroller;
    const seen = scroller ? this.#heights.at(Math.max(0, scroller.scrollTop - this.#offset())) : 0;
    const before = this.#heights.top(seen);
    for (const { target, borderBoxSize } of entries) {
      const index = Number(/** @type {HTMLElement} */ (target).dataset["index"] ?? Number.NaN);
      const height = borderBoxSize[0]?.blockSize ?? 0;
      if (target.parentElement === this.element && this.#rows.get(index) === target && height > 0) this.#heights.set(index, height);
    }
    const moved = this.#heights.top(seen) - before;
    this.#place();
    // What is read stays where it is when rows above it turn out higher or lower than guessed.
    if (scroller && seen > 0 && Math.abs(moved) >= 1) scroller.scrollTop += moved;
  }

  /** Arrow keys go from row to row. @param {KeyboardEvent} event */
  #key(event) {
    const target = /** @type {HTMLElement} */ (event.target);
    const at = Number(/** @type {HTMLElement | null} */ (target.closest(".long-row"))?.dataset["index"] ?? Number.NaN);
    if (Number.isNaN(at) || !target.matches("button, a, summary")) return;
    /** @type {Record<string, number>} */
    const moves = { ArrowDown: at + 1, ArrowUp: at - 1, PageDown: at + 8, PageUp: at - 8, Home: 0, End: this.count - 1 };
    const wanted = moves[event.key];
    if (wanted === undefined) return;
    event.preventDefault();
    const step = wanted > at ? 1 : -1;
    let to = Math.min(this.count - 1, Math.max(0, wanted));
    // Headings take no focus: they are stepped over.
    for (let tries = 0; tries < 3 && to >= 0 && to < this.count; tries += 1, to += step) {
      this.reveal(to, true);
      const root = /** @type {ShadowRoot | Document} */ (this.element.getRootNode());
      if (this.#rows.get(to)?.contains(root.activeElement)) return;
    }
  }
}

/** From this length on a list is kept short in the page. */
const LONG = 120;

/**
 * A list as long as it is: in the page whole, or as a `LongList`.
 * @template T @param {readonly T[]} items @param {(item: T, index: number) => Node} render content of an item
 * @param {{label?: string, guess?: number, ordered?: boolean}} [options] `ordered`: one comes after the other
 * @returns {HTMLElement}
 */
export function listOf(items, render, { label, guess = 56, ordered = false } = {}) {
  if (items.length <= LONG) return html(ordered ? "ol" : "ul", { "aria-label": label }, items.map((item, index) => html("li", {}, render(item, index))));
  const list = new LongList({ render: (index) => render(/** @type {T} */ (items[index]), index), guess: () => guess, ...(label !== undefined && { label }) });
  list.show(items.length);
  return list.element;
}
