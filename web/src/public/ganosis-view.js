// @ts-check
/**
 * `<ganosis-view src="folder/">`: one dossier, or one .glb or .gltf, on a page; a dossier may be a folder or a zip.
 *
 * This file and `internal/turns.js` are all that a page fetches until the element comes near the screen.
 *
 * Attributes: `src`; `state` (one state alone), `left`, `right`, `compare`, `position`, `view` (id of a saved
 * view) and `language` (what is seen; they may change later); `controls="full"`, `"compare"` or `"none"`;
 * `poster` and `alt` (a picture until the object is drawn, and its text); `opens="near"` or `"at-once"`;
 * `mode` (see `internal/modes.js`); `edit` (offers editing also where nothing can be saved but a zip);
 * `address="hash"` (the page's own address follows the view and restores it); `backend="webgpu"` or `"webgl2"`
 * (only that one); `patience="25"` (seconds that a server may be silent before a file is given up);
 * `tile-memory="192"` (MiB for the tiles of large images, 16 to 1024).
 */
import { BASE } from "./internal/site/base.js";
import { ask, join, leave } from "./internal/turns.js";

/** @typedef {import("./types.d.ts").View} View */
/** @typedef {import("../internal/shell.js").Shell} Shell */
/** @typedef {typeof import("../internal/core.js")} Core */

/** The address follows a view that has stood still so long; browsers limit how often it may change. */
const ADDRESS_AFTER_MS = 300;
/** Attributes that say what is seen. */
const SEEN = ["state", "left", "right", "compare", "position", "view", "language"];

/** The box, before anything else of the element is here. */
const BOX = new CSSStyleSheet();
BOX.replaceSync(`
:host { display: block; position: relative; block-size: 36rem; container-type: size; contain: content; background: #777; font-size: 1rem !important; }
:host([hidden]) { display: none; }
.poster, .still-room { position: absolute; inset: 0; inline-size: 100%; block-size: 100%; }
.poster { display: block; object-fit: contain; }`);

export class GanosisView extends HTMLElement {
  static observedAttributes = ["src", "backend", "mode", "poster", "alt", "controls", ...SEEN];

  /** @type {Shell | null} */
  #shell = null;
  /** @type {Core | null} */
  #core = null;
  /** Left when the device was given back. @type {{shell: Shell, view: View, dossier: import("./types.d.ts").DossierSummary | null} | null} */
  #resting = null;
  /** Wished for before there is a view. @type {Partial<View>} */
  #wished = {};
  #root = this.attachShadow({ mode: "open" });
  #poster = document.createElement("img");
  #address_timer = 0;
  #onHash = () => this.#followHash();
  #queued = false;
  #begun = false;
  #seen = true;
  #address_speaks = true;
  #ready = promised();

  constructor() {
    super();
    this.#root.adoptedStyleSheets = [BOX];
    this.#poster.className = "poster";
    this.#poster.setAttribute("part", "poster");
    this.#poster.decoding = "async";
  }

