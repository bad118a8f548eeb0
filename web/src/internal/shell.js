// @ts-check
/** One dossier on one screen: opens it, keeps the panels in step with the view, and heals what is lost. */
import { html } from "./dom.js";
import { Stage } from "./stage.js";
import { Supplier } from "./supply.js";
import { Wall } from "./wall.js";
import { createHandle, prepareWebgl, probeBackends } from "./backend.js";
import { fetchBytes } from "./fetch.js";
import { lookup } from "./lookup.js";
import { describePicture } from "./describe.js";
import { readSettings } from "./settings.js";
import { troubleOf } from "./errors.js";
import { bestLanguage, directionOf, INTERFACE_LANGUAGES, loadMessages, textIn, translator } from "./i18n.js";
import { plate } from "./panels/plate.js";
import { emptyPage, errorPage, loading, notice, troubleInWords } from "./panels/status.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("./context.js").Subject} Subject */
/** @typedef {import("../types.d.ts").View} View */
/** @typedef {import("./errors.js").Trouble} Trouble */

/** A description is spoken once the picture has stood still so long. */
const SPEAK_AFTER_MS = 900;
/** The surround under which dark letters no longer read on the bare stage. */
const LIGHT_SURROUND_L = 55;
/** How long a lost WebGL context is given to come back by itself. */
const CONTEXT_PATIENCE_MS = 4000;

/**
 * @typedef {object} Opening
 * @property {string | null} src
 * @property {string | null} backend
 * @property {Partial<View>} view wished for
 * @property {string | null} language
 */

export class Shell {
  #ended = new AbortController();
  /** @type {Context | null} */
  #context = null;
  /** @type {Supplier | null} */
  #supplier = null;
  /** @type {ReturnType<typeof plate> | null} */
  #plate = null;
  /** @type {Trouble[]} */
  #troubles = [];
  /** @type {import("./i18n.js").Messages} */
  #fallback = {};
  #t = translator({}, {}, "en");
  #language = "en";
  #spoken = 0;
  #view_told = false;
  #picture_shown = false;
  /** @type {{received: number, total: number | null}} */
  #before = { received: 0, total: null };
  #backend = "";
  #settings = readSettings();

