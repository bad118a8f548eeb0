// @ts-check
/** The wall beside the object: one page or card at a time. */
import { html } from "./dom.js";
import { icon } from "./icons.js";
import { label } from "./panels/label.js";
import { grounds } from "./panels/grounds.js";
import { layers } from "./panels/layers.js";
import { light } from "./panels/light.js";
import { portfolio } from "./panels/portfolio.js";
import { about } from "./panels/about.js";
import { lessonPage } from "./panels/lesson.js";
import { tour } from "./panels/tour.js";
import { measure } from "./panels/measure.js";
import { photographs } from "./panels/photographs.js";
import { audit } from "./panels/audit.js";
import { partings } from "./panels/partings.js";
import { card, notEditing } from "./panels/card.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("./context.js").Subject} Subject */
/** @typedef {import("./context.js").Panel} Panel */

/** @type {Record<string, (ctx: Context) => Panel>} */
const PAGES = {
  label, tour, grounds, audit, partings, layers, measure, photographs, light, portfolio, about, lesson: lessonPage,
  workbench: (ctx) => ctx.editors?.workbench(ctx) ?? notEditing(ctx),
  drawing: (ctx) => ctx.editors?.drawing(ctx) ?? notEditing(ctx),
};

export class Wall {
  /** What is open: a page's name, or "card". @type {string | null} */
  page = null;
  /** What had the focus before. @type {HTMLElement | null} */
  cameFrom = null;
  /** @type {Context | null} */
  #context = null;
  /** @type {Subject | null} */
  #subject = null;
  /** @type {Panel | null} */
  #panel = null;
  #pair = "";
  /** Name of the form that is open. @type {string | null} */
  #kept = null;
  /** Forms that somebody left in the middle, by what they are about. @type {Map<string, Panel>} */
  #begun = new Map();
  /** Page from which the card was opened. */
  #before = "label";

  /** @param {() => void} close @param {HTMLElement} tour the way through the views */
  constructor(close, tour) {
    this.back = html("button", { class: "quiet back", type: "button", hidden: true, onclick: () => this.#context?.turnTo(this.#before) }, icon("back"), html("span", {}));
    this.closer = html("button", { class: "quiet close", type: "button", onclick: close }, icon("close"));
    this.content = html("div", { class: "content", tabindex: 0, "data-scrolls": true });
    this.element = html("aside", { class: "wall", part: "wall", hidden: true }, html("div", { class: "head" }, this.back, tour, this.closer), this.content);
  }

  /** @param {Context} ctx */
  attach(ctx) {
    this.#context = ctx;
    this.element.setAttribute("aria-label", ctx.t("wall"));
    this.content.setAttribute("role", "region");
    this.content.setAttribute("aria-label", ctx.t("wall.text"));
    this.closer.setAttribute("aria-label", ctx.t("wall.close"));
    this.#fill();
  }

  /** @param {Subject} subject @param {boolean} focus */
  show(subject, focus) {
    this.#remember();
    if (this.page !== "card") this.#before = this.page ?? (this.#context?.session ? "workbench" : "label");
    this.page = "card";
    this.#subject = subject;
    this.#fill();
    if (focus) this.#focusTitle();
  }

  /** Page from which the card was opened. */
  get before() {
    return this.#before;
  }

  /** @param {string | null} page @param {boolean} [focus] */
  turnTo(page, focus = true) {
    if (page !== null) this.#remember();
    this.page = page;
    this.#subject = null;
    this.#fill();
    if (page !== null && focus) this.#focusTitle();
  }

  /** @param {import("../types.d.ts").View} view */
  update(view) {
    const pair = `${view.left}\n${view.right}`;
    if (this.page === "card" && this.#subject?.kind === "region" && pair !== this.#pair) this.#fill();
    this.#panel?.update?.(view);
  }

  #fill() {
    const ctx = this.#context;
    this.element.hidden = this.page === null;
    this.back.hidden = this.page !== "card";
    const words = this.back.querySelector("span");
    if (words && ctx) words.textContent = ctx.t("wall.back_to", { page: ctx.t(`page.${this.#before}`) });
    this.#leave();
    if (!ctx || this.page === null) {
      this.content.replaceChildren();
      this.#panel = null;
      return;
    }
    const view = ctx.view();
    this.#pair = `${view.left}\n${view.right}`;
    this.#panel = this.page === "card" ? (this.#subject && (this.#takeUp(this.#subject) ?? card(ctx, this.#subject))) : PAGES[this.page]?.(ctx) ?? null;
    if (this.#panel) this.content.replaceChildren(this.#panel.element);
    this.content.scrollTop = 0;
    this.#panel?.update?.(view);
  }

  /** Nothing that somebody began stays. */
  forget() {
    this.#begun.clear();
    this.#kept = null;
    this.cameFrom = null;
  }

  /** Whether a click beside the form would lose what is being written. */
  get writing() {
    return this.#panel?.begun?.() ?? false;
  }

  #leave() {
    const panel = this.#panel;
    panel?.leave?.();
    if (panel?.begun?.() && this.#kept) this.#begun.set(this.#kept, panel);
    this.#kept = this.page === "card" && this.#subject ? nameOf(this.#subject) : null;
  }

  /** A form that was left in the middle. @param {Subject} subject */
  #takeUp(subject) {
    const name = nameOf(subject);
    const panel = name ? this.#begun.get(name) : undefined;
    if (name) this.#begun.delete(name);
    return panel;
  }

  /** The document has changed: what is open is made anew, where it was. A form that is being filled in stays. */
  refill() {
    if (this.page === null || (this.page === "card" && this.#subject?.kind === "form") || this.#panel?.keeps) {
      this.#panel?.changed?.();
      return;
    }
    const { scrollTop } = this.content;
    const root = /** @type {ShadowRoot | Document} */ (this.content.getRootNode());
    const focused = this.content.contains(root.activeElement);
    this.#fill();
    // What had the focus is gone: keys must not fall beside the page.
    if (focused) this.#focusTitle();
    this.content.scrollTop = scrollTop;
  }

  #focusTitle() {
    /** @type {HTMLElement | null} */ (this.content.querySelector("h2"))?.focus({ preventScroll: true });
  }

  #remember() {
    const root = this.element.getRootNode();
    const active = root instanceof ShadowRoot ? root.activeElement : null;
    if (active instanceof HTMLElement && !this.element.contains(active)) this.cameFrom = active;
  }
}

/** @param {Subject} subject @returns {string | null} null: nothing that is written in */
function nameOf(subject) {
  return subject.kind === "form" ? `${subject.form} ${subject.id ?? ""}` : null;
}
