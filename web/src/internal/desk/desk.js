// @ts-check
/**
 * The desk: examines, compares and edits a dossier in a worker, so that the page never waits. Fetched
 * when somebody first needs it. Calls are answered in the order in which they are made; what is refused
 * is an Error with a sentence for people, and has changed nothing.
 */
import { Remote } from "../remote.js";

/** @typedef {import("./types.d.ts").Step} Step */
/** @typedef {import("./types.d.ts").Outcome} Outcome */
/** @typedef {import("./types.d.ts").Drawing} Drawing */
/** @typedef {import("../source.js").Source} Source */

/**
 * @typedef {object} DeskOptions
 * @property {URL} base folder of the viewer's own files
 * @property {Source} source the dossier's files
 * @property {Uint8Array} documentBytes `dossier.json` as it was opened
 * @property {AbortSignal} [signal] closes the desk
 */

export class Desk extends Remote {
  /** Told of everything that changed, whoever asked for it. @type {((outcome: Outcome) => void) | null} */
  onoutcome = null;

  /** @param {DeskOptions} options @returns {Promise<Desk>} */
  static async open(options) {
    const desk = new Desk(options);
    try {
      await desk.call("open", { document: options.documentBytes });
    } catch (error) {
      desk.close();
      throw error;
    }
    return desk;
  }

  /** @param {DeskOptions} options */
  constructor({ base, source, signal }) {
    super({ worker: new URL("internal/desk/worker.js", base), name: "desk", source, signal });
  }

  /** @returns {Promise<import("../../types.d.ts").DossierDocument>} */
  async document() {
    return JSON.parse(await this.call("document"));
  }

  /** Changes the document, all of the steps or none. @param {Step[]} steps @param {string} label names it for undo @returns {Promise<Outcome>} */
  apply(steps, label) { return this.#change("apply", { steps, label }); }
  /** @returns {Promise<Outcome>} */
  undo() { return this.#change("undo"); }
  /** @returns {Promise<Outcome>} */
  redo() { return this.#change("redo"); }

  /** One operation on the region maps. @template {keyof Drawing} K @param {K} operation @param {Drawing[K]} values @returns {Promise<Outcome>} */
  draw(operation, values) { return this.#change(operation, values); }

  /** Measures on the surface. @param {import("./types.d.ts").Measuring} values @returns {Promise<import("./types.d.ts").Measured>} */
  async measure(values) { return JSON.parse(await this.call("measure", values)); }
  /** CIEDE2000 of pairs of CIELAB colours. @param {number[]} pairs six numbers a pair @returns {Promise<Float64Array>} */
  differences(pairs) { return this.call("differences", { pairs }); }

  /** @returns {Promise<import("./types.d.ts").Areas>} */
  async areas() { return JSON.parse(await this.call("areas")); }
  /** Where a region lies and how it faces; null where nothing has its number. @param {number} number @returns {Promise<{middle_m: [number, number, number], radius_m: number, azimuth_deg: number | null, elevation_deg: number | null} | null>} */
  async spot(number) { return JSON.parse(await this.call("spot", { number })); }
  /** What `ganosis audit --json` prints, without the path. @returns {Promise<any>} */
  async audit() { return JSON.parse(await this.call("audit")); }
  /** Where two states part. @param {string} left @param {string} right @returns {Promise<any[]>} */
  async compare(left, right) { return JSON.parse(await this.call("compare", { left, right })); }
  /** What the elements of an observation are consistent with. @param {string} evidence id @returns {Promise<any>} null: they tell of nothing */
  async hints(evidence) { return JSON.parse(await this.call("hints", { evidence })); }
  /** Pins and observations as Web Annotations, JSON-LD. @returns {Promise<any>} */
  async annotations() { return JSON.parse(await this.call("annotations")); }
  /** @param {string} text JSON-LD @param {string} [label] @returns {Promise<Outcome & {report: any}>} */
  async merge_annotations(text, label) {
    const { outcome, report } = await this.call("merge_annotations", { text, label });
    return { ...this.#took(outcome), report: JSON.parse(report) };
  }

  /**
   * Smoothed normals and what the object hides of the sky, three numbers a vertex; other calls are answered in between.
   * @param {(share: number) => void} progress @param {AbortSignal} signal @returns {Promise<Int16Array>}
   */
  async relief(progress, signal) {
    for (let share = 0; share < 1;) {
      signal.throwIfAborted();
      share = await this.call("relief_step");
      progress(share);
    }
    return this.call("relief");
  }

  /** Every file that the dossier names. @returns {Promise<string[]>} */
  async files() { return JSON.parse(await this.call("files")); }
  /** @returns {Promise<import("./types.d.ts").ToSave>} */
  to_save() { return this.call("to_save"); }
  /** A map had to be named otherwise. @param {string} sheet @param {string} path @returns {Promise<string>} the text to save */
  renamed(sheet, path) { return this.call("renamed", { sheet, path }); }
  /** What `to_save` gave now stands as this revision. @param {number} mark @param {number} revision @returns {Promise<Outcome>} */
  keep(mark, revision) { return this.#change("keep", { mark, revision }); }

  /** The surface as a USDZ package, looking as a document of its own says. @param {object} document @param {{file: string, bytes: Uint8Array}[]} pictures that it names @returns {Promise<Uint8Array<ArrayBuffer>>} */
  package(document, pictures) { return this.call("package", { document, pictures }, pictures.map(({ bytes }) => bytes.buffer)); }

  /** All that differs from what was opened. @returns {Promise<import("./types.d.ts").DeskDraft>} */
  draft() { return this.call("draft"); }
  /** Takes a draft up, as one step. @param {{text: string, maps: {sheet: string, bytes: Uint8Array}[]}} draft @param {string} [label] @returns {Promise<Outcome>} */
  restore({ text, maps }, label) { return this.#change("restore", { text, maps, label }); }

  /** @param {string} method @param {object} [values] @returns {Promise<Outcome>} */
  async #change(method, values) {
    return this.#took(await this.call(method, values));
  }

  /** @param {Omit<Outcome, "document">} raw @returns {Outcome} */
  #took(raw) {
    /** @type {Outcome} */
    const outcome = { ...raw, document: raw.text === null ? null : JSON.parse(raw.text) };
    this.onoutcome?.(outcome);
    return outcome;
  }
}
