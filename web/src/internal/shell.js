// @ts-check
/** One dossier on one screen: puts the parts together and keeps them in step with the view. */
import { html } from "./dom.js";
import { Stage } from "./stage.js";
import { Tour } from "./tour/tour.js";
import { Supplier } from "./supply.js";
import { Wall } from "./wall.js";
import { Troubles } from "./troubles.js";
import { Recovery } from "./recovery.js";
import { Words } from "./words.js";
import { Editing } from "./editing.js";
import { Door } from "./door.js";
import { Relief } from "./relief.js";
import { Teller } from "./teller.js";
import { close, openDossier } from "./opening.js";
import { nameOf } from "./source.js";
import { lookup } from "./lookup.js";
import { readSettings } from "./settings.js";
import { troubleOf } from "./errors.js";
import { bestLanguage, INTERFACE_LANGUAGES, textIn } from "./i18n.js";
import { modeNamed } from "./modes.js";
import { inShape } from "./whole.js";
import { neededBy } from "./looks.js";
import { plate } from "./panels/plate.js";
import { emptyPage, loading } from "./panels/status.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("./context.js").Subject} Subject */
/** @typedef {import("../types.d.ts").View} View */

/** The surround under which dark letters no longer read on the bare stage. */
const LIGHT_SURROUND_L = 55;

/**
 * @typedef {object} Opening
 * @property {string | null} src
 * @property {string | null} backend
 * @property {Partial<View>} view wished for
 * @property {string | null} language
 * @property {number | undefined} stall_ms how long a server may be silent
 * @property {number | undefined} tile_mib memory for tiles, MiB
 * @property {boolean | "never"} edit editing is offered, wherever it is saved; false: where the server takes it
 * @property {string | null} controls how much is around the picture: "full", "compare" or "none"
 * @property {string | null} mode whose furniture stands around the picture: see `modes.js`
 * @property {string | null} saved id of the saved view to begin with
 * @property {boolean} focus the picture takes the focus when it is there
 */

export class Shell {
  #ended = new AbortController();
  /** @type {Context | null} */
  #context = null;
  /** @type {import("./opening.js").Opened | null} */
  #opened = null;
  /** @type {Supplier | null} */
  #supplier = null;
  /** @type {import("./tiles.js").Tiles | null} */
  #tiles = null;
  /** @type {Recovery | null} */
  #recovery = null;
  /** @type {import("./modes.js").Furniture | null} */
  #plate = null;
  /** Language that the panels were made in. @type {string | null} */
  #labelled = null;
  #furnished = false;
  #changes = 0;
  #view_told = false;
  #picture_shown = false;
  #seen = true;
  /** Other furniture than the caption. @type {import("./modes.js").Mode | null} */
  #mode = null;
  /** @type {Record<string, any>} */
  #memory = {};
  #settings = readSettings();
  /** @type {Door | null} */
  #door = null;
  /** @type {import("../types.d.ts").Camera | null} */
  #first_camera = null;
  /** @type {Set<Promise<unknown>>} */
  #under_way = new Set();

