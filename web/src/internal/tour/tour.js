// @ts-check
/** Views in their order: who shows them goes on to the next without the list, by a press or a presenter's keys. */
import { html } from "./dom.js";
import { icon } from "./icons.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").View} View */
/** @typedef {{title: string, view: Partial<View>}} Stop */

/** Keys of a presenter's remote control, as makers of such have them. @type {Record<string, -1 | 1>} */
const KEYS = { PageUp: -1, PageDown: 1 };
/** What does something else with these keys. */
const TAKES_KEYS = "input, select, textarea, [role=\"slider\"], [role=\"listbox\"], [data-scrolls]";

export class Tour {
  /** @type {Stop[]} */
  #stops = [];
  #at = -1;

  /** @param {() => Context | null} context */
  constructor(context) {
    this.context = context;
    const step = (/** @type {-1 | 1} */ by, /** @type {string} */ picture) => html("button", { class: `quiet ${picture}`, type: "button", onclick: () => this.step(by) }, icon("back"));
    this.before = step(-1, "before");
    this.next = step(1, "next");
    this.told = html("span", { role: "status" });
    this.element = html("div", { class: "tour", role: "group", hidden: true }, this.before, this.told, this.next);
  }

  /** @param {Stop[]} stops @param {number} at @param {boolean} [focus] whether what opens takes the focus */
  go(stops, at, focus = true) {
    const stop = stops[at];
    const ctx = this.context();
    if (!stop || !ctx) return;
    this.#stops = stops;
    this.#at = at;
    ctx.visit(stop.view, focus);
    this.name();
  }

  /** @param {-1 | 1} by */
  step(by) {
    // The focus stays, so that the next press goes on.
    this.go(this.#stops, this.#at + by, false);
  }

  get begun() {
    return this.#at >= 0;
  }

  /** In words, after the language changed too. */
  name() {
    const ctx = this.context();
    const stop = this.#stops[this.#at];
    this.element.hidden = !stop || this.#stops.length < 2;
    if (!ctx || !stop) return;
    const { t, language } = ctx;
    this.element.setAttribute("aria-label", t("list.views"));
    this.before.setAttribute("aria-label", t("tour.before"));
    this.next.setAttribute("aria-label", t("tour.next"));
    // Not disabled: the focus would be lost at the ends.
    this.before.setAttribute("aria-disabled", String(this.#at === 0));
    this.next.setAttribute("aria-disabled", String(this.#at === this.#stops.length - 1));
    const [number, count] = [this.#at + 1, this.#stops.length].map((one) => one.toLocaleString(language));
    this.told.replaceChildren(html("span", { "aria-hidden": "true" }, `${number} / ${count}`), html("span", { class: "unseen" }, t("tour.at", { number: number ?? "", count: count ?? "", title: stop.title })));
  }

  /** Keys that nothing else took; the first begins with the dossier's own views. @param {KeyboardEvent} event */
  key(event) {
    const by = KEYS[event.key];
    const ctx = this.context();
    if (!by || !ctx || event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
    if (/** @type {Element} */ (event.target).closest(TAKES_KEYS)) return;
    if (this.#stops.length === 0) this.#stops = (ctx.dossier.document.views ?? []).map(({ title, view }) => ({ title: ctx.text(title), view }));
    if (this.#stops.length === 0) return;
    event.preventDefault();
    this.step(by);
  }
}
