// @ts-check
/** The way to the desk: the worker that examines, compares and edits. It and what edits are fetched when first needed. */
import { Server, tokenFor } from "./desk/saving.js";

/** @typedef {import("./desk/desk.js").Desk} Desk */
/** @typedef {import("./desk/session.js").EditSession} EditSession */

export class Door {
  /** Whether editing is offered: the server takes changes, or the page asks for it. */
  offered = false;
  /** @type {Promise<Desk> | null} */
  #desk = null;
  /** @type {Promise<EditSession> | null} */
  #session = null;
  /** @type {Server | null} */
  #server = null;
  /** @type {import("./desk/saving.js").About | null} */
  #about = null;
  /** Settles once the server has said whether it takes changes. @type {Promise<void>} */
  #heard = Promise.resolve();

  /** @param {{base: URL, opened: import("./opening.js").Opened, signal: AbortSignal, troubled?: (error: unknown) => void, again?: () => void}} options */
  constructor(options) {
    this.options = options;
    const { name, folder } = options.opened.source;
    // A server takes changes only of pages that it gave itself.
    if (folder !== null && name === "dossier.json" && new URL(folder).origin === location.origin) this.#server = new Server(folder, { token: tokenFor(folder) });
  }

  /** A surface alone has nothing to examine or edit. */
  get has_dossier() {
    return !/\.(glb|gltf)$/i.test(this.options.opened.source.name);
  }

  /** @returns {Promise<Desk>} */
  desk() {
    if (!this.has_dossier) return Promise.reject(new Error("A 3D file alone holds no claims. Open the dossier that it belongs to."));
    return this.#open(() => this.options.opened.document);
  }

  /** The desk for measuring; a surface alone gets one over the document that the viewer made for it. @returns {Promise<Desk>} */
  measurer() {
    const { document, handle } = this.options.opened;
    return this.#open(() => (this.has_dossier ? document : new TextEncoder().encode(JSON.stringify(handle.document()))));
  }

  /** The one desk. It ends by `close`, which first has what is not saved written down. @param {() => Uint8Array} document @returns {Promise<Desk>} */
  #open(document) {
    if (this.#desk) return this.#desk;
    const { base, opened: { source } } = this.options;
    const documentBytes = document();
    const desk = import("./desk/desk.js").then((module) => module.Desk.open({ base, source, documentBytes }));
    desk.catch(() => { this.#desk = null; });
    this.#desk = desk;
    return desk;
  }

  /** Finds out whether editing is offered. @param {boolean | "never"} asked the page asks for it; never: not even the server is asked @returns {Promise<void>} */
  editable(asked) {
    if (!this.has_dossier || asked === "never") return Promise.resolve();
    this.offered = asked;
    this.#heard = (async () => {
      this.#about = await this.#server?.about(this.options.signal) ?? null;
      if (this.#about?.editable) this.offered = true;
    })();
    return this.#heard;
  }

  /** The sitting; what is not saved stays when it is left, and goes on when it is begun again. @returns {Promise<EditSession>} */
  begin() {
    if (this.#session) return this.#session;
    const session = this.#begin();
    session.catch(() => { this.#session = null; });
    this.#session = session;
    return session;
  }

  /** @returns {Promise<EditSession>} */
  async #begin() {
    const { opened: { source, handle }, signal, troubled, again } = this.options;
    const [desk, { EditSession }, { Drafts }] = await Promise.all([this.desk(), import("./desk/session.js"), import("./desk/draft.js"), this.#heard]);
    const document = await desk.document();
    return EditSession.begin({
      desk, source, document, shown: handle, server: this.#server, about: this.#about,
      drafts: new Drafts({ address: source.address, id: document.id ?? "" }), signal,
      ...(troubled && { troubled }), ...(again && { again }),
    });
  }

  /** Ends the desk, once what is not saved is written down as a draft. */
  async close() {
    await (await this.#session?.catch(() => null))?.close();
    void this.#desk?.then((desk) => desk.close(), () => {});
  }
}
