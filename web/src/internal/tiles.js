// @ts-check
/** Tiles of large images: found out by the picture, brought in its order, given to the viewer a few a frame. */
import { decodeImage } from "./images.js";
import { isAbort } from "./errors.js";

/** @typedef {import("../types.d.ts").TiledImage} TiledImage */
/** @typedef {{grid: [number, number], names: string}} LevelList */
/** @typedef {{folder: string, ending: string, names: string}} TileList names of all levels in a row */
/** @typedef {{image: number, number: number, key: string}} Tile */
/** @typedef {{view: object | null, width: number, height: number, part: Uint32Array}} Picture asked for beside that on the canvas */
/** @typedef {{tile: Tile, picture?: ImageBitmap, grey?: import("./porter/porter.js").Grey}} Brought */

/** Downloads at once: browsers open six connections to an HTTP/1.1 server; the other images leave two of them free. */
const AT_ONCE = 6;
/** Time in which tiles are given to the device in one frame, ms: a quarter of a frame at 60 Hz. */
const GIVING_MS = 4;
/** After a failure it is tried again after so long, ms, twice as long each time up to the longest; choices of ours. */
const RETRY_MS = 1_000;
const LONGEST_RETRY_MS = 30_000;
/** Digits of a tile's name: the beginning of the SHA-256 of its bytes. */
const NAME_DIGITS = 16;

export class Tiles {
  /** @type {Map<number, Promise<TileList | null>>} by the number of the image */
  #lists = new Map();
  /** Wanted by the picture, the first to come first. @type {Tile[]} */
  #wanted = [];
  /** @type {Map<string, AbortController>} */
  #under_way = new Map();
  /** Not to be had so far. @type {Map<string, {times: number, again_ms: number}>} */
  #failed = new Map();
  /** Brought while there was no room. @type {Set<string>} */
  #no_room = new Set();
  /** @type {Brought[]} */
  #ready = [];
  /** Given to the device, which may read them as late as the next frame. @type {ImageBitmap[]} */
  #given = [];
  #asking = false;
  #ask_again = false;
  #giving = 0;
  #timer = 0;
  #seen = "";
  /** @type {Picture | null} */
  #picture = null;
  /** One picture after the other. @type {Promise<unknown>} */
  #pictures = Promise.resolve();
  /** @type {(() => void)[]} */
  #waiting = [];

