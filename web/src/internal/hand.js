// @ts-check
/**
 * Whose a pointer is while a tool draws on the surface. The primary button, a
 * pen and one finger draw; every other button, two fingers, and any pointer
 * while the space bar or shift is held move the view as always.
 */

/** A finger that has moved less than this may yet be the first of two (CSS px): a choice of ours. */
const SETTLE_PX = 8;
/** A finger that rests so long draws (ms): a choice of ours. */
const SETTLE_MS = 180;

/**
 * @typedef {object} Tool that draws. Points in CSS px of the canvas.
 * @property {(x: number, y: number) => void} begin
 * @property {(points: [number, number][]) => void} extend
 * @property {() => void} end
 * @property {(x: number, y: number) => void} hover
 * @property {() => void} leave
 * @property {(x: number, y: number, shift: boolean) => void} press by the crosshair's Enter key
 * @property {() => void} [back] takes the last step of what is under way back
 */

export class Hand {
  /** @type {Tool | null} */
  #tool = null;
  space = false;
  /** Pointer that draws. @type {number | null} */
  #drawing = null;
  /** A finger that may yet be the first of two. @type {{event: PointerEvent, points: [number, number][], timer: number} | null} */
  #pending = null;

  /** @param {(event: PointerEvent, kind: string) => void} forward to the view @param {(event: PointerEvent) => [number, number]} place in CSS px of the canvas */
  constructor(forward, place) {
    this.forward = forward;
    this.place = place;
  }

  get tool() {
    return this.#tool;
  }

  set tool(tool) {
    this.#settle(false);
    if (this.#drawing !== null) this.#tool?.end();
    this.#drawing = null;
    this.#tool?.leave();
    this.#tool = tool;
  }

  /** @param {PointerEvent} event @param {"down" | "move" | "up" | "cancel"} kind */
  pointer(event, kind) {
    const tool = this.#tool;
    if (!tool) this.forward(event, kind);
    else if (kind === "down") this.#down(tool, event);
    else if (kind === "move") this.#move(tool, event);
    else this.#up(tool, event, kind);
  }

  /** @param {Tool} tool @param {PointerEvent} event */
  #down(tool, event) {
    if (this.#pending && event.pointerType === "touch") {
      const first = this.#pending.event;
      this.#settle(false);
      this.forward(first, "down");
      this.forward(event, "down");
    } else if (this.#drawing !== null || event.button !== 0 || event.shiftKey || this.space) {
      this.forward(event, "down");
    } else if (event.pointerType === "touch") {
      this.#pending = { event, points: [this.place(event)], timer: window.setTimeout(() => this.#settle(true), SETTLE_MS) };
    } else {
      this.#drawing = event.pointerId;
      tool.begin(...this.place(event));
    }
  }

  /** @param {Tool} tool @param {PointerEvent} event */
  #move(tool, event) {
    const [x, y] = this.place(event);
    if (this.#pending?.event.pointerId === event.pointerId) {
      const [from_x, from_y] = this.#pending.points[0] ?? [x, y];
      this.#pending.points.push([x, y]);
      if (Math.hypot(x - from_x, y - from_y) > SETTLE_PX) this.#settle(true);
    } else if (this.#drawing === event.pointerId) {
      const all = event.getCoalescedEvents?.() ?? [];
      tool.extend((all.length > 0 ? all : [event]).map((one) => this.place(one)));
      tool.hover(x, y);
    } else {
      this.forward(event, "move");
      if (event.buttons === 0) tool.hover(x, y);
    }
  }

  /** @param {Tool} tool @param {PointerEvent} event @param {"up" | "cancel"} kind */
  #up(tool, event, kind) {
    if (this.#pending?.event.pointerId === event.pointerId) this.#settle(kind === "up");
    if (this.#drawing === event.pointerId) {
      this.#drawing = null;
      tool.end();
      if (event.pointerType === "touch") tool.leave();
    } else this.forward(event, kind);
  }

  /** The one finger draws, or never did. @param {boolean} draws */
  #settle(draws) {
    const pending = this.#pending;
    if (!pending) return;
    clearTimeout(pending.timer);
    this.#pending = null;
    if (!draws || !this.#tool) return;
    this.#drawing = pending.event.pointerId;
    const [first, ...rest] = pending.points;
    if (first) this.#tool.begin(...first);
    if (rest.length > 0) this.#tool.extend(rest);
  }
}
