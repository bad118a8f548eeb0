// @ts-check
/**
 * A sitting of editing: what panels talk to. Keeps desk, picture, draft and server in step.
 *
 * Steps change the document, drawing changes the region maps, and both can be taken back without limit.
 * Nothing leaves this browser before `save` (or `download`, where no server takes changes).
 */
import { handOut } from "../handing.js";
import { shownIn } from "../looks.js";
import { LIMITS } from "../zip.js";
import { attachmentFolder, freshId, numbered, plainName, replacing } from "./naming.js";
import { zipped } from "./packing.js";
import { SaveRefused } from "./saving.js";

/** @typedef {import("./types.d.ts").Step} Step */
/** @typedef {import("./types.d.ts").Outcome} Outcome */
/** @typedef {import("./types.d.ts").Drawing} Drawing */
/** @typedef {import("./draft.js").Draft} Draft */
/** @typedef {import("../../types.d.ts").DossierDocument} DossierDocument */

/** A draft is written when nothing has changed for so long. */
const DRAFT_AFTER_MS = 500;

/**
 * What shows the changes; a part of the viewer's handle.
 * @typedef {Pick<import("../../types.d.ts").ViewerHandle, "replace_document" | "ensure_labels" | "patch_labels"> & {view?: () => import("../../types.d.ts").View | null}} Shown
 */

/**
 * @typedef {object} SessionOptions
 * @property {import("./desk.js").Desk} desk
 * @property {import("../source.js").Source} source
 * @property {DossierDocument} document
 * @property {Shown} shown
 * @property {import("./saving.js").Server | null} server
 * @property {import("./saving.js").About | null} about what the server said of editing
 * @property {import("./draft.js").Drafts} drafts
 * @property {AbortSignal} signal
 * @property {(error: unknown) => void} [troubled] what went wrong without anybody waiting for it
 * @property {() => void} [again] opens the dossier from the start
 */

export class EditSession {
  /** @type {DossierDocument} */
  document;
  /** What undo would take back. @type {string | null} */
  canUndo = null;
  /** What redo would do again. @type {string | null} */
  canRedo = null;
  /** Nothing differs from what was saved, or downloaded where that is how one saves. */
  saved = true;
  /** A save is under way. */
  saving = false;
  /** Revision that the document was made from. */
  revision;
  /** Where saving goes. @type {"server" | "zip"} */
  where;
  /** Why it does not go to the server, in a sentence, or null. @type {string | null} */
  why;
  /** Somebody else has saved meanwhile: nothing of mine goes to the server any more. @type {{revision: number | null} | null} */
  conflict = null;
  /** Left by a tab that was closed; `outdated` where the dossier has been saved since. @type {{when: Date, revision: number, outdated: boolean} | null} */
  draft = null;
  /** Whether this browser keeps drafts. */
  keeps_drafts = true;

  /** @type {Set<() => void>} */
  #listeners = new Set();
  /** Laid beside the dossier and not at the server yet. @type {Map<string, Uint8Array>} */
  #files = new Map();
  /** @type {Draft | null} */
  #left = null;
  #draft_timer = 0;
  /** @type {Promise<void>} */
  #draft_written = Promise.resolve();
  /** @type {Promise<void> | null} */
  #closing = null;
  #before_unload = (/** @type {BeforeUnloadEvent} */ event) => { if (!this.saved) event.preventDefault(); };

  /** @param {SessionOptions} options @returns {Promise<EditSession>} */
  static async begin(options) {
    const session = new EditSession(options);
    await session.#look();
    return session;
  }

