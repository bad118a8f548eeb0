// @ts-check
/** The mode of editing: a sitting with its bar, and the keys for undo and redo. */
import { html } from "./dom.js";
import { sentenceOf } from "./errors.js";
import { bar } from "./panels/editing/bar.js";
import { movePins } from "./panels/editing/movepins.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("./desk/session.js").EditSession} EditSession */

export class Editing {
  /** @type {EditSession | null} */
  session = null;
  /** @type {ReturnType<typeof bar> | null} */
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
      const session = await this.options.begin();
      // Pressed again before it began.
      if (this.session) return;
      this.session = session;
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
    this.#bar = ctx && this.session ? bar(ctx) : null;
    this.element.replaceChildren(...(this.#bar ? [this.#bar.element] : []));
    if (ctx) ctx.stage.pins.pressed = this.session ? movePins(ctx, (words) => this.#bar?.tell(words)) : null;
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