  /**
   * @param {object} options
   * @param {import("../types.d.ts").ViewerHandle} options.handle
   * @param {import("./porter/porter.js").Porter} options.porter
   * @param {import("./source.js").Source} options.source
   * @param {AbortSignal} options.signal
   * @param {() => void} options.changed there is something new to draw
   * @param {(state: {loading: number, missing: number}) => void} options.told tiles on their way, and not to be had
   * @param {<T>(work: Promise<T>) => Promise<T>} options.during keeps the viewer until this is done
   */
  constructor(options) {
    this.options = options;
    this.images = new Map(options.handle.tiled().map((image) => [image.id, image]));
    options.signal.addEventListener("abort", () => this.#end());
  }

  /** A frame was drawn: another view wants other tiles. @param {unknown} view @param {{width: number, height: number}} size */
  follow(view, { width, height }) {
    for (const picture of this.#given.splice(0)) picture.close();
    const seen = `${JSON.stringify(view)} ${width} ${height}`;
    if (seen === this.#seen || this.#picture || !this.options.handle.can_ask_for_tiles()) return;
    this.#seen = seen;
    this.#no_room.clear();
    void this.#ask();
  }

  /** Another image has come: it may be wanted finer. */
  renew() {
    this.#seen = "";
  }

  /** After a loss of the device nothing is here. */
  forget() {
    this.#seen = "";
    this.#failed.clear();
    this.#stop(() => true);
    for (const { picture } of this.#ready) picture?.close();
    this.#ready = [];
  }

  /**
   * Brings what a picture beside that on the canvas needs, then makes it: what it needs stays until it is made.
   * @template T @param {Picture} picture @param {() => Promise<T>} make @returns {Promise<T>}
   */
  whilePictured(picture, make) {
    const made = this.#pictures.then(async () => {
      this.#picture = picture;
      try {
        await this.settled();
        return await make();
      } finally {
        this.#picture = null;
        this.#seen = "";
        this.options.changed();
      }
    });
    this.#pictures = made.catch(() => {});
    return made;
  }

  /** When everything that the picture wants is here, or not to be had. @returns {Promise<void>} */
  settled() {
    return new Promise((resolve) => {
      this.#waiting.push(resolve);
      void this.#ask();
    });
  }

  /** Brings what a probe reads at a place, before it reads. @param {number} x @param {number} y */
  async bringAt(x, y) {
    const tiles = this.#tilesOf(this.options.handle.tiles_at(x, y));
    await Promise.all(tiles.map(async (tile) => {
      try {
        this.#give(await this.#fetched(tile, this.options.signal));
      } catch {
        // The probe then reads the coarser level and says so.
      }
    }));
  }

  #end() {
    this.#stop(() => true);
    cancelAnimationFrame(this.#giving);
    clearTimeout(this.#timer);
    this.#waiting.splice(0).forEach((resolve) => resolve());
  }

  /** @param {(key: string) => boolean} which */
  #stop(which) {
    for (const [key, controller] of this.#under_way) if (which(key)) {
      controller.abort();
      this.#under_way.delete(key);
    }
  }

  /** @param {ArrayLike<number>} pairs @returns {Tile[]} */
  #tilesOf(pairs) {
    return Array.from({ length: pairs.length / 2 }, (_, i) => tileOf(Number(pairs[2 * i]), Number(pairs[2 * i + 1])));
  }

  /** Asks the picture what it wants; once more afterwards if it has changed meanwhile. */
  async #ask() {
    if (this.options.signal.aborted) return;
    if (this.#asking) {
      this.#ask_again = true;
      return;
    }
    this.#asking = true;
    try {
      do {
        this.#ask_again = false;
        const { view, width, height, part } = this.#picture ?? { view: null, width: 0, height: 0, part: new Uint32Array() };
        const found = await this.options.during(this.options.handle.tiles_wanted(view, width, height, part));
        this.#wanted = inOrder(found ?? new Uint32Array());
      } while (this.#ask_again && !this.options.signal.aborted);
    } catch {
      // A device that is lost wants nothing; it is asked again when it is back.
      this.#wanted = [];
    } finally {
      this.#asking = false;
    }
    const wanted = new Set(this.#wanted.map(({ key }) => key));
    this.#stop((key) => !wanted.has(key));
    for (const key of this.#failed.keys()) if (!wanted.has(key)) this.#failed.delete(key);
    this.#pump();
  }

  #pump() {
    const { signal } = this.options;
    if (signal.aborted) return;
    const now = performance.now();
    const ready = new Set(this.#ready.map(({ tile }) => tile.key));
    const open = this.#wanted.filter(({ key }) => !this.#under_way.has(key) && !ready.has(key) && !this.#no_room.has(key));
    const due = open.filter(({ key }) => (this.#failed.get(key)?.again_ms ?? 0) <= now);
    for (const tile of due) {
      if (this.#under_way.size >= AT_ONCE) break;
      void this.#bring(tile);
    }
    this.#retryLater(open, now);
    this.#tell();
  }

  /** @param {Tile[]} open @param {number} now */
  #retryLater(open, now) {
    clearTimeout(this.#timer);
    const times = open.map(({ key }) => this.#failed.get(key)?.again_ms ?? 0).filter((time) => time > now);
    if (times.length > 0) this.#timer = window.setTimeout(() => this.#pump(), Math.min(...times) - now);
  }

  #tell() {
    const loading = this.#wanted.filter(({ key }) => !this.#failed.has(key) && !this.#no_room.has(key)).length;
    this.options.told({ loading, missing: this.#failed.size });
    if (loading === 0 && !this.#asking && this.#ready.length === 0) this.#waiting.splice(0).forEach((resolve) => resolve());
  }

  /** @param {Tile} tile */
  async #bring(tile) {
    const controller = new AbortController();
    this.#under_way.set(tile.key, controller);
    try {
      const brought = await this.#fetched(tile, AbortSignal.any([controller.signal, this.options.signal]));
      if (controller.signal.aborted) return void brought.picture?.close();
      this.#failed.delete(tile.key);
      this.#ready.push(brought);
      this.#giveSoon();
    } catch (error) {
      if (controller.signal.aborted || isAbort(error)) return;
      const times = (this.#failed.get(tile.key)?.times ?? 0) + 1;
      this.#failed.set(tile.key, { times, again_ms: performance.now() + Math.min(LONGEST_RETRY_MS, RETRY_MS * 2 ** (times - 1)) });
    } finally {
      if (this.#under_way.get(tile.key) === controller) this.#under_way.delete(tile.key);
      this.#pump();
    }
  }

  /** @param {Tile} tile @param {AbortSignal} signal @returns {Promise<Brought>} */
  async #fetched(tile, signal) {
    const image = this.images.get(tile.image);
    const list = image && await this.#listOf(image);
    if (!image || !list) throw new Error("there is no list of these tiles");
    const name = list.names.slice(tile.number * NAME_DIGITS, (tile.number + 1) * NAME_DIGITS);
    const file = `${list.folder}${name.slice(0, 2)}/${name}.${list.ending}`;
    const bytes = await this.options.source.read(file, { signal });
    if (!await isNamed(bytes, name)) throw new Error(`${file} is not what it was when it was made`);
    if (!image.colour) return { tile, grey: await this.options.porter.grey(bytes) };
    const { image: picture } = await decodeImage(bytes, { file, largest_px: Infinity });
    return { tile, picture };
  }

  /** @param {TiledImage} image @returns {Promise<TileList | null>} */
  #listOf({ id, index }) {
    const known = this.#lists.get(id);
    if (known) return known;
    const reading = this.options.source.read(index, { signal: this.options.signal }).then((bytes) => {
      const list = /** @type {{ending: string, levels: LevelList[]}} */ (JSON.parse(new TextDecoder().decode(bytes)));
      return { folder: index.slice(0, index.lastIndexOf("/") + 1), ending: list.ending, names: list.levels.map(({ names }) => names).join("") };
    }).catch(() => {
      // Asked for again with the next tile.
      this.#lists.delete(id);
      return null;
    });
    this.#lists.set(id, reading);
    return reading;
  }

  #giveSoon() {
    if (this.#giving !== 0) return;
    this.#giving = requestAnimationFrame(() => {
      this.#giving = 0;
      const until = performance.now() + GIVING_MS;
      let given = 0;
      while (this.#ready.length > 0 && (given === 0 || performance.now() < until)) {
        this.#give(/** @type {Brought} */ (this.#ready.shift()));
        given += 1;
      }
      if (this.#ready.length > 0) this.#giveSoon();
      this.options.changed();
      this.#tell();
    });
  }

  /** @param {Brought} brought */
  #give({ tile, picture, grey }) {
    const { handle } = this.options;
    try {
      const kept = picture ? handle.supply_tile(tile.image, tile.number, picture)
        : !grey || handle.supply_tile_values(tile.image, tile.number, grey.width, grey.height, grey.full_scale, grey.texels);
      if (!kept) this.#no_room.add(tile.key);
    } catch {
      this.#failed.set(tile.key, { times: 1, again_ms: performance.now() + LONGEST_RETRY_MS });
    } finally {
      if (picture) this.#given.push(picture);
    }
    this.#wanted = this.#wanted.filter(({ key }) => key !== tile.key);
  }
}

/** The lower rank first, and in a rank what is wanted most. @param {Uint32Array} found image, number, rank and weight in turns @returns {Tile[]} */
function inOrder(found) {
  return Array.from({ length: found.length / 4 }, (_, i) => Array.from(found.subarray(4 * i, 4 * i + 4)))
    .sort(([, , rank_a = 0, weight_a = 0], [, , rank_b = 0, weight_b = 0]) => rank_a - rank_b || weight_b - weight_a)
    .map(([image = 0, number = 0]) => tileOf(image, number));
}

/** @param {number} image @param {number} number @returns {Tile} */
function tileOf(image, number) {
  return { image, number, key: `${image} ${number}` };
}

/** Whether bytes are those that the name is made of; pages without a secure origin cannot tell and trust them. @param {Uint8Array} bytes @param {string} name */
async function isNamed(bytes, name) {
  if (!globalThis.crypto?.subtle) return true;
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", /** @type {BufferSource} */ (bytes)));
  const digits = Array.from(hash.subarray(0, NAME_DIGITS / 2), (byte) => byte.toString(16).padStart(2, "0")).join("");
  return digits === name;
}