  /**
   * @param {object} options
   * @param {URL} options.base folder of the viewer's own files
   * @param {Opening} options.opening
   * @param {(view: View) => void} options.viewed
   * @param {(pin: string) => void} options.pinned
   * @param {(message: string, file: string) => void} options.troubled
   * @param {() => void} options.again opens everything from the start
   * @param {(type: string, detail: unknown) => void} options.say an event of the element
   * @param {(name: string) => string | null} options.option an attribute of the element
   */
  constructor(options) {
    this.options = options;
    this.stage = new Stage({
      viewed: () => this.#viewed(),
      clicked: (x, y) => void this.#clicked(x, y),
      lost: (cause) => this.#recovery?.lost(cause),
      drawn: () => this.#drawn(),
      escaped: () => this.#turnTo(null),
    });
    this.tour = new Tour(() => this.#context);
    this.wall = new Wall(() => this.#turnTo(null), this.tour.element);
    this.loading = loading();
    this.over = html("div", { class: "over-stage" });
    this.plateRoom = html("div", { class: "plate-room" });
    this.teller = new Teller(this.stage);
    this.relief = new Relief(() => this.#viewed());
    this.editing = new Editing({
      context: () => this.#context,
      begin: async () => {
        if (!this.#door) throw new Error("The dossier is not open yet.");
        return this.#door.begin();
      },
      changed: () => this.#edited(),
    });
    this.element = html("div", { class: "room", part: "room" }, this.editing.element, this.stage.element, this.wall.element, this.plateRoom, this.teller.live, this.over);
    this.words = new Words(options.base, this.element);
    this.troubles = new Troubles({
      words: this.words, over: this.over, told: options.troubled, again: options.again,
      retry: () => this.#supplier?.retry(),
    });
    this.troubles.foot.append(this.stage.scale.element);
    this.stage.element.append(this.troubles.foot);
    this.element.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && !event.defaultPrevented && this.wall.page) this.#turnTo(null);
      this.editing.key(event);
      this.tour.key(event);
    });
    this.element.dataset["theme"] = this.#settings.theme;
    this.controls(options.opening.controls);
    if (options.opening.mode) this.element.dataset["mode"] = options.opening.mode;
    /** @type {Promise<void>} */
    this.ready = new Promise((resolve, reject) => {
      this.resolve = resolve;
      this.reject = reject;
    });
    this.ready.catch(() => {});
    void this.#open();
  }

  /** Settles when the device is given back, once `destroy` was called. @type {Promise<void>} */
  closed = Promise.resolve();

  get context() {
    return this.#context;
  }

  destroy() {
    this.#ended.abort();
    this.#plate?.leave?.();
    this.teller.stop();
    this.stage.destroy();
    const opened = this.#opened;
    this.#context = null;
    this.#opened = null;
    void this.#door?.close();
    if (opened) this.closed = Promise.allSettled([...this.#under_way]).then(() => close({ ...opened, canvas: this.stage.canvas }));
    this.reject?.(new DOMException("The element was taken out of the page.", "AbortError"));
  }

  /** Whether anything under way would be lost with the device. */
  get busy() {
    return Boolean(this.#context?.session);
  }

  /** How much is around the picture. @param {string | null} controls */
  controls(controls) {
    this.element.dataset["controls"] = controls === "none" || controls === "compare" ? controls : "full";
    if (this.#bare && this.wall.page !== null) this.#turnTo(null);
  }

  /** The page around has no room for a wall. */
  get #bare() {
    return this.element.dataset["controls"] !== "full";
  }

  /** What is not on the screen need not be drawn, once there is a picture. @param {boolean} seen */
  seen(seen) {
    this.#seen = seen;
    this.stage.unseen(!seen && this.#picture_shown);
  }

  /** A saved view of the dossier. @param {string} id @returns {Partial<View> | null} */
  saved(id) {
    const view = this.#context?.dossier.document.views?.find((one) => one.id === id)?.view;
    return view ? inShape(view, this.stage.aspect) : null;
  }

  /** What is drawn, as a PNG. @param {{width: number, height: number}} size in pixels */
  async snapshot({ width, height }) {
    return pngOf(await this.pictured(null, width, height, new Uint32Array([0, 0, width, height])), width, height);
  }

  /** A still of the picture as it stands; null where none can be had. @returns {Promise<Blob | null>} */
  async still() {
    const { width, height } = this.stage.canvas;
    const ctx = this.#context;
    if (!ctx || width * height === 0) return null;
    try {
      // What is not here yet may never come: whoever rests does not wait for it.
      return await pngOf(await this.during(ctx.handle.snapshot_tile(null, width, height, new Uint32Array([0, 0, width, height]))), width, height);
    } catch {
      return null;
    }
  }

  /** Gives the device back; a still stands in place of the picture until the element wakes. @param {Blob} still @param {() => void} wake */
  rest(still, wake) {
    const { t } = this.words;
    this.destroy();
    const picture = html("img", { class: "still", alt: this.stage.canvas.getAttribute("aria-label") ?? "" });
    picture.src = URL.createObjectURL(still);
    picture.decode().catch(() => {}).finally(() => URL.revokeObjectURL(picture.src));
    const button = html("button", { class: "wake", type: "button", onclick: wake, onpointerdown: wake }, html("span", { class: "unseen" }, t("rest.wake")));
    this.stage.element.replaceChildren(picture);
    for (const part of [this.wall.element, this.plateRoom, this.editing.element]) part.inert = true;
    this.element.classList.add("still-room");
    this.element.append(button);
  }

  /** Work of the viewer that takes a while: the handle is kept until it is done. @template T @param {Promise<T>} work @returns {Promise<T>} */
  during(work) {
    const done = work.finally(() => this.#under_way.delete(done));
    this.#under_way.add(done);
    return done;
  }

  /** @param {Partial<View>} partial @param {boolean} [glide] whether the camera takes its way there @returns {boolean} */
  change(partial, glide = false) {
    const ctx = this.#context;
    if (!ctx) return false;
    try {
      if (glide) ctx.handle.glide_to_view(partial);
      else ctx.handle.set_view(partial);
    } catch (error) {
      this.troubles.note(troubleOf(error, "view", ""));
      this.#viewed();
      return false;
    }
    this.element.dataset["theme"] = this.#settings.theme;
    this.stage.intent();
    this.#viewed();
    return true;
  }

  /** A view set by the embedding page or the address: the card follows its pin or region. @param {Partial<View>} value */
  setView(value) {
    if (!this.#furnished) {
      Object.assign(this.options.opening.view, value);
      return;
    }
    if (!this.change(value)) throw new Error(this.troubles.last?.detail);
    this.#followCard(value, false);
  }

  async #open() {
    const { opening, base } = this.options;
    const { signal } = this.#ended;
    try {
      await this.words.speak(opening.language ?? bestLanguage(navigator.languages, INTERFACE_LANGUAGES));
      if (signal.aborted) return;
      if (!opening.src) {
        this.over.replaceChildren(emptyPage(this.words.t));
        return;
      }
      this.over.replaceChildren(this.loading.element);
      this.#showLoading("start", { received: 0, total: null });
      this.#mode = await modeNamed(opening.mode)?.load() ?? null;
      if (signal.aborted) return;
      const opened = await openDossier({
        ...(this.#mode?.arrange && { arrange: this.#mode.arrange }),
        src: opening.src, backend: opening.backend, stall_ms: opening.stall_ms, tile_mib: opening.tile_mib, base, signal, freshCanvas: () => this.stage.freshCanvas(),
        progress: (what, received, total) => this.#showLoading(what, { received, total }),
      });
      if (opened) this.#unfold(opened);
    } catch (error) {
      if (!signal.aborted) this.#failed(troubleOf(error, "unreadable", nameOf(opening.src ?? "")));
    }
  }

  /** @param {import("./opening.js").Opened} opened */
  #unfold(opened) {
    const { handle, source, porter, backend, ahead } = opened;
    const { signal } = this.#ended;
    this.#opened = opened;
    this.#door = new Door({
      base: this.options.base, opened, signal, again: this.options.again,
      troubled: (error) => this.troubles.note(troubleOf(error, "unreadable", "")),
    });
    void this.#door.editable(this.options.opening.edit).then(() => this.#viewed());
    this.#context = this.#makeContext(handle, source, lookup(handle.document()));
    this.stage.attach(this.#context);
    const supplier = new Supplier({
      handle, porter, source, ahead, signal,
      progress: (progress) => this.#progress(progress),
      changed: () => {
        this.#furnish();
        this.#tiles?.renew();
        this.stage.intent();
        // What the viewer found wrong with the arrival is said also when no view changes.
        this.#viewed();
      },
      trouble: (trouble, item) => {
        const essential = item.kind === "surface";
        if (essential && !this.#picture_shown) this.#failed(trouble);
        else this.troubles.note(trouble);
      },
    });
    this.#supplier = supplier;
    this.#recovery = new Recovery({
      stage: this.stage, handle, backend, signal, during: (work) => this.during(work),
      restored: () => {
        supplier.forget();
        this.#tiles?.forget();
        supplier.pump();
        this.#plate?.restored?.();
        this.stage.intent();
      },
      failed: (error) => this.#failed(troubleOf(error, "graphics", "")),
    });
    supplier.pump();
    this.#furnish();
    this.stage.schedule();
  }

  /** Once there is a view: takes over the one wished for and puts the panels up. */
  #furnish() {
    const ctx = this.#context;
    if (!ctx || this.#furnished || !ctx.handle.view()) return;
    this.#furnished = true;
    this.#first_camera = ctx.view().camera;
    void this.#followTiles(ctx);
    // The states of a plain .glb are only known now that it is read.
    ctx.dossier = lookup(ctx.handle.document());
    this.stage.attach(ctx);
    const { view: wished, language, saved } = this.options.opening;
    const view = { ...(saved && this.saved(saved)), ...(wished.camera?.aspect ? inShape(wished, this.stage.aspect) : wished) };
    const offered = [...INTERFACE_LANGUAGES, ...(ctx.dossier.document.languages ?? [])];
    const spoken = view.language ?? bestLanguage([language ?? "", ...navigator.languages].filter(Boolean), offered);
    // Field by field, so that one that this dossier does not know leaves the others.
    for (const [field, value] of Object.entries({ ...view, language: spoken })) this.change({ [field]: value });
    const began = JSON.stringify(ctx.view().camera);
    void this.#relabel(ctx.view().language).then(() => {
      // Only now the picture has the shape that the caption leaves it.
      const first = saved ? this.saved(saved) : ctx.dossier.document.views?.[0]?.view;
      if (wished.camera || !first?.camera || this.#context !== ctx || JSON.stringify(ctx.view().camera) !== began) return;
      const { camera } = inShape(first, this.stage.aspect);
      if (camera !== first.camera || saved) this.change({ camera });
    });
  }

  /** Where images are cut into tiles, they come as the picture wants them. @param {Context} ctx */
  async #followTiles(ctx) {
    const { handle, source, signal } = ctx;
    if (handle.tiled().length === 0) return;
    const { Tiles } = await import("./tiles.js");
    const porter = this.#opened?.porter;
    if (signal.aborted || !porter) return;
    this.#tiles = new Tiles({
      handle, porter, source, signal, during: (work) => this.during(work),
      changed: () => this.stage.schedule(),
      told: (state) => this.stage.scale.detail(ctx, state),
    });
    this.stage.framed.add((_, view) => {
      if (view) this.#tiles?.follow(view, this.stage.size);
    });
    this.stage.schedule();
  }

  /** @param {import("../types.d.ts").ViewerHandle} handle @param {import("./source.js").Source} source @param {import("./lookup.js").Lookup} dossier @returns {Context} */
  #makeContext(handle, source, dossier) {
    const { words, stage, editing, relief } = this;
    const door = () => /** @type {Door} */ (this.#door);
    const languages = () => [handle.view()?.language ?? words.language, words.language, ...(dossier.document.languages ?? []), "en"];
    return {
      handle, source, dossier, settings: this.#settings, signal: this.#ended.signal, stage, relief,
      get session() { return editing.session; },
      get editors() { return editing.editors; },
      changes: () => this.#changes,
      get editable() { return door().offered; },
      edit: (on) => editing.turn(on),
      refused: (error, key = "change") => this.#refused(key, error),
      desk: () => door().desk(),
      measurer: () => door().measurer(),
      during: (work) => this.during(work),
      pictured: (...asked) => this.pictured(...asked),
      get t() { return words.t; },
      get language() { return words.language; },
      get languages() { return languages(); },
      view: () => /** @type {View} */ (handle.view()),
      change: (partial) => this.change(partial),
      glide: (partial) => this.change(partial, true),
      first_camera: () => this.#first_camera,
      wall_content: () => this.wall.content,
      show: (subject, camera) => this.#show(subject, camera),
      tour: this.tour,
      visit: (saved, focus = true) => {
        const view = { pin: null, region: null, ...inShape(saved, stage.aspect), language: handle.view()?.language ?? words.language };
        if (this.change(view, true)) this.#followCard(view, focus);
      },
      turnTo: (page) => this.#turnTo(page),
      text: (value) => textIn(value, languages()).value,
    };
  }

  /** Makes every panel anew in a language. @param {string} language of the view */
  async #relabel(language) {
    this.#labelled = language;
    await this.words.speak(language);
    const ctx = this.#context;
    if (!ctx) return;
    this.#plate?.leave?.();
    this.#plate = this.#mode ? this.#mode.furniture(ctx, this.#hooks(ctx)) : plate(ctx);
    this.plateRoom.replaceChildren(this.#plate.element);
    this.stage.attach(ctx);
    this.wall.attach(ctx);
    this.tour.name();
    this.editing.label();
    this.#plate.page(this.wall.page);
    if (this.wall.page === null) this.#followCard(ctx.view(), false);
    this.#viewed();
  }

  /** What other furniture may use. @param {Context} ctx @returns {import("./modes.js").Hooks} */
  #hooks(ctx) {
    const { say, option } = this.options;
    return {
      element: this.element, words: this.words, wall: this.wall, memory: this.#memory, say, option,
      languages: () => [...new Set([...(ctx.dossier.document.languages ?? []), ctx.view().language])],
      supply: (id, image) => {
        ctx.handle.supply_image(id, image);
        this.stage.intent();
      },
    };
  }

  /** The view has changed: everything that tells of it follows, once a frame. */
  #viewed() {
    if (this.#view_told) return;
    this.#view_told = true;
    requestAnimationFrame(() => {
      this.#view_told = false;
      const ctx = this.#context;
      const view = ctx?.handle.view();
      if (!ctx || !view || !this.#furnished) return;
      if (this.#labelled !== null && view.language !== this.#labelled) return void this.#relabel(view.language);
      this.#plate?.update?.(view);
      this.wall.update(view);
      this.stage.refresh();
      this.#supplier?.pump();
      this.stage.element.dataset["ground"] = view.surround_l >= LIGHT_SURROUND_L ? "light" : "dark";
      this.stage.element.style.backgroundColor = `lab(${view.surround_l} 0 0)`;
      this.teller.tell(ctx);
      this.relief.follow(ctx, view);
      this.troubles.take(ctx.handle.problems());
      this.troubles.show(view.light.mode !== "as-measured" ? `light.stamp.${view.light.mode}` : view.lamp ? "lamp.stamp" : null);
      this.options.viewed(view);
    });
  }

  /** What is at a point of the picture, from the finest there is of it. @param {number} x @param {number} y */
  async probe(x, y) {
    const { handle } = /** @type {Context} */ (this.#context);
    return this.during((async () => {
      await Promise.all([this.#supplier?.placed, this.#tiles?.bringAt(x, y)]);
      return handle.probe(x, y);
    })());
  }

  /** @type {import("../types.d.ts").ViewerHandle["snapshot_tile"]} */
  pictured(view, width, height, part) {
    const { handle, dossier } = /** @type {Context} */ (this.#context);
    const supplier = /** @type {Supplier} */ (this.#supplier);
    const make = () => this.during(handle.snapshot_tile(view, width, height, part));
    const needs = neededBy(dossier, /** @type {View} */ ({ ...handle.view(), ...view }));
    return supplier.pictured(height, needs, () => this.#tiles ? this.#tiles.whilePictured({ view, width, height, part }, make) : make());
  }

  /** When the picture is as fine as it will be. */
  async settled() {
    await this.#supplier?.settled();
    await this.#tiles?.settled();
    await this.stage.caughtUp();
  }

  /** @param {number} x @param {number} y */
  async #clicked(x, y) {
    if (this.wall.writing) return;
    const ctx = this.#context;
    const probe = ctx && await this.probe(x, y);
    if (!ctx || ctx !== this.#context) return;
    if (!probe) this.#turnTo(this.wall.page === "card" ? null : this.wall.page);
    else if (probe.region) this.#show({ kind: "region", id: probe.region, probe });
    else this.#show({ kind: "point", probe });
  }

  /** @param {Subject} subject @param {import("../types.d.ts").Camera | null} [camera] */
  #show(subject, camera) {
    const pin = subject.kind === "pin" ? subject.id : null;
    const region = this.#regionOf(subject);
    // A form changes nothing of what is seen.
    if (subject.kind !== "form") this.change({ pin, region, ...(camera && { camera }) }, Boolean(camera));
    this.#card(subject, true);
  }

  /** The region to outline with a card. @param {Subject} subject */
  #regionOf(subject) {
    const { dossier } = /** @type {Context} */ (this.#context);
    if (subject.kind === "region") return subject.id;
    const named = subject.kind === "evidence" ? dossier.evidence.get(subject.id)?.region
      : subject.kind === "claim" ? dossier.claims.get(subject.id)?.regions?.[0] : null;
    return named && dossier.regions.has(named) ? named : null;
  }

  /** The document has changed under the hand, or editing has begun or ended. */
  #edited() {
    const ctx = this.#context;
    if (!ctx) return;
    this.#changes += 1;
    const document = ctx.session?.document ?? ctx.handle.document();
    // A stroke on a region map leaves the document as it was.
    if (document !== ctx.dossier.document) {
      ctx.dossier = lookup(document);
      this.#supplier?.renew();
      this.stage.attach(ctx);
    }
    this.wall.refill();
    this.stage.intent();
    this.#viewed();
  }

  /** Opens the card of the pin or region that a view names, and closes one that it ends. @param {Partial<View>} view @param {boolean} focus */
  #followCard(view, focus) {
    if (view.pin) this.#card({ kind: "pin", id: view.pin }, focus);
    else if (view.region) this.#card({ kind: "region", id: view.region, probe: null }, focus);
    else if ((view.pin === null || view.region === null) && this.wall.page === "card") {
      // Who goes through views has the list again where one has no card.
      const page = this.tour.begun ? this.wall.before : null;
      this.wall.turnTo(page, focus);
      this.#plate?.page(page);
    }
  }

  /** @param {Subject} subject @param {boolean} focus */
  #card(subject, focus) {
    if (!this.#bare) this.wall.show(subject, focus);
    this.#plate?.page(null);
    if (subject.kind === "pin") this.options.pinned(subject.id);
  }

  /** @param {string | null} page */
  #turnTo(page) {
    // The portfolio keeps what is seen, with its outline and open pin.
    const had_subject = this.wall.page === "card" || this.wall.page === "portfolio";
    this.wall.turnTo(page);
    this.#plate?.page(page);
    if (had_subject && page !== "portfolio" && this.#context) this.change({ pin: null, region: null });
    if (page !== null) return;
    const from = this.wall.cameFrom;
    if (from?.isConnected && !from.hidden) from.focus();
    else this.stage.canvas.focus();
  }

  #drawn() {
    if (this.#picture_shown || !this.#context?.handle.ready()) return;
    this.#picture_shown = true;
    this.stage.unseen(!this.#seen);
    if (this.options.opening.focus) this.stage.canvas.focus();
    performance.mark("ganosis-first-picture");
    this.over.replaceChildren();
    this.element.dataset["ready"] = "true";
    this.resolve?.();
  }

  /** @param {import("./supply.js").Progress} progress */
  #progress(progress) {
    if (!this.#picture_shown) this.#showLoading(progress.items[0]?.kind ?? "start", progress);
    this.element.toggleAttribute("data-busy", this.#picture_shown && progress.items.length > 0);
  }

  /** @param {string} what a `load.…` message @param {{received: number, total: number | null}} progress */
  #showLoading(what, progress) {
    this.loading.show(this.words.t, this.words.language, this.words.t(`load.${what}`), progress);
  }

  /** @param {"editing" | "change"} key @param {unknown} error */
  #refused(key, error) {
    if (this.#ended.signal.aborted) return;
    this.troubles.note(troubleOf(error, key, ""));
    this.#viewed();
  }

  /** Nothing can be shown. @param {import("./errors.js").Trouble} trouble */
  #failed(trouble) {
    this.reject?.(this.troubles.fail(trouble));
  }
}

/** Rows of RGBA as a PNG. @param {Uint8Array} pixels @param {number} width @param {number} height @returns {Promise<Blob>} */
function pngOf(pixels, width, height) {
  const canvas = new OffscreenCanvas(width, height);
  const drawing = canvas.getContext("2d");
  if (!drawing) throw new Error("This browser gave no drawing surface for the picture.");
  drawing.putImageData(new ImageData(new Uint8ClampedArray(pixels), width, height), 0, 0);
  return canvas.convertToBlob({ type: "image/png" });
}
