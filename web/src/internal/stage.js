// @ts-check
/** The canvas with its pins and divider: input goes to the viewer, frames are drawn when something changed. */
import { html, svg } from "./dom.js";
import { Pins } from "./pins.js";
import { Hand } from "./hand.js";
import { Crosshair } from "./crosshair.js";
import { dividers } from "./dividers.js";
import { glass } from "./glass.js";
import { lampRing } from "./lampring.js";
import { paneCaptions, panesOf } from "./panes.js";
import { scaleBar } from "./scale.js";
import { patiently, programsAreBeingMade } from "./programs.js";
import { lookStraightAt } from "./panels/straight.js";
import { KeptWhole } from "./whole.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").ViewerHandle} ViewerHandle */
/** @typedef {import("./panes.js").Pane} Pane */

/** A wheel notch told in lines or pages, in pixels (usual browser line height; the page is the canvas). */
const LINE_PX = 16;
/**
 * A tap waits so long (ms) for a second one, so near (CSS px), which brings the place to the middle: who has
 * one finger shifts the picture so. Choices of ours, as systems for touch have them. A mouse does not wait.
 */
const [SECOND_TAP_MS, SECOND_TAP_PX] = [260, 24];
/** Rest between steps of what is made beside the picture (ms): a choice of ours, about a frame. */
const STEP_MS = 16;

