// @ts-check
/**
 * Views in their order. There is one walk at a time: by a press or a presenter's keys, or by itself while a
 * guide (the page of the tour, the tablet's round) has taken it; whoever takes it next goes on from there.
 */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { inShape } from "../whole.js";
import { Player } from "./player.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */
/** @typedef {import("../../types.d.ts").Text} Text */
/** @typedef {{title?: Text, text?: Text, view: Partial<View>}} Stop */
/**
 * @template {Stop} [T=Stop]
 * @typedef {object} Guide shows the stops in its own way
 * @property {() => readonly T[]} stops
 * @property {(stop: T) => Partial<View>} view what is seen at a stop
 * @property {() => void} changed
 * @property {(stop: T) => Promise<import("./player.js").Voice | null>} [voice] that is heard there
 * @property {boolean} [round] begins again after the last
 */

/** Keys of a presenter's remote control, as makers of such have them. @type {Record<string, -1 | 1>} */
const KEYS = { PageUp: -1, PageDown: 1 };
/** What does something else with these keys. */
const TAKES_KEYS = "input, select, textarea, [role=\"slider\"], [role=\"listbox\"], [data-scrolls]";

export class Tour {
  /** Whether narration is heard. */
  sound = true;
  /** Views that are not the dossier's own. @type {readonly Stop[] | null} */
  #stops = null;
  #begun = false;
  /** Whether what opens at a stop takes the focus. */
  #focus = true;
  /** @type {Guide | null} */
  #guide = null;

  /** @param {() => Context | null} context */
  constructor(context) {
    this.context = context;
    this.player = new Player({
      count: () => this.#all().length,
      visit: (at) => this.#visit(at),
      text: (at) => this.context()?.text(this.#all()[at]?.text) ?? "",
      voice: async (at) => {
        const stop = this.#all()[at];
        return stop ? await this.#guide?.voice?.(stop) ?? null : null;
      },
      changed: () => {
        this.name();
        this.#guide?.changed();
      },
      round: () => this.#guide?.round ?? false,
    });
    const step = (/** @type {-1 | 1} */ by, /** @type {string} */ picture) => html("button", { class: `quiet ${picture}`, type: "button", onclick: () => this.step(by) }, icon("back"));
    this.before = step(-1, "before");
    this.next = step(1, "next");
    this.told = html("span", { role: "status" });
    this.element = html("div", { class: "tour-steps", role: "group", hidden: true }, this.before, this.told, this.next);
  }

  /** @returns {readonly Stop[]} */
  #all() {
    return this.#guide?.stops() ?? this.#stops ?? this.context()?.dossier.document.views ?? [];
  }

  /** @param {number} at */
  #visit(at) {
    const ctx = this.context();
    const stop = this.#all()[at];
    if (!ctx || !stop) return;
    if (this.#guide) ctx.glide(inShape(this.#guide.view(stop), ctx.stage.aspect));
    else ctx.visit(stop.view, this.#focus);
  }

  /** To one of the dossier's own views, or of others. @param {readonly Stop[] | null} stops @param {number} at @param {boolean} [focus] whether what opens takes the focus */
  go(stops, at, focus = true) {
    this.#stops = stops;
    if (at < 0 || at >= this.#all().length) return;
    this.#begun = true;
    this.#focus = focus;
    this.player.go(at);
  }

  /** @param {-1 | 1} by */
  step(by) {
    // The focus stays, so that the next press goes on.
    this.go(this.#stops, this.#begun ? this.player.at + by : Math.min(0, by), false);
  }

  /** Whether somebody steps through views without a guide. */
  get begun() {
    return this.#begun && this.#guide === null;
  }

  /** From now on the stops are a guide's; where the walk was, it goes on. @template {Stop} T @param {Guide<T>} guide */
  take(guide) {
    this.player.close();
    // Of other views the walk was somewhere else.
    if (this.#stops) this.player.at = 0;
    this.#stops = null;
    this.#guide = /** @type {Guide} */ (/** @type {unknown} */ (guide));
    this.#begun = true;
    this.name();
  }

  /** It is nobody's any more, unless another has it. @param {Guide<any>} guide */
  release(guide) {
    if (this.#guide !== guide) return;
    this.player.close();
    this.#guide = null;
    this.name();
  }

  /** In words, after the language changed too. */
  name() {
    const ctx = this.context();
    const stops = this.#all();
    const stop = this.#begun && !this.#guide ? stops[this.player.at] : undefined;
    this.element.hidden = !stop || stops.length < 2;
    if (!ctx || !stop) return;
    const { t, language } = ctx;
    this.element.setAttribute("aria-label", t("list.views"));
    this.before.setAttribute("aria-label", t("tour.before"));
    this.next.setAttribute("aria-label", t("tour.next"));
    // Not disabled: the focus would be lost at the ends.
    this.before.setAttribute("aria-disabled", String(this.player.at === 0));
    this.next.setAttribute("aria-disabled", String(this.player.last));
    const [number = "", count = ""] = [this.player.at + 1, stops.length].map((one) => one.toLocaleString(language));
    this.told.replaceChildren(html("span", { "aria-hidden": "true" }, `${number} / ${count}`), html("span", { class: "unseen" }, t("tour.at", { number, count, title: ctx.text(stop.title) })));
  }

  /** Keys that nothing else took; the first begins with the dossier's own views. @param {KeyboardEvent} event */
  key(event) {
    const by = KEYS[event.key];
    if (!by || event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
    if (/** @type {Element} */ (event.target).closest(TAKES_KEYS)) return;
    if (this.#all().length === 0) return;
    event.preventDefault();
    this.step(by);
  }
}
