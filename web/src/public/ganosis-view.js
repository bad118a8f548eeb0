// @ts-check
/**
 * `<ganosis-view src="folder/">`: one dossier, or one .glb or .gltf, on a page; a dossier may be a folder or a zip.
 *
 * Attributes: `src`; `edit` (offers editing also where nothing can be saved but a zip); `left`, `right`, `compare`, `language` (the first view);
 * `address="hash"` (the page's own address follows the view and restores it);
 * `backend="webgpu"` or `"webgl2"` (only that one); `patience="25"` (seconds that
 * a server may be silent before a file is given up).
 */
import { Shell } from "./internal/shell.js";
import { addressOf, viewOf } from "./internal/address.js";

/** @typedef {import("./types.d.ts").View} View */

const BASE = new URL("./", import.meta.url);
const STYLES = ["room.css", "plate.css", "wall.css", "audit.css", "editing.css", "measure.css", "photographs.css", "status.css", "print.css"];
/** The address follows a view that has stood still so long; browsers limit how often it may change. */
const ADDRESS_AFTER_MS = 300;

/** One set of style sheets a page. @type {Promise<CSSStyleSheet[]> | null} */
let sheets = null;

function styles() {
  sheets ??= Promise.all(STYLES.map(async (name) => {
    const sheet = new CSSStyleSheet();
    const response = await fetch(new URL(`styles/${name}`, BASE));
    sheet.replaceSync(response.ok ? await response.text() : "");
    return sheet;
  })).catch(() => []);
  return sheets;
}

export class GanosisView extends HTMLElement {
  static observedAttributes = ["src", "backend"];

  /** @type {Shell | null} */
  #shell = null;
  /** Wished for before there is a view. @type {Partial<View>} */
  #wished = {};
  #root = this.attachShadow({ mode: "open" });
  #address_timer = 0;
  #onHash = () => this.#followHash();
  #queued = false;
  #address_speaks = true;
  #ready = promised();