export class Stage {
  /** @type {ViewerHandle | null} */
  #handle = null;
  /** @type {Context | null} */
  #context = null;
  #frame_asked = 0;
  #paused = false;
  #unseen = false;
  /** Whether the pointer heard last is a finger. */
  #touches = false;
  /** A tap that a second may follow. @type {{x: number, y: number, timer: number} | null} */
  #tapped = null;
  /** Takes the next click on the surface in place of the card. @type {((x: number, y: number, shift?: boolean) => void) | null} */
  #picker = null;
  /** Takes back the place that was set last. @type {(() => void) | null} */
  #take_back = null;
  /** Escape while a tool is in hand. @type {(() => void) | null} */
  #put_down = null;
  /** A photograph that is thrown onto the surface. @type {import("./photographs/shot.js").Shot | null} */
  thrown = null;
  #whole = new KeptWhole();
  captions = paneCaptions();
  scale = scaleBar((key) => {
    if (this.#handle?.key(key, false)) this.intent();
  });

  /**
   * @param {object} options
   * @param {() => void} options.viewed the view has changed
   * @param {(x: number, y: number) => void} options.clicked
   * @param {(cause: "lost" | "context-lost" | "context-restored") => void} options.lost
   * @param {() => void} options.drawn
   * @param {() => void} options.escaped
   */
  constructor(options) {
    this.options = options;
    this.canvas = this.freshCanvas();
    this.pins = new Pins(() => this.canvas.focus());
    this.hand = new Hand((event, kind) => this.#forward(event, kind), (event) => this.#placeOf(event));
    this.crosshair = new Crosshair({
      size: () => this.size,
      moved: (x, y) => this.hand.tool?.hover(x, y),
      pressed: (x, y, shift) => (this.#picker ? this.#picker(x, y, shift) : this.hand.tool?.press(x, y, shift)),
      back: () => (this.#take_back ? this.#take_back() : this.hand.tool?.back?.()),
      escaped: () => this.#put_down?.(),
    });
    /** What a tool draws over the picture. */
    this.sketch = svg("g", {});
    /** Places that are being set. */
    this.marks = svg("g", {});
    /** Called after every frame, with the panes of the picture and the view. @type {Set<(panes: Pane[], view: import("../types.d.ts").View | null) => void>} */
    this.framed = new Set();
    this.dividers = dividers(() => this.#context, () => this.#box());
    this.element = html("div", { class: "stage", part: "stage" }, this.canvas, this.captions.element, this.pins.element, this.dividers.elements,
      svg("svg", { class: "sketch", "aria-hidden": "true", focusable: "false" }, this.marks, this.sketch), this.crosshair.element);
    this.glass = glass(() => this.#context, this.element);
    this.lamps = lampRing(() => this.#context, this.element);
    this.element.append(...this.lamps.elements, this.glass.element);
    this.observer = new ResizeObserver(() => this.resize());
    this.observer.observe(this.canvas);
  }

  /** A new canvas in place of the last, since a canvas keeps its first kind of context. */
  freshCanvas() {
    const canvas = html("canvas", { tabindex: 0, role: "application", "aria-label": "…" });
    const label = this.canvas?.getAttribute("aria-label");
    if (label) canvas.setAttribute("aria-label", label);
    if (this.canvas) {
      this.observer.unobserve(this.canvas);
      this.observer.observe(canvas);
      this.canvas.replaceWith(canvas);
    }
    this.canvas = canvas;
    this.#listen(canvas);
    return canvas;
  }

  /** @param {Context} context */
  attach(context) {
    this.#context = context;
    this.#handle = context.handle;
    this.resize();
    // The furniture that makes this place smaller now may be gone before the observer looks next, which would then see
    // no change: it begins anew.
    this.observer.unobserve(this.canvas);
    this.observer.observe(this.canvas);
    this.pins.attach(context);
    this.refresh();
  }

  /**
   * A tool that draws on the surface, or the picking of one place, until it is put down.
   * @param {{tool?: import("./hand.js").Tool, pick?: (x: number, y: number, shift?: boolean) => void, back?: () => void, label: string, put_down: () => void, from?: [number, number] | null} | null} held
   *   `from`: where the crosshair begins
   */
  take(held) {
    this.hand.tool = held?.tool ?? null;
    this.#picker = held?.pick ?? null;
    this.#take_back = held?.back ?? null;
    this.#put_down = held?.put_down ?? null;
    this.element.toggleAttribute("data-tool", held !== null);
    this.element.toggleAttribute("data-draws", Boolean(held?.tool));
    this.crosshair.show(held?.label ?? null, held?.from ?? null);
    if (!held) this.sketch.replaceChildren();
  }

  detach() {
    this.#context = null;
    this.#handle = null;
    this.pins.attach(null);
    this.dividers.hide();
  }

  destroy() {
    this.detach();
    cancelAnimationFrame(this.#frame_asked);
    this.observer.disconnect();
  }

  /** No frame is asked of a device that is gone. @param {boolean} paused */
  pause(paused) {
    this.#paused = paused;
    if (!paused) this.resize();
  }

  /** Nothing is drawn while nobody can see it. @param {boolean} unseen */
  unseen(unseen) {
    this.#unseen = unseen;
    if (!unseen) this.schedule();
  }

  /** Of the picture on the page. */
  #box() {
    const { left, top } = this.element.getBoundingClientRect();
    return { left, top, ...this.size };
  }

  get size() {
    return { width: this.canvas.clientWidth, height: this.canvas.clientHeight };
  }

  /** Width to height. */
  get aspect() {
    const { width, height } = this.size;
    return width / Math.max(height, 1);
  }

  resize() {
    const { width, height } = this.size;
    if (!this.#handle || this.#paused || width === 0 || height === 0) return;
    this.#handle.resize(width, height, window.devicePixelRatio);
    this.schedule();
  }

  schedule() {
    if (this.#frame_asked !== 0 || !this.#handle || this.#unseen) return;
    this.#frame_asked = requestAnimationFrame((now) => {
      this.#frame_asked = 0;
      if (!this.#handle || this.#paused) return;
      const handle = this.#handle;
      // What stands over the picture goes to its place meanwhile.
      const drew = !programsAreBeingMade(this.canvas) && patiently(this.canvas, () => handle.frame(now));
      // Both are asked once a frame: each is written out and read again.
      const view = this.#handle.view();
      const panes = panesOf(this.#handle, view);
      this.#place(view, panes);
      for (const follow of this.framed) follow(panes, view);
      this.#keepWhole(view, panes);
      if (drew) this.options.drawn();
      this.#drain();
      if (this.#handle?.wants_frame()) this.schedule();
    });
  }

  /** Once the picture on the page is that of the view, as far as frames are drawn at all. */
  async caughtUp() {
    while (this.#frame_asked !== 0 && !this.#paused && !this.#unseen && !document.hidden && this.#handle?.wants_frame()) {
      await new Promise((done) => { requestAnimationFrame(done); });
    }
  }

  /**
   * Makes what something beside the picture on the page is drawn with, a step at a time while nothing else is made.
   * @param {() => boolean} step makes one thing; true once nothing is left to make
   */
  async prepared(step) {
    const rest = () => new Promise((done) => { setTimeout(done, STEP_MS); });
    for (await this.caughtUp(); this.#handle; await this.caughtUp()) {
      if (!this.#paused && !programsAreBeingMade(this.canvas) && patiently(this.canvas, step)) return;
      await rest();
    }
  }

  /** After an intent: hear what came of it and draw. */
  intent() {
    this.#drain();
    this.schedule();
  }

  #drain() {
    const events = this.#handle?.take_events() ?? [];
    if (events.some((event) => event.type === "view")) this.options.viewed();
    for (const event of events) {
      if (event.type === "click") this.#clicked(event.x, event.y);
      if (event.type === "lost") this.options.lost("lost");
    }
    if (events.length > 0) this.schedule();
  }

  /** @param {number} x @param {number} y */
  #clicked(x, y) {
    if (this.#picker) return this.#picker(x, y);
    if (!this.#touches) return this.options.clicked(x, y);
    const before = this.#tapped;
    clearTimeout(before?.timer);
    this.#tapped = null;
    if (before && Math.hypot(x - before.x, y - before.y) < SECOND_TAP_PX) {
      this.#handle?.double_click(x, y);
      this.schedule();
      return;
    }
    // Another place: the first tap meant what it said.
    if (before) this.options.clicked(before.x, before.y);
    const timer = window.setTimeout(() => {
      this.#tapped = null;
      if (this.#handle) this.options.clicked(x, y);
    }, SECOND_TAP_MS);
    this.#tapped = { x, y, timer };
  }

  /** Pins and divider in words, after the view, the language or the dossier changed. */
  refresh() {
    const ctx = this.#context;
    const view = ctx?.handle.view();
    if (!ctx || !view) return;
    this.pins.refresh(view);
    this.glass.name(ctx);
    this.lamps.name(ctx);
    this.#place(view, panesOf(ctx.handle, view));
    this.dividers.name(ctx, view);
  }

  /** Moves pins and divider to where the frame just drawn has them. @param {import("../types.d.ts").View | null} view @param {Pane[]} panes */
  #place(view, panes) {
    const handle = this.#handle;
    if (!handle) return;
    this.pins.place(view, panes);
    if (view?.compare === "swipe") this.dividers.place(handle.dividers(), view.angle_deg);
    this.lamps.place(view, panes);
    this.glass.place(view?.compare === "loupe" ? handle.loupe() : null);
    // Where panes lie in two rows and are small, the scale stands below them and not on what is compared.
    this.element.toggleAttribute("data-rows", panes.some(([, top]) => top > 0));
    if (this.#context && view) {
      this.captions.update(this.#context, view, panes);
      this.scale.update(this.#context, view);
    }
    this.#cursor();
  }

  /** @param {import("../types.d.ts").View | null} view @param {Pane[]} panes */
  #keepWhole(view, [pane]) {
    if (!this.#context || !view) return;
    const { width, height } = pane ? { width: pane[2], height: pane[3] } : this.size;
    const distance_m = this.#whole.next(view.camera, width / Math.max(1, height), this.#context.handle.radius_m());
    if (distance_m !== null) this.#context.change({ camera: { ...view.camera, distance_m } });
  }

  /** @param {HTMLCanvasElement} canvas */
  #listen(canvas) {
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      this.hand.pointer(event, "down");
    });
    canvas.addEventListener("pointermove", (event) => this.hand.pointer(event, "move"));
    canvas.addEventListener("pointerup", (event) => this.hand.pointer(event, "up"));
    canvas.addEventListener("pointercancel", (event) => this.hand.pointer(event, "cancel"));
    canvas.addEventListener("pointerleave", () => this.hand.tool?.leave());
    canvas.addEventListener("keyup", (event) => { if (event.key === " ") this.hand.space = false; });
    canvas.addEventListener("blur", () => { this.hand.space = false; });
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    canvas.addEventListener("dblclick", (event) => {
      // Two taps are heard as such already, and not every browser makes one event of them.
      if (this.#touches) return;
      const box = canvas.getBoundingClientRect();
      this.#handle?.double_click(event.clientX - box.left, event.clientY - box.top);
      this.intent();
    });
    canvas.addEventListener("wheel", (event) => {
      if (!this.#handle) return;
      event.preventDefault();
      const unit = [1, LINE_PX, canvas.clientHeight][event.deltaMode] ?? 1;
      const box = canvas.getBoundingClientRect();
      this.#handle.wheel(event.clientX - box.left, event.clientY - box.top, event.deltaY * unit);
      this.intent();
    }, { passive: false });
    canvas.addEventListener("keydown", (event) => this.#key(event));
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      this.options.lost("context-lost");
    });
    canvas.addEventListener("webglcontextrestored", () => this.options.lost("context-restored"));
  }

  /** @param {PointerEvent} event @returns {[number, number]} CSS px of the canvas */
  #placeOf(event) {
    const box = this.canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  /** @param {PointerEvent} event @param {string} kind */
  #forward(event, kind) {
    if (!this.#handle) return;
    this.#touches = event.pointerType === "touch";
    const [x, y] = this.#placeOf(event);
    this.#handle.pointer(kind, event.pointerId, x, y, event.pointerType, event.button, event.shiftKey, event.timeStamp);
    this.#cursor();
    this.intent();
  }

  /** With a tool in hand the surface shows the tool's own cursor. */
  #cursor() {
    if (this.#handle) this.canvas.style.cursor = this.element.hasAttribute("data-tool") && !this.hand.space ? "crosshair" : this.#handle.cursor();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === " " && this.hand.tool) {
      this.hand.space = true;
      event.preventDefault();
    } else if (event.key === "Escape") (this.#put_down ?? this.options.escaped)();
    else if (event.key === "f" && this.#context?.view().region) void lookStraightAt(this.#context, this.#context.view().region ?? "");
    else if (this.#handle?.key(event.key, event.shiftKey)) {
      event.preventDefault();
      this.intent();
    }
  }
}