  /** @param {SessionOptions} options */
  constructor(options) {
    this.options = options;
    this.desk = options.desk;
    this.document = options.document;
    this.revision = options.document.revision ?? 0;
    const { about } = options;
    const writes = about?.editable === true && (!about.token_needed || about.token_accepted === true);
    this.where = writes && options.server ? "server" : "zip";
    this.why = writes ? null : about?.why ?? null;
    this.desk.onoutcome = (outcome) => this.#took(outcome);
    globalThis.window?.addEventListener("beforeunload", this.#before_unload);
    options.signal.addEventListener("abort", () => void this.close(), { once: true });
  }

  /** Of a file laid beside the dossier: what the server takes, else what can be read back from a zip. */
  get largest_file_bytes() {
    return this.options.about?.largest_file_bytes ?? LIMITS.entry_bytes;
  }

  /** Ends the sitting; the draft stays. @returns {Promise<void>} once it is written, however often this is asked */
  close() {
    this.#closing ??= this.#close();
    return this.#closing;
  }

  async #close() {
    this.desk.onoutcome = null;
    globalThis.window?.removeEventListener("beforeunload", this.#before_unload);
    if (this.#draft_timer) this.#write_draft();
    await this.#draft_written;
    await this.options.drafts.close();
  }

  /** @param {() => void} listen @returns {() => void} ends it */
  onchange(listen) {
    this.#listeners.add(listen);
    return () => void this.#listeners.delete(listen);
  }

  /** @param {Step[]} steps @param {string} label names them for undo */
  apply(steps, label) { return this.desk.apply(steps, label); }
  undo() { return this.desk.undo(); }
  redo() { return this.desk.redo(); }
  /** One operation on the region maps. Parts that nothing seen shows take no paint; a band, which is told too, shows none. @template {keyof Drawing} K @param {K} operation @param {Drawing[K]} values */
  draw(operation, values) {
    const view = this.options.shown.view?.();
    return this.desk.draw(operation, { states: view ? shownIn(view) : [], ...values });
  }

  /** @param {string} kind such as `claim` @param {string} [like] how ids of this sort begin, such as `xrf` */
  freshId(kind, like) { return freshId(this.document, kind, like); }

  /**
   * Lays a file beside the dossier; it goes to the server with the next save.
   * @param {File} file @returns {Promise<string>} the path that names it
   */
  async attach(file) {
    const { about, server, source } = this.options;
    const name = plainName(file.name);
    const ending = /\.([^.]+)$/.exec(name)?.[1] ?? "";
    if (this.where === "server" && about?.file_types && !about.file_types.includes(ending)) {
      throw new SaveRefused(`${file.name}: files of this kind are not taken. Use one of ${about.file_types.join(", ")}.`, { status: 415 });
    }
    if (file.size > this.largest_file_bytes) {
      throw new SaveRefused(`${file.name}: it is larger than ${Math.floor(this.largest_file_bytes / 2 ** 20)} MiB. Make it smaller.`, { status: 413 });
    }
    const bytes = new Uint8Array(await file.arrayBuffer());
    const wished = attachmentFolder(this.document) + name;
    const known = new Set([...(source.list() ?? []), ...(await this.desk.files()), ...this.#files.keys()]);
    let path = wished;
    for (let number = 2; known.has(path) || (this.where === "server" && await server?.has(path)); number += 1) path = numbered(wished, number);
    this.#files.set(path, bytes);
    source.add(path, bytes);
    return path;
  }

  /** Writes everything: to the server, or into a zip where none takes changes. @returns {Promise<void>} */
  async save() {
    if (this.saving) return;
    this.saving = true;
    this.#tell();
    try {
      await (this.where === "zip" ? this.download() : this.#to_server());
    } catch (error) {
      if (error instanceof SaveRefused && error.conflict) this.conflict = { revision: error.revision };
      throw error;
    } finally {
      this.saving = false;
      this.#tell();
    }
  }

  /** The whole dossier as a zip, as it is now. @returns {Promise<void>} */
  async download() {
    const { source, signal } = this.options;
    const [files, ready] = [await this.desk.files(), await this.desk.to_save()];
    const { zip } = await zipped({ source, files, text: ready.text, maps: ready.maps, signal });
    handOut(zip, `${plainName(this.document.id || "dossier")}.zip`);
    // Beside a server it is a copy; elsewhere it is how one saves. The draft stays: the dossier online is as it was.
    if (this.where === "zip") await this.desk.keep(ready.mark, ready.revision);
  }

  /** After a conflict: opens the dossier as the other saved it. Mine stays as a draft. */
  async load_theirs() {
    await this.close();
    this.options.again?.();
  }

  /** Takes up the draft that was found. @param {string} [label] names it for undo @returns {Promise<void>} */
  async restore(label) {
    const left = this.#left;
    if (!left) return;
    for (const { path, bytes } of left.files) {
      this.#files.set(path, bytes);
      this.options.source.add(path, bytes);
    }
    await this.desk.restore(left, label);
    // What was made from an older revision must not pass for one made from this.
    this.revision = left.revision;
    await this.#write_draft();
    await this.discard(left.key);
  }

  /** Throws the draft away that was found. @param {string | undefined} [key] */
  async discard(key = this.#left?.key) {
    this.#left = null;
    this.draft = null;
    if (key) await this.options.drafts.forget(key);
    await this.#look();
    this.#tell();
  }

  async #look() {
    const [left] = await this.options.drafts.left().catch(() => []);
    this.#left = left ?? null;
    const now = this.options.document.revision ?? 0;
    this.draft = left ? { when: new Date(left.when), revision: left.revision, outdated: left.revision !== now } : null;
  }

  async #to_server() {
    const server = /** @type {import("./saving.js").Server} */ (this.options.server);
    // Asked first, so that a save that cannot be leaves no files behind.
    const about = await server.about();
    if (about?.editable && about.revision !== this.revision) {
      throw new SaveRefused(`The dossier was saved by somebody else meanwhile and is at revision ${about.revision}. Download yours, or load theirs.`, { status: 412, ...(about.revision !== undefined && { revision: about.revision }) });
    }
    for (const [path, bytes] of [...this.#files]) {
      const name = await server.put_file(path, bytes);
      if (name !== path) {
        this.options.source.add(name, bytes);
        await this.desk.apply(replacing(this.document, path, name), name);
      }
      this.#files.delete(path);
    }
    const ready = await this.desk.to_save();
    let { text } = ready;
    for (const { sheet, path, bytes } of ready.maps) {
      const name = await server.put_file(path, bytes);
      if (name !== path) text = await this.desk.renamed(sheet, name);
    }
    this.revision = await server.put_document(text, this.revision);
    await this.desk.keep(ready.mark, this.revision);
  }

  /** @param {Outcome} outcome */
  #took(outcome) {
    if (this.#closing) return;
    const { shown, troubled } = this.options;
    try {
      if (outcome.document && outcome.text !== null) {
        this.document = outcome.document;
        shown.replace_document(outcome.text);
      }
      for (const rect of outcome.rects) {
        shown.ensure_labels(rect.sheet, rect.map_width, rect.map_height);
        shown.patch_labels(rect.sheet, rect.x, rect.y, rect.width, rect.height, rect.texels);
      }
    } catch (error) {
      troubled?.(error);
    }
    this.canUndo = outcome.undo;
    this.canRedo = outcome.redo;
    this.saved = outcome.saved;
    clearTimeout(this.#draft_timer);
    this.#draft_timer = Number(setTimeout(() => this.#write_draft(), DRAFT_AFTER_MS));
    this.#tell();
  }

  /** One after the other, so that an older one never comes last. @returns {Promise<void>} */
  #write_draft() {
    clearTimeout(this.#draft_timer);
    this.#draft_timer = 0;
    const work = async () => {
      const { drafts } = this.options;
      if (this.saved && this.where === "server") return drafts.forget();
      const { text, maps } = await this.desk.draft();
      const files = [...this.#files].map(([path, bytes]) => ({ path, bytes }));
      this.keeps_drafts = await drafts.keep({ revision: this.revision, when: Date.now(), text, maps, files });
    };
    this.#draft_written = this.#draft_written.then(work).catch((error) => {
      this.keeps_drafts = false;
      this.options.troubled?.(error);
    });
    return this.#draft_written;
  }

  #tell() {
    for (const listen of this.#listeners) listen();
  }
}
