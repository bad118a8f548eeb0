// @ts-check
/** What went wrong so far, at the foot of the picture, or over it when nothing can be shown. */
import { html } from "./dom.js";
import { errorPage, notice, troubleInWords } from "./panels/status.js";

/** @typedef {import("./errors.js").Trouble} Trouble */

export class Troubles {
  /** @type {Trouble[]} */
  #open = [];
  /** @type {Trouble[]} */
  #dismissed = [];
  #shown = "";
  #said = html("div", { class: "said" });
  /** The foot of the picture, where the scale bar stands too. */
  foot = html("div", { class: "stage-foot" }, this.#said);

  /**
   * @param {object} options
   * @param {import("./words.js").Words} options.words
   * @param {HTMLElement} options.over lies over the picture
   * @param {(message: string, file: string) => void} options.told
   * @param {() => void} options.retry tries again what was given up
   * @param {() => void} options.again opens everything from the start
   */
  constructor(options) {
    this.options = options;
  }

  get last() {
    return this.#open.at(-1);
  }

  /** Nothing can be shown. @param {Trouble} trouble @returns {Error} for whoever waits */
  fail(trouble) {
    const { words, over, again } = this.options;
    over.replaceChildren(errorPage(words.t, trouble, again));
    this.#tell(trouble);
    return new Error(`${troubleInWords(words.t, trouble).what} ${trouble.file} ${trouble.detail}`.trim());
  }

  /** Something is missing, but the rest works. @param {Trouble} trouble */
  note(trouble) {
    const known = this.#open.some(({ key, file, detail }) => key === trouble.key && file === trouble.file && detail === trouble.detail);
    if (known) return;
    this.#open.push(trouble);
    this.#tell(trouble);
  }

  /** @param {import("../types.d.ts").Problem[]} problems that the viewer knows of */
  take(problems) {
    const known = new Set(this.#open.map(({ file }) => file));
    const told = [...this.#open, ...this.#dismissed];
    for (const { file, message } of problems) {
      if (known.has(file) || told.some((one) => one.file === file && (one.detail === message || one.key !== "problem"))) continue;
      this.#open.push({ key: "problem", file, detail: message });
    }
  }

  /** @param {string | null} stamp message that says why the colours are not as measured */
  show(stamp) {
    const { t, language } = this.options.words;
    const now = JSON.stringify([this.#open, stamp, language]);
    if (now === this.#shown) return;
    this.#shown = now;
    const list = notice(t, this.#open, () => {
      // The viewer goes on listing what once failed; told anew is what fails again.
      this.#dismissed.push(...this.#open.splice(0));
      this.show(stamp);
      this.options.retry();
    }, () => {
      this.#dismissed.push(...this.#open.splice(0));
      this.show(stamp);
    });
    this.#said.replaceChildren(...(stamp ? [html("p", { class: "stamp" }, t(stamp))] : []), ...(list ? [list] : []));
  }

  /** @param {Trouble} trouble */
  #tell(trouble) {
    const { what } = troubleInWords(this.options.words.t, trouble);
    this.options.told([what, trouble.detail].filter(Boolean).join(" "), trouble.file);
  }
}