  connectedCallback() {
    window.addEventListener("hashchange", this.#onHash);
    // What was ready when it was taken out is not so any more.
    if (this.#ready.settled) this.#ready = promised();
    join(this, { wake: () => this.#wake(), rest: (patience_ms) => this.#rest(patience_ms), seen: (seen) => { this.#seen = seen; this.#shell?.seen(seen); } });
    if (this.getAttribute("opens") === "at-once") ask(this);
  }

  disconnectedCallback() {
    window.removeEventListener("hashchange", this.#onHash);
    leave(this);
    clearTimeout(this.#address_timer);
    this.#shell?.destroy();
    this.#shell = null;
    this.#resting = null;
    this.#begun = false;
    this.#root.replaceChildren();
    if (!this.#ready.settled) this.#ready.reject(new DOMException("The element was taken out of the page.", "AbortError"));
  }

  /** @param {string} name @param {string | null} before @param {string | null} now */
  attributeChangedCallback(name, before, now) {
    if (before === now || !this.isConnected || !this.#begun) return;
    if (name === "poster" || name === "alt") return this.#showPoster();
    if (name === "controls") return this.#shell?.controls(now);
    if (SEEN.includes(name)) {
      if (now !== null && this.#core) this.view = /** @type {View} */ (this.#attributes([name]));
      return;
    }
    if (name === "src") {
      // What was wished for, and the page's address, speak of the dossier before.
      this.#wished = {};
      this.#resting = null;
      this.#address_speaks = false;
    }
    if (this.#shell) this.#open();
    else ask(this);
  }

  /** Opens the dossier now, also while the element is far from the screen. */
  open() {
    ask(this);
    return this.ready;
  }

  /** Settles when the first picture is drawn; far from the screen it waits until the element comes near. */
  get ready() {
    return this.#ready.promise;
  }

  /** Whether a still stands in place of the picture, since the graphics device was given back. */
  get resting() {
    return this.#resting !== null && this.#shell === null;
  }

  /** Ids and titles of what the dossier has, in the language shown; null before it is read. */
  get dossier() {
    const ctx = this.#shell?.context;
    if (!ctx) return this.#resting?.dossier ?? null;
    const { document } = ctx.dossier;
    /** @param {import("./types.d.ts").Text | undefined} title */
    const text = (title) => ctx.text(title);
    return {
      id: document.id ?? "", title: text(document.title),
      states: (document.states ?? []).map(({ id, title, kind }) => ({ id, title: text(title), kind })),
      layers: (document.layers ?? []).map(({ id, title, kind }) => ({ id, title: text(title), kind })),
      regions: (document.regions ?? []).map(({ id, title, number }) => ({ id, title: text(title), number })),
      pins: (document.pins ?? []).map(({ id, title }) => ({ id, title: text(title) })),
      views: (document.views ?? []).map(({ id, title }) => ({ id, title: text(title) })),
    };
  }

  /** @returns {View | null} */
  get view() {
    return this.#shell?.context?.view() ?? this.#resting?.view ?? null;
  }

  /** Fields left out stay as they are. @param {Partial<View>} value */
  set view(value) {
    if (this.#shell?.context) this.#shell.setView(value);
    else if (this.#resting && !this.#shell) {
      Object.assign(this.#resting.view, value);
      ask(this);
    } else Object.assign(this.#wished, value);
  }

  /** @param {number} x @param {number} y CSS pixels from the picture's top left corner */
  async probe(x, y) {
    const shell = await this.#awake();
    return (await shell.probe(x, y)) ?? null;
  }

  /** When the picture is as fine as it will be: what it wants is here, or not to be had. @returns {Promise<void>} */
  async settled() {
    await (await this.#awake()).settled();
  }

  /** What is drawn, without the page's own pins and panels. @param {{width: number, height: number}} size in pixels @returns {Promise<Blob>} PNG */
  async snapshot(size) {
    return (await this.#awake()).snapshot(size);
  }

  /**
   * A part of a picture of any size, also of one that no graphics device holds whole: RGBA, rows from the top.
   * @param {{width: number, height: number, x: number, y: number, columns: number, rows: number}} part in pixels of the whole
   * @param {Partial<View> | null} [view] shown in place of what is seen now; fields left out are those of the present view
   */
  async picturePart({ width, height, x, y, columns, rows }, view = null) {
    const shell = await this.#awake();
    return shell.pictured(view, width, height, new Uint32Array([x, y, columns, rows]));
  }

  /** Colour differences between the two sides. @param {string | null} [region] over this region only */
  async differences(region = null) {
    const shell = await this.#awake();
    return (await shell.during(this.#handle().differences(region))) ?? null;
  }

  /** The map that bands and differences are shown through: 256 colours of three sRGB codes. */
  get bandMap() {
    return this.#handle().band_map("sequence");
  }

  /** CIEDE2000 as this graphics device computes it. @param {number[]} pairs six CIELAB numbers a pair */
  async checkDifferences(pairs) {
    const shell = await this.#awake();
    return [...await shell.during(this.#handle().check_delta_e_2000(new Float32Array(pairs)))];
  }

  /** What examines the dossier: `audit()`, `compare(left, right)`, `hints(evidence)` and more, in a worker. */
  async desk() {
    await this.#awake();
    return this.#context().desk();
  }

  /** Begins editing, or goes on with it: the session takes changes, undoes and saves them. */
  async edit() {
    await this.#awake();
    const ctx = this.#context();
    await ctx.edit(true);
    return ctx.session;
  }

  /** Drops the graphics device, as a driver may, so that recovery can be checked. */
  simulateLoss() {
    this.#handle().lose();
    const canvas = this.#shell?.stage.canvas;
    // On a canvas of WebGPU this gives null.
    const extension = canvas?.getContext("webgl2")?.getExtension("WEBGL_lose_context");
    extension?.loseContext();
    if (extension) setTimeout(() => extension.restoreContext(), 200);
  }

  #shown() {
    if (!this.#shell?.context) throw new Error("The dossier is not open yet: wait for `ready`.");
    return this.#shell;
  }

  /** A resting element is woken for what only a device can do. */
  async #awake() {
    if (this.resting) {
      ask(this);
      while (this.resting) await this.#turn.promise;
      await this.ready;
    }
    return this.#shown();
  }

  /** Settles when it next begins to wake. */
  #turn = promised();

  #context() {
    return /** @type {import("../internal/context.js").Context} */ (this.#shown().context);
  }

  #handle() {
    return this.#context().handle;
  }

  async #wake() {
    this.#begun = true;
    this.#showPoster();
    this.#open();
    const { promise } = this.#ready;
    await promise.catch(() => {});
  }

  /** @param {number} patience_ms @returns {Promise<boolean>} */
  async #rest(patience_ms) {
    const shell = this.#shell;
    if (shell) await this.#ready.promise.catch(() => {});
    if (!shell?.context || !this.view || !this.#ready.settled || shell.busy) return !shell;
    // The first picture may lack what was still on its way.
    await Promise.race([shell.settled(), new Promise((done) => { setTimeout(done, patience_ms); })]);
    const still = await shell.still();
    const { view, dossier } = this;
    if (this.#shell !== shell || !still || !view || shell.busy) return false;
    this.#resting = { shell, view: { ...view }, dossier };
    this.#wished = {};
    this.#shell = null;
    shell.rest(still, () => ask(this));
    await shell.closed;
    return true;
  }

  #showPoster() {
    const address = this.getAttribute("poster");
    this.#poster.alt = this.getAttribute("alt") ?? "";
    if (address && !this.#ready.settled) {
      this.#poster.src = address;
      this.#root.append(this.#poster);
    } else this.#poster.remove();
  }

  /** Several attributes set together open the dossier once. */
  #open() {
    if (this.#ready.settled) this.#ready = promised();
    if (this.#queued) return;
    this.#queued = true;
    queueMicrotask(async () => {
      if (!this.#core) {
        if (this.getAttribute("src")) void import("./internal/early.js").then(({ early }) => early(BASE, this.getAttribute("backend"), this.getAttribute("language"), this.getAttribute("mode"))).catch(() => {});
        this.#core = await import("./internal/core.js").catch(() => null);
      }
      this.#queued = false;
      if (!this.isConnected) return;
      if (this.#core) this.#start(this.#core);
      else this.#ready.reject(new Error(`The modules of the element could not be fetched from ${BASE.href}.`));
    });
  }

  /** @param {Core} core */
  #start({ Shell, styles }) {
    this.#shell?.destroy();
    if (this.#ready.settled) this.#ready = promised();
    const before = this.#resting;
    const shell = new Shell({
      base: BASE,
      opening: {
        src: this.getAttribute("src"), backend: this.getAttribute("backend"), controls: this.getAttribute("controls"), mode: this.getAttribute("mode"),
        saved: this.getAttribute("view"), focus: before !== null && before.shell.element.contains(this.#root.activeElement),
        language: this.getAttribute("language"), edit: this.getAttribute("edit") === "never" ? "never" : this.hasAttribute("edit") || this.#editing_asked, stall_ms: Number(this.getAttribute("patience")) * 1000 || undefined,
        tile_mib: Number(this.getAttribute("tile-memory")) || undefined, view: this.#firstView(),
      },
      viewed: (view) => this.#viewed(view),
      pinned: (pin) => this.#say("pinopen", { pin }),
      troubled: (message, file) => this.#say("dossiererror", { message, file }),
      say: (type, detail) => this.#say(type, detail),
      option: (name) => this.getAttribute(name),
      again: () => { if (this.#core) this.#start(this.#core); },
    });
    this.#shell = shell;
    shell.seen(this.#seen);
    this.#turn.resolve();
    this.#turn = promised();
    const ready = this.#ready;
    const done = () => {
      before?.shell.element.remove();
      if (this.#resting === before) this.#resting = null;
      this.#poster.remove();
    };
    shell.ready.then(() => {
      done();
      ready.resolve();
    }, (error) => {
      if (this.#shell !== shell) return;
      done();
      ready.reject(error);
    });
    const { first, all } = styles(BASE, this.getAttribute("mode"));
    void all.then((sheets) => {
      if (this.#shell === shell) this.#root.adoptedStyleSheets = [BOX, ...sheets];
    });
    void first.then((sheets) => {
      if (this.#shell !== shell) return;
      this.#root.adoptedStyleSheets = [BOX, ...sheets];
      // The still and the poster stay on top until the picture is there.
      this.#root.replaceChildren(shell.element, ...(before ? [before.shell.element] : []), ...(this.#poster.isConnected ? [this.#poster] : []));
    });
  }

  /** What attributes say of the view. @param {string[]} names @returns {Partial<View>} */
  #attributes(names) {
    /** @type {Partial<View>} */
    const view = {};
    for (const name of /** @type {const} */ (["left", "right", "compare", "language"])) {
      const value = names.includes(name) && this.getAttribute(name);
      if (value) view[name] = value;
    }
    const position = names.includes("position") ? Number.parseFloat(this.getAttribute("position") ?? "") : NaN;
    if (Number.isFinite(position)) view.position = position;
    const state = names.includes("state") && this.getAttribute("state");
    if (state) Object.assign(view, { left: state, compare: "one" });
    const saved = names.includes("view") && this.getAttribute("view");
    return saved ? { ...this.#shell?.saved(saved), ...view } : view;
  }

  /** @returns {Partial<View>} */
  #firstView() {
    if (this.#resting) return { ...this.#resting.view, ...this.#wished };
    const address = this.#bound && this.#address_speaks ? this.#core?.viewOf(location.hash) : null;
    return { ...this.#attributes(SEEN.filter((name) => name !== "view")), ...address, ...this.#wished };
  }

  /** The page's address asks for editing to be offered: `#edit` or `#…&edit`. */
  get #editing_asked() {
    return this.#bound && new URLSearchParams(location.hash.slice(1)).has("edit");
  }

  get #bound() {
    return this.getAttribute("address") === "hash";
  }

  /** @param {View} view */
  #viewed(view) {
    this.#say("viewchange", view);
    if (!this.#bound) return;
    clearTimeout(this.#address_timer);
    this.#address_timer = window.setTimeout(() => {
      const hash = `#${this.#core?.addressOf(view)}${this.#editing_asked ? "&edit" : ""}`;
      if (hash !== location.hash) history.replaceState(history.state, "", hash);
    }, ADDRESS_AFTER_MS);
  }

  #followHash() {
    const view = this.#bound ? this.#core?.viewOf(location.hash) : null;
    if (view) this.view = /** @type {View} */ (view);
  }

  /** @param {string} type @param {unknown} detail */
  #say(type, detail) {
    this.dispatchEvent(new CustomEvent(type, { detail, bubbles: true, composed: true }));
  }
}

/** A promise settled from outside. */
function promised() {
  /** @type {() => void} */
  let yes = () => {};
  /** @type {(reason: unknown) => void} */
  let no = () => {};
  /** @type {Promise<void>} */
  const promise = new Promise((resolve, reject) => { [yes, no] = [resolve, reject]; });
  // Nobody need listen.
  promise.catch(() => {});
  const made = {
    promise, settled: false,
    resolve: () => { made.settled = true; yes(); },
    /** @param {unknown} reason */
    reject: (reason) => { made.settled = true; no(reason); },
  };
  return made;
}

if (!customElements.get("ganosis-view")) customElements.define("ganosis-view", GanosisView);