  connectedCallback() {
    window.addEventListener("hashchange", this.#onHash);
    this.#open();
  }

  disconnectedCallback() {
    window.removeEventListener("hashchange", this.#onHash);
    clearTimeout(this.#address_timer);
    this.#shell?.destroy();
    this.#shell = null;
    this.#root.replaceChildren();
    if (!this.#ready.settled) this.#ready.reject(new DOMException("The element was taken out of the page.", "AbortError"));
  }

  /** @param {string} name @param {string | null} before @param {string | null} now */
  attributeChangedCallback(name, before, now) {
    if (before === now || !this.isConnected || !this.#shell) return;
    if (name === "src") {
      // What was wished for, and the page's address, speak of the dossier before.
      this.#wished = {};
      this.#address_speaks = false;
    }
    this.#open();
  }

  /** Settles when the first picture is drawn. */
  get ready() {
    return this.#ready.promise;
  }

  /** Ids and titles of what the dossier has, in the language shown; null before it is read. */
  get dossier() {
    const ctx = this.#shell?.context;
    if (!ctx) return null;
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
    return this.#shell?.context?.view() ?? null;
  }

  /** Fields left out stay as they are. @param {Partial<View>} value */
  set view(value) {
    if (this.#shell?.context) this.#shell.setView(value);
    else Object.assign(this.#wished, value);
  }

  /** @param {number} x @param {number} y CSS pixels from the picture's top left corner */
  async probe(x, y) {
    return (await this.#shown().during(this.#handle().probe(x, y))) ?? null;
  }

  /** What is drawn, without the page's own pins and panels. @param {{width: number, height: number}} size in pixels @returns {Promise<Blob>} PNG */
  async snapshot({ width, height }) {
    const pixels = await this.#shown().during(this.#handle().snapshot(width, height));
    const canvas = new OffscreenCanvas(width, height);
    const drawing = canvas.getContext("2d");
    if (!drawing) throw new Error("This browser gave no drawing surface for the picture.");
    drawing.putImageData(new ImageData(new Uint8ClampedArray(pixels), width, height), 0, 0);
    return canvas.convertToBlob({ type: "image/png" });
  }

  /**
   * A part of a picture of any size, also of one that no graphics device holds whole: RGBA, rows from the top.
   * @param {{width: number, height: number, x: number, y: number, columns: number, rows: number}} part in pixels of the whole
   * @param {Partial<View> | null} [view] shown in place of what is seen now; fields left out are those of the present view
   */
  async picturePart({ width, height, x, y, columns, rows }, view = null) {
    return this.#shown().during(this.#handle().snapshot_tile(view, width, height, new Uint32Array([x, y, columns, rows])));
  }

  /** Colour differences between the two sides. @param {string | null} [region] over this region only */
  async differences(region = null) {
    return (await this.#shown().during(this.#handle().differences(region))) ?? null;
  }

  /** The map that bands and differences are shown through: 256 colours of three sRGB codes. */
  get bandMap() {
    return this.#handle().band_map("sequence");
  }

  /** CIEDE2000 as this graphics device computes it. @param {number[]} pairs six CIELAB numbers a pair */
  async checkDifferences(pairs) {
    return [...await this.#shown().during(this.#handle().check_delta_e_2000(new Float32Array(pairs)))];
  }

  /** What examines the dossier: `audit()`, `compare(left, right)`, `hints(evidence)` and more, in a worker. */
  async desk() {
    return this.#context().desk();
  }

  /** Begins editing, or goes on with it: the session takes changes, undoes and saves them. */
  async edit() {
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
    this.#shell?.stage.intent();
  }

  #shown() {
    if (!this.#shell?.context) throw new Error("The dossier is not open yet: wait for `ready`.");
    return this.#shell;
  }

  #context() {
    return /** @type {import("./internal/context.js").Context} */ (this.#shown().context);
  }

  #handle() {
    return this.#context().handle;
  }

  /** Several attributes set together open the dossier once. */
  #open() {
    if (this.#ready.settled) this.#ready = promised();
    if (this.#queued) return;
    this.#queued = true;
    queueMicrotask(() => {
      this.#queued = false;
      if (this.isConnected) this.#start();
    });
  }

  #start() {
    this.#shell?.destroy();
    if (this.#ready.settled) this.#ready = promised();
    const shell = new Shell({
      base: BASE,
      opening: {
        src: this.getAttribute("src"), backend: this.getAttribute("backend"),
        language: this.getAttribute("language"), edit: this.hasAttribute("edit") || this.#editing_asked, stall_ms: Number(this.getAttribute("patience")) * 1000 || undefined, view: this.#firstView(),
      },
      viewed: (view) => this.#viewed(view),
      pinned: (pin) => this.#say("pinopen", { pin }),
      troubled: (message, file) => this.#say("dossiererror", { message, file }),
      again: () => this.#start(),
    });
    this.#shell = shell;
    const ready = this.#ready;
    shell.ready.then(() => ready.resolve(), (error) => {
      if (this.#shell === shell) ready.reject(error);
    });
    void styles().then((all) => {
      this.#root.adoptedStyleSheets = all;
      if (this.#shell === shell) this.#root.replaceChildren(shell.element);
    });
  }

  /** @returns {Partial<View>} */
  #firstView() {
    /** @type {Partial<View>} */
    const view = {};
    for (const name of /** @type {const} */ (["left", "right", "compare", "language"])) {
      const value = this.getAttribute(name);
      if (value) view[name] = value;
    }
    const address = this.#bound && this.#address_speaks ? viewOf(location.hash) : null;
    return { ...view, ...address, ...this.#wished };
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
      const hash = `#${addressOf(view)}${this.#editing_asked ? "&edit" : ""}`;
      if (hash !== location.hash) history.replaceState(history.state, "", hash);
    }, ADDRESS_AFTER_MS);
  }

  #followHash() {
    const view = this.#bound ? viewOf(location.hash) : null;
    if (view) this.view = view;
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
