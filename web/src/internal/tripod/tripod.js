// @ts-check
/** The tripod: finds in a worker where a photograph was taken from. Fetched when somebody first places one. */
import { Remote } from "../remote.js";
import { BASE } from "../site/base.js";

/** @typedef {import("./types.d.ts").Pair} Pair */
/** @typedef {import("./types.d.ts").Lens} Lens */
/** @typedef {import("./types.d.ts").PosedPhoto} PosedPhoto */

export class Tripod extends Remote {
  /** @param {{source: import("../source.js").Source, surface: string, signal: AbortSignal}} options `surface`: path of its file @returns {Promise<Tripod>} */
  static async open({ source, surface, signal }) {
    const tripod = new Tripod({ worker: new URL("internal/tripod/worker.js", BASE), name: "tripod", source, signal });
    try {
      await tripod.call("open", { surface });
    } catch (error) {
      tripod.close();
      throw error;
    }
    return tripod;
  }

  /** @returns {Promise<import("./types.d.ts").Geometry>} */
  geometry() { return this.call("geometry"); }
  /** Takes a photograph in hand. @param {Uint8Array} bytes given away @param {string} name @param {number} largest_px of what is shown @returns {Promise<import("./types.d.ts").Shown>} */
  take(bytes, name, largest_px) { return this.call("take", { bytes, name, largest_px }, [bytes.buffer]); }
  /** @param {{pairs: Pair[], lens: Lens | null}} asked @returns {Promise<import("./types.d.ts").Answer>} */
  async solve(asked) { return JSON.parse(await this.call("solve", asked)); }
  /**
   * Brings a pose into agreement with a layer.
   * @param {{posed: PosedPhoto, files: Record<string, string>, without: string[]}} asked `files`: paths of the layer's images by the names of sheets of the mesh; `without`: nodes that are not there
   * @returns {Promise<import("./types.d.ts").Agreed>}
   */
  async agree(asked) { return JSON.parse(await this.call("agree", asked)); }
  /** What a file of points, poses or a lens tells of the photograph of this name. @param {string} text @param {string} file @param {string} photo @returns {Promise<import("./types.d.ts").Told>} */
  async read(text, file, photo) { return JSON.parse(await this.call("read", { text, file, photo })); }
  /** @param {PosedPhoto} posed @returns {Promise<import("./types.d.ts").Frame>} */
  async frame(posed) { return JSON.parse(await this.call("frame", { posed })); }
  /** The table as `ganosis pose` reads it. @param {Pair[]} pairs @returns {Promise<string>} */
  points(pairs) { return this.call("points", { pairs }); }
  /** The file as `ganosis pose` writes it. @param {PosedPhoto} posed @param {{file: string, sha256: string}[]} surface records of its files @returns {Promise<string>} */
  poses(posed, surface) { return this.call("poses", { posed, surface }); }
}

/** One for each picture. @type {WeakMap<object, Promise<Tripod>>} */
const tripods = new WeakMap();

/** @param {import("../context.js").Context} ctx @returns {Promise<Tripod>} */
export function tripodOf({ stage, source, dossier, signal }) {
  const known = tripods.get(stage);
  if (known) return known;
  const tripod = Tripod.open({ source, surface: dossier.document.surface?.file || source.name, signal });
  tripod.catch(() => { tripods.delete(stage); });
  tripods.set(stage, tripod);
  return tripod;
}