  /**
   * @param {object} options
   * @param {URL} options.base folder of the viewer's own files
   * @param {Opening} options.opening
   * @param {(view: View) => void} options.viewed
   * @param {(pin: string) => void} options.pinned
   * @param {(message: string, file: string) => void} options.troubled
   * @param {() => void} options.again opens everything from the start
   */
  constructor(options) {
    this.options = options;
    this.stage = new Stage({
      viewed: () => this.#viewed(),
      clicked: (x, y) => void this.#clicked(x, y),
      lost: (cause) => void this.#lost(cause),
      drawn: () => this.#drawn(),
      escaped: () => this.#turnTo(null),
    });
    this.wall = new Wall(() => this.#turnTo(null));
    this.loading = loading();
    this.over = html("div", { class: "over-stage" });
    this.foot = html("div", { class: "stage-foot" });
    this.live = html("div", { class: "unseen", role: "status", "aria-live": "polite" });
    this.plateRoom = html("div", { class: "plate-room" });
    this.stage.element.append(this.foot, this.over);
    this.element = html("div", { class: "room" }, this.stage.element, this.wall.element, this.plateRoom, this.live);
    this.element.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && !event.defaultPrevented && this.wall.page) this.#turnTo(null);
    });
    this.#theme();
    /** @type {Promise<void>} */
    this.ready = new Promise((resolve, reject) => {
      this.resolve = resolve;
      this.reject = reject;
    });
    this.ready.catch(() => {});
    void this.#open();
  }

  get context() {
    return this.#context;
  }

  destroy() {
    this.#ended.abort();
    clearTimeout(this.#spoken);
    this.stage.destroy();
    const handle = this.#context?.handle;
    this.#context = null;
    handle?.free();
    this.reject?.(new DOMException("The element was taken out of the page.", "AbortError"));
  }

  /** @param {Partial<View>} partial @returns {boolean} */
  change(partial) {
    const ctx = this.#context;
    if (!ctx) return false;
    try {
      ctx.handle.set_view(partial);
    } catch (error) {
      this.#note({ key: "view", file: "", detail: error instanceof Error ? error.message : String(error) });
      return false;
    }
    this.#theme();
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
    if (!this.change(value)) throw new Error(this.#troubles.at(-1)?.detail);
    if (value.pin) this.wall.show({ kind: "pin", id: value.pin }, false);
    else if (value.region) this.wall.show({ kind: "region", id: value.region, probe: null }, false);
    else if ((value.pin === null || value.region === null) && this.wall.page === "card") this.wall.turnTo(null);
    if (value.pin) this.options.pinned(value.pin);
  }

  async #open() {
    const { opening, base } = this.options;
    try {
      await this.#speak(opening.language ?? bestLanguage(navigator.languages, INTERFACE_LANGUAGES));
      if (!opening.src) {
        this.over.replaceChildren(emptyPage(this.#t));
        return;
      }
      this.over.replaceChildren(this.loading.element);
      this.#showLoading(this.#t("load.start"), { received: 0, total: null });
      const source = sourceOf(opening.src);
      const [bytes, made] = await Promise.all([
        fetchBytes(source.address, { signal: this.#ended.signal, file: source.name }),
        probeBackends(opening.backend).then((backends) => createHandle({
          backends, base, freshCanvas: () => this.stage.freshCanvas(),
          progress: (received, total) => {
            this.#before = { received, total };
            this.#showLoading(this.#t("load.viewer"), this.#before);
          },
        })),
      ]);
      if (this.#ended.signal.aborted) return made.handle.free();
      this.#backend = made.backend;
      await this.#unfold(made.handle, source, bytes);
    } catch (error) {
      if (!this.#ended.signal.aborted) this.#failed(troubleOf(error, "unreadable", sourceOf(opening.src ?? "").name));
    }
  }

  /** @param {import("../types.d.ts").ViewerHandle} handle @param {{name: string, folder: string}} source @param {Uint8Array} bytes */
  async #unfold(handle, source, bytes) {
    try {
      handle.open(source.name, bytes);
    } catch (error) {
      handle.free();
      throw error;
    }
    const dossier = lookup(handle.document());
    this.#context = this.#makeContext(handle, source.folder, dossier);
    this.stage.attach(this.#context);
    this.#supplier = new Supplier({
      handle, folder: source.folder, signal: this.#ended.signal,
      progress: (progress) => this.#progress(progress),
      changed: () => {
        this.#furnish();
        this.stage.intent();
      },
      trouble: (trouble, item) => this.#supplyTrouble(trouble, item),
    });
    this.#supplier.pump();
    this.#furnish();
    this.stage.schedule();
  }

  #furnished = false;

  /** Once there is a view: takes over the one wished for and puts the panels up. */
  #furnish() {
    const ctx = this.#context;
    if (!ctx || this.#furnished || !ctx.handle.view()) return;
    this.#furnished = true;
    // The states of a plain .glb are only known now that it is read.
    ctx.dossier = lookup(ctx.handle.document());
    this.stage.attach(ctx);
    const { view, language } = this.options.opening;
    const offered = [...INTERFACE_LANGUAGES, ...(ctx.dossier.document.languages ?? [])];
    const spoken = view.language ?? bestLanguage([language ?? "", ...navigator.languages].filter(Boolean), offered);
    // Field by field, so that one that this dossier does not know leaves the others.
    for (const [field, value] of Object.entries({ ...view, language: spoken })) this.change({ [field]: value });
    void this.#relabel(ctx.view().language);
  }

  /** @param {import("../types.d.ts").ViewerHandle} handle @param {string} folder @param {import("./lookup.js").Lookup} dossier @returns {Context} */
  #makeContext(handle, folder, dossier) {
    const shell = this;
    const languages = () => [handle.view()?.language ?? this.#language, this.#language, ...(dossier.document.languages ?? []), "en"];
    return {
      handle, folder, dossier, settings: this.#settings,
      get t() { return shell.#t; },
      get language() { return shell.#language; },
      get languages() { return languages(); },
      view: () => /** @type {View} */ (handle.view()),
      change: (partial) => this.change(partial),
      show: (subject) => this.#show(subject),
      turnTo: (page) => this.#turnTo(page),
      text: (value) => textIn(value, languages()).value,
    };
  }

  /** Loads the interface's words. @param {string} wanted a language tag */
  async #speak(wanted) {
    const folder = new URL("messages/", this.options.base);
    const language = bestLanguage([wanted], INTERFACE_LANGUAGES);
    const [messages, fallback] = await Promise.all([loadMessages(language, folder), loadMessages("en", folder)]);
    this.#fallback = fallback;
    this.#language = language;
    this.#t = translator(messages, this.#fallback, language);
    this.element.lang = language;
    this.element.dir = directionOf(language);
  }

  /** @type {string | null} */
  #labelled = null;

  /** Makes every panel anew in a language. @param {string} language of the view */
  async #relabel(language) {
    this.#labelled = language;
    await this.#speak(language);
    const ctx = this.#context;
    if (!ctx) return;
    this.#plate = plate(ctx);
    this.plateRoom.replaceChildren(this.#plate.element);
    this.stage.attach(ctx);
    this.wall.attach(ctx);
    this.#plate.page(this.wall.page);
    this.#showNotices();
    const { pin, region } = ctx.view();
    if (pin && this.wall.page === null) this.wall.show({ kind: "pin", id: pin }, false);
    else if (region && this.wall.page === null) this.wall.show({ kind: "region", id: region, probe: null }, false);
    this.#viewed();
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
      this.#describe(ctx);
      this.#showNotices();
      this.options.viewed(view);
    });
  }

  /** @param {Context} ctx */
  #describe(ctx) {
    const words = describePicture(ctx);
    if (this.stage.canvas.getAttribute("aria-label") === words) return;
    this.stage.canvas.setAttribute("aria-label", words);
    this.stage.canvas.setAttribute("aria-roledescription", ctx.t("picture"));
    clearTimeout(this.#spoken);
    this.#spoken = window.setTimeout(() => { this.live.textContent = words; }, SPEAK_AFTER_MS);
  }

  /** @param {number} x @param {number} y */
  async #clicked(x, y) {
    const ctx = this.#context;
    const probe = await ctx?.handle.probe(x, y);
    if (!ctx || ctx !== this.#context) return;
    if (!probe) this.#turnTo(this.wall.page === "card" ? null : this.wall.page);
    else if (probe.region) this.#show({ kind: "region", id: probe.region, probe });
    else this.#show({ kind: "point", probe });
  }

  /** @param {Subject} subject */
  #show(subject) {
    const pin = subject.kind === "pin" ? subject.id : null;
    this.change({ pin, region: subject.kind === "region" ? subject.id : null });
    this.wall.show(subject, true);
    this.#plate?.page(null);
    if (pin) this.options.pinned(pin);
  }

  /** @param {string | null} page */
  #turnTo(page) {
    const was_card = this.wall.page === "card";
    this.wall.turnTo(page);
    this.#plate?.page(page);
    if (was_card && this.#context) this.change({ pin: null, region: null });
    if (page === null) this.#focusBack();
  }

  #focusBack() {
    const from = this.wall.cameFrom;
    if (from?.isConnected && !from.hidden) from.focus();
    else this.stage.canvas.focus();
  }

  #drawn() {
    if (this.#picture_shown || !this.#context?.handle.ready()) return;
    this.#picture_shown = true;
    this.over.replaceChildren();
    this.element.dataset["ready"] = "true";
    this.resolve?.();
  }

  /** @param {import("./supply.js").Progress} progress */
  #progress(progress) {
    const item = progress.items[0];
    const text = item ? this.#t(`load.${item.kind}`) : this.#t("load.start");
    if (!this.#picture_shown) this.#showLoading(text, progress);
    const busy = this.#picture_shown && progress.items.length > 0;
    this.element.toggleAttribute("data-busy", busy);
  }

  /** @param {string} text @param {{received: number, total: number | null}} progress */
  #showLoading(text, progress) {
    this.loading.show(this.#t, this.#language, text, progress);
  }

  /** @param {Trouble} trouble @param {import("../types.d.ts").Wanted} item */
  #supplyTrouble(trouble, item) {
    const essential = item.kind === "surface" || item.kind === "buffer";
    if (essential && !this.#picture_shown) this.#failed(trouble);
    else this.#note(trouble);
  }

  /** Nothing can be shown. @param {Trouble} trouble */
  #failed(trouble) {
    this.over.replaceChildren(errorPage(this.#t, trouble, () => this.options.again()));
    this.#tell(trouble);
    this.reject?.(new Error(`${troubleInWords(this.#t, trouble).what} ${trouble.file} ${trouble.detail}`.trim()));
  }

  /** Something is missing, but the rest works. @param {Trouble} trouble */
  #note(trouble) {
    const known = this.#troubles.some(({ key, file, detail }) => key === trouble.key && file === trouble.file && detail === trouble.detail);
    if (known) return;
    this.#troubles.push(trouble);
    this.#showNotices();
    this.#tell(trouble);
  }

  /** @param {Trouble} trouble */
  #tell(trouble) {
    const { what } = troubleInWords(this.#t, trouble);
    this.options.troubled([what, trouble.detail].filter(Boolean).join(" "), trouble.file);
  }

  #notices_key = "";

  #showNotices() {
    const ctx = this.#context;
    if (!ctx) return;
    const known = new Set(this.#troubles.map(({ file }) => file));
    const told = [...this.#troubles, ...this.#dismissed];
    for (const { file, message } of ctx.handle.problems()) {
      if (known.has(file) || told.some((one) => one.file === file && (one.detail === message || one.key !== "problem"))) continue;
      this.#troubles.push({ key: "problem", file, detail: message });
    }
    const raking = ctx.handle.view()?.light.mode === "raking";
    const key = JSON.stringify([this.#troubles, raking, this.#language]);
    if (key === this.#notices_key) return;
    this.#notices_key = key;
    const list = notice(this.#t, this.#troubles, () => this.#retry(), () => {
      this.#dismissed.push(...this.#troubles.splice(0));
      this.#showNotices();
    });
    this.foot.replaceChildren(...(raking ? [html("p", { class: "stamp" }, this.#t("light.stamp"))] : []), ...(list ? [list] : []));
  }

  /** @type {Trouble[]} */
  #dismissed = [];

  #retry() {
    this.#troubles = [];
    this.#showNotices();
    this.#supplier?.retry();
  }

  /** A device or context went; the view is kept by the handle. @param {"lost" | "context-lost" | "context-restored"} cause */
  async #lost(cause) {
    const ctx = this.#context;
    if (!ctx) return;
    this.stage.pause(true);
    if (cause === "context-lost" || (cause === "lost" && this.#backend === "webgl2")) {
      const canvas = this.stage.canvas;
      setTimeout(() => {
        if (this.#context === ctx && this.stage.canvas === canvas && this.#waiting) void this.#restore(ctx, true);
      }, CONTEXT_PATIENCE_MS);
      this.#waiting = true;
      return;
    }
    await this.#restore(ctx, false);
  }

  #waiting = false;

  /** @param {Context} ctx @param {boolean} replace whether the canvas has been given up @returns {Promise<void>} */
  async #restore(ctx, replace) {
    this.#waiting = false;
    try {
      if (replace) {
        this.stage.freshCanvas();
        if (this.#backend === "webgl2") prepareWebgl(this.stage.canvas);
      }
      await ctx.handle.restore(this.stage.canvas);
    } catch (error) {
      if (!replace) return this.#restore(ctx, true);
      return this.#failed(troubleOf(error, "graphics", ""));
    }
    if (this.#ended.signal.aborted) return;
    this.#supplier?.forget();
    this.stage.pause(false);
    this.#supplier?.pump();
    this.stage.intent();
  }

  #theme() {
    this.element.dataset["theme"] = this.#settings.theme;
  }
}

/**
 * What a `src` names: a folder with a dossier, the JSON itself, or one surface.
 * @param {string} src
 */
function sourceOf(src) {
  const address = new URL(src, document.baseURI);
  if (!/\.(json|glb|gltf)$/i.test(address.pathname)) {
    if (!address.pathname.endsWith("/")) address.pathname += "/";
    address.pathname += "dossier.json";
  }
  return {
    address: address.href,
    folder: new URL(".", address).href,
    name: decodeURIComponent(address.pathname.split("/").pop() ?? ""),
  };
}
