// @ts-check
/** The mode of editing: a sitting with its bar, and the keys for undo and redo. */
import { html } from "./dom.js";
import { sentenceOf } from "./errors.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("./desk/session.js").EditSession} EditSession */
/** @typedef {typeof import("./panels/editing/all.js")} Editors */

export class Editing {
  /** @type {EditSession | null} */
  session = null;
  /** Forms, tools and pages, once editing has begun. @type {Editors | null} */
  editors = null;
  /** @type {ReturnType<Editors["bar"]> | null} */
  #bar = null;
  #ends = () => {};
  element = html("div", { class: "edit-room" });

  /**
   * @param {object} options
   * @param {() => Context | null} options.context
   * @param {() => Promise<EditSession>} options.begin
   * @param {() => void} options.changed the document, or whether somebody edits
   */
  constructor(options) {
    this.options = options;
  }

  /** @param {boolean} on */
  async turn(on) {
    if (on === Boolean(this.session)) return;
    if (on) {
      const [session, editors] = await Promise.all([this.options.begin(), import("./panels/editing/all.js")]);
      // Pressed again before it began.
      if (this.session) return;
      this.session = session;
      this.editors = editors;
      this.#ends = session.onchange(() => {
        this.#bar?.update();
        this.options.changed();
      });
    } else {
      this.session = null;
      this.#ends();
    }
    this.label();
    this.options.changed();
  }

  /** Makes the bar anew, in the language spoken now. */
  label() {
    const ctx = this.options.context();
    const editors = this.session && this.editors;
    this.#bar = ctx && editors ? editors.bar(ctx) : null;
    this.element.replaceChildren(...(this.#bar ? [this.#bar.element] : []));
    if (ctx) ctx.stage.pins.pressed = editors ? editors.movePins(ctx, (words) => this.#bar?.tell(words)) : null;
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const { session } = this;
    if (!session || !(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    const target = /** @type {HTMLElement} */ (event.composedPath()[0]);
    // What is being written has an undo of its own.
    const writes = target.matches?.("textarea, select, input:not([type=checkbox], [type=radio], [type=range], [type=file])");
    if (key === "s") {
      event.preventDefault();
      void session.save().catch((error) => this.#bar?.tell(sentenceOf(error)));
    } else if (!writes && (key === "z" || key === "y")) {
      event.preventDefault();
      const redo = key === "y" || event.shiftKey;
      if (redo ? session.canRedo : session.canUndo) {
        void (redo ? session.redo() : session.undo()).catch((error) => this.#bar?.tell(sentenceOf(error)));
      }
    }
  }
}
