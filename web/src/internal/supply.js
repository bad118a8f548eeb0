// @ts-check
/** Bringing the viewer what it wants: most urgent first, a few at a time. */
import { decodeImage } from "./images.js";
import { isAbort, troubleOf } from "./errors.js";

/** @typedef {import("../types.d.ts").Wanted} Wanted */
/** @typedef {import("./errors.js").Trouble} Trouble */
/** @typedef {{item: Wanted, received: number, total: number | null}} Transfer */
/** @typedef {{received: number, total: number | null, items: Wanted[]}} Progress total null: not all known */

/** Downloads at once: browsers open six connections to an HTTP/1.1 server; two stay free. */
const AT_ONCE = 4;
/** The page is given back after so long, ms: half a frame at 60 Hz. */
const PAUSE_MS = 8;
/** Bytes of a mesh that are taken in between two looks at the clock: some milliseconds of copying (a choice of ours). */
const PIECE = 4 << 20;

export class Supplier {
  /** @type {Map<Wanted["id"], Transfer>} */
  #transfers = new Map();
  /** Told by the viewer to go on without. @type {Map<Wanted["id"], Wanted>} */
  #given_up = new Map();
  /** @type {Set<Wanted["id"]>} */
  #supplied = new Set();
  #finished_bytes = 0;
  /** One mesh after the other. @type {Promise<unknown>} */
  #meshes = Promise.resolve();
  /** @type {() => void} */
  #place = () => {};
  /** When places on the surface can be found. @type {Promise<void>} */
  placed = new Promise((resolve) => { this.#place = resolve; });
  /** Those who wait, each for what it needs. @type {{needs: (item: Wanted) => boolean, resolve: () => void}[]} */
  #waiting = [];

  /**
   * @param {object} options
   * @param {import("../types.d.ts").ViewerHandle} options.handle
   * @param {import("./porter/porter.js").Porter} options.porter
   * @param {import("./source.js").Source} options.source
   * @param {import("./opening.js").Ahead | null} options.ahead the mesh that is on its way already
   * @param {AbortSignal} options.signal
   * @param {(progress: Progress) => void} options.progress
   * @param {() => void} options.changed the viewer has something new to draw
   * @param {(trouble: Trouble, item: Wanted) => void} options.trouble
   */
  constructor(options) {
    this.options = options;
    options.signal.addEventListener("abort", () => this.#waiting.splice(0).forEach(({ resolve }) => resolve()));
  }

  /** When all that is wanted now is here, or not to be had. @returns {Promise<void>} */
  settled() {
    return this.#here(() => true);
  }

  /** @param {(item: Wanted) => boolean} needs @returns {Promise<void>} when nothing that is needed is on its way or to be fetched */
  #here(needs) {
    return new Promise((resolve) => {
      this.#waiting.push({ needs, resolve });
      this.pump();
    });
  }

  /**
   * Makes a picture of this height once all that it needs is here, and the surface as fine as it needs.
   * @template T @param {number} height_px @param {(item: Wanted) => boolean} needs @param {() => Promise<T>} make @returns {Promise<T>}
   */
  async pictured(height_px, needs, make) {
    const { handle, signal } = this.options;
    const has_levels = handle.surface_level() !== null;
    if (has_levels) handle.set_pictured(height_px);
    try {
      await this.#here(needs);
      return await make();
    } finally {
      if (has_levels && !signal.aborted) handle.set_pictured(0);
    }
  }

  /** After a loss everything is wanted again. */
  forget() {
    this.#supplied.clear();
    this.#given_up.clear();
  }

  /** After the document changed: what is wanted now is not what came under that name before. */
  renew() {
    this.#supplied.clear();
  }

  /** Starts what can be started; call whenever the viewer may want something else. */
  pump() {
    const { handle, signal } = this.options;
    if (signal.aborted) return;
    const open = handle.wanted().filter(({ id, path }) =>
      !this.#transfers.has(id) && !this.#supplied.has(id) && !(this.#given_up.has(id) && this.#given_up.get(id)?.path === path));
    const urgent_under_way = [...this.#transfers.values()].some(({ item }) => item.urgent);
    const first = open.filter((item) => item.urgent);
    const next = first.length > 0 || urgent_under_way ? first : open;
    for (const item of next) {
      if (this.#transfers.size >= AT_ONCE) break;
      this.#given_up.delete(item.id);
      this.#transfers.set(item.id, { item, received: 0, total: null });
      void this.#bring(item);
    }
    this.#report();
    const missing = [...open, ...[...this.#transfers.values()].map(({ item }) => item)];
    for (const one of this.#waiting.splice(0)) {
      if (missing.some(one.needs)) this.#waiting.push(one);
      else one.resolve();
    }
  }

  /** Tries again what was given up. */
  retry() {
    const items = [...this.#given_up.values()];
    this.#given_up.clear();
    for (const item of items) {
      this.#transfers.set(item.id, { item, received: 0, total: null });
      void this.#bring(item);
    }
    this.#report();
  }

  /** @param {Wanted} item */
  async #bring(item) {
    const { signal, changed } = this.options;
    const file = item.path ?? item.layer ?? item.kind;
    try {
      if (item.kind === "surface") await this.#bringMesh(item);
      else await this.#bringFile(item, file);
      if (signal.aborted) return;
      this.#supplied.add(item.id);
    } catch (error) {
      if (signal.aborted || isAbort(error)) return;
      this.#giveUp(item, troubleOf(error, "unreadable", file));
    } finally {
      this.#finished_bytes += this.#transfers.get(item.id)?.received ?? 0;
      this.#transfers.delete(item.id);
    }
    changed();
    this.pump();
  }

  /** Everything but meshes. @param {Wanted} item @param {string} file its name */
  async #bringFile(item, file) {
    const { handle, signal, porter, trouble } = this.options;
    const { bytes, mime } = await this.#bytesOf(item);
    if (signal.aborted) return;
    if (item.kind === "colour") {
      const { image, reduced } = await decodeImage(bytes, { file, mime, largest_px: handle.backend().largest_texture_px });
      if (signal.aborted) return image.close();
      const { width, height } = image;
      handle.supply_image(item.id, image);
      // Its levels were made at once, so the device has its copy; tiles are read later.
      image.close();
      if (reduced) trouble({ key: "reduced", file, detail: "", values: { width, height } }, item);
    } else if (item.kind === "spectrum") {
      handle.supply(item.id, bytes);
    } else {
      const { width, height, full_scale, texels } = await porter.grey(bytes);
      if (!signal.aborted) handle.supply_values(item.id, width, height, full_scale, texels);
    }
  }

  /** @param {Wanted} item */
  async #bringMesh(item) {
    const { porter, signal, ahead } = this.options;
    // Whatever becomes of it, it is not waited for twice.
    this.options.ahead = null;
    /** @type {() => Promise<import("./porter/porter.js").OpenedMesh>} */
    let open;
    if (ahead && ahead.path === item.path) {
      ahead.heard = this.#hearing(item);
      ahead.heard(...ahead.come);
      open = () => ahead.mesh;
      await ahead.mesh;
    } else {
      const { bytes } = await this.#bytesOf(item);
      open = () => porter.open(bytes, item.path ?? "");
    }
    if (signal.aborted) return;
    const taking = this.#meshes.then(() => this.#takeMesh(item, open));
    this.#meshes = taking.catch(() => {});
    await taking;
  }

  /** Opens a mesh and brings it to the device a little at a time. @param {Wanted} item @param {() => Promise<import("./porter/porter.js").OpenedMesh>} open */
  async #takeMesh(item, open) {
    const { handle, signal, changed } = this.options;
    const { head, arrays } = await open();
    if (signal.aborted) return;
    const clock = new Pauses();
    handle.begin_surface(head);
    for (const array of arrays) for (let from = 0; from < array.length; from += PIECE) {
      handle.add_to_surface(array.subarray(from, from + PIECE));
      await clock.pause();
      if (signal.aborted) return;
    }
    handle.end_surface(item.id);
    while (handle.bring_geometry()) {
      await clock.pause();
      if (signal.aborted) return;
    }
    changed();
    this.#meshes = this.#meshes.then(() => this.#bringTree()).catch(() => {}).then(() => this.#place());
  }

  /** Places on the mesh are found by its tree; until it is here, on large meshes none is. */
  async #bringTree() {
    const { handle, signal, porter } = this.options;
    const tree = await porter.tree();
    if (tree && !signal.aborted) handle.supply_tree(tree.boxes, tree.order);
  }

  /** @param {Wanted} item @param {Trouble} trouble */
  #giveUp(item, trouble) {
    this.#given_up.set(item.id, item);
    this.options.handle.fail(item.id, trouble.detail || trouble.key);
    this.options.trouble(trouble, item);
  }

  /** @param {Wanted} item @returns {Promise<{bytes: Uint8Array, mime?: string}>} */
  async #bytesOf(item) {
    if (item.path === null) return this.options.handle.embedded(item.id);
    const bytes = await this.options.source.read(item.path, { signal: this.options.signal, progress: this.#hearing(item) });
    return { bytes };
  }

  /** @param {Wanted} item @returns {import("./fetch.js").Progress} */
  #hearing(item) {
    const transfer = this.#transfers.get(item.id);
    return (received, total) => {
      if (transfer) Object.assign(transfer, { received, total });
      this.#report();
    };
  }

  #report() {
    const transfers = [...this.#transfers.values()];
    let received = this.#finished_bytes;
    /** @type {number | null} */
    let total = this.#finished_bytes;
    for (const transfer of transfers) {
      received += transfer.received;
      total = total === null || transfer.total === null ? null : total + transfer.total;
    }
    this.options.progress({ received, total, items: transfers.map(({ item }) => item) });
  }
}

/** Gives the page back now and then during long work. */
class Pauses {
  #since_ms = performance.now();

  async pause() {
    if (performance.now() - this.#since_ms < PAUSE_MS) return;
    await new Promise((resolve) => setTimeout(resolve));
    this.#since_ms = performance.now();
  }
}
