// @ts-check
/** The pins on the picture. Where they crowd, one mark stands for several and says how many. */
import { append, html, svg } from "./dom.js";
import { crowd, leadsOf } from "./crowd.js";
import { markOf } from "./lookup.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").View} View */
/** @typedef {import("./crowd.js").Group} Group */

/** Pins nearer to each other than this share of the camera's distance would not part by going nearer. */
const CLOSE = 0.004;
/** How much nearer at most one click on a crowd goes. */
const LEAST_STEP = 0.6;

export class Pins {
  element = html("div", { class: "pins" });
  /** @type {Context | null} */
  #context = null;
  /** Made when first shown. @type {Map<string, HTMLButtonElement>} */
  #buttons = new Map();
  /** @type {Map<string, number>} */
  #index = new Map();
  /** @type {Map<string, string>} */
  #leads = new Map();
  /** Marks in the other panes, by pane and lead: for the pointer only, since each is a second of its kind. @type {Map<string, HTMLButtonElement>} */
  #echoes = new Map();
  /** @type {Group[]} */
  #groups = [];
  /** While somebody edits: told that a pin was pressed, with its button. @type {((id: string, button: HTMLButtonElement, event: PointerEvent) => void) | null} */
  pressed = null;
  /** A pin under the hand, which no frame moves. @type {string | null} */
  held = null;

  /** @param {() => void} lost_focus a pin that had the focus has gone */
  constructor(lost_focus) {
    this.lost_focus = lost_focus;
  }

  /** @param {Context | null} ctx */
  attach(ctx) {
    this.#context = ctx;
    this.#buttons.clear();
    this.#echoes.clear();
    this.#groups = [];
    this.#index = new Map((ctx?.dossier.document.pins ?? []).map((pin, index) => [pin.id, index]));
    this.element.replaceChildren();
  }

  /** After the view changed. @param {View} view */
  refresh({ pin }) {
    for (const [id, button] of this.#buttons) button.setAttribute("aria-expanded", String(pin === id));
  }

  /** Moves the marks to where the frame just drawn has the pins. @param {View | null} view @param {import("./panes.js").Pane[]} panes */
  place(view, panes) {
    const ctx = this.#context;
    if (!ctx) return;
    this.#groups = crowd(ctx.handle.pins(), this.#leads, view?.pin ?? null);
    this.#leads = leadsOf(this.#groups);
    const shown = new Set(this.#groups.map(({ lead }) => lead));
    for (const [id, button] of this.#buttons) {
      if (button.hidden || shown.has(id)) continue;
      const leaves_focus = button.matches(":focus");
      button.hidden = true;
      if (leaves_focus) this.lost_focus();
    }
    for (const { lead, x, y, members } of this.#groups) {
      const button = this.#buttons.get(lead) ?? this.#make(ctx, lead);
      button.hidden = false;
      if (lead !== this.held) button.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
      if (Number(button.dataset["count"]) !== members.length) this.#count(ctx, button, lead, members.length);
    }
    this.#echo(ctx, view, panes);
  }

  /** The marks once more in every further pane, of the pins that belong to its state. @param {Context} ctx @param {View | null} view @param {import("./panes.js").Pane[]} panes */
  #echo(ctx, view, panes) {
    const states = view ? [view.left, view.right, view.third, view.fourth] : [];
    const wanted = new Set();
    panes.forEach(([left, top], pane) => {
      if (pane === 0) return;
      const belongs = (/** @type {string} */ id) => {
        const named = ctx.dossier.pins.get(id)?.states ?? [];
        return named.length === 0 || named.includes(states[pane] ?? "");
      };
      for (const { lead, x, y, members } of this.#groups) {
        const count = members.filter(belongs).length;
        if (count === 0) continue;
        const key = `${pane} ${lead}`;
        wanted.add(key);
        const echo = this.#echoes.get(key) ?? this.#makeEcho(ctx, key, lead);
        echo.style.transform = `translate(${(left + x).toFixed(1)}px, ${(top + y).toFixed(1)}px)`;
        if (Number(echo.dataset["count"]) !== count) this.#count(ctx, echo, lead, count);
      }
    });
    for (const [key, echo] of this.#echoes) {
      if (wanted.has(key)) continue;
      echo.remove();
      this.#echoes.delete(key);
    }
  }

  /** @param {Context} ctx @param {string} key @param {string} lead */
  #makeEcho(ctx, key, lead) {
    const echo = html("button", { class: "pin", type: "button", tabindex: -1, "aria-hidden": "true", "data-count": 0, "data-echo": lead, onclick: () => this.#clicked(ctx, lead) }, cross(), html("span", { class: "mark" }));
    this.#echoes.set(key, echo);
    this.element.append(echo);
    return echo;
  }

  /** @param {Context} ctx @param {string} id */
  #make(ctx, id) {
    const button = html("button", {
      class: "pin", type: "button", "data-pin": id, "data-count": 0, "aria-expanded": String(ctx.handle.view()?.pin === id),
      onclick: () => this.#clicked(ctx, id),
    }, cross(), html("span", { class: "mark" }));
    button.addEventListener("pointerdown", (event) => {
      if (Number(button.dataset["count"]) === 1) this.pressed?.(id, button, event);
    });
    const index = this.#index.get(id) ?? 0;
    // The tab key goes through them in the dossier's order.
    const after = [...this.element.children].find((other) => (this.#index.get(/** @type {HTMLElement} */ (other).dataset["pin"] ?? "") ?? 0) > index);
    this.element.insertBefore(button, after ?? null);
    this.#buttons.set(id, button);
    return button;
  }

  /** @param {Context} ctx @param {HTMLButtonElement} button @param {string} id @param {number} count */
  #count(ctx, button, id, count) {
    button.dataset["count"] = String(count);
    button.classList.toggle("crowd", count > 1);
    const mark = markOf(ctx, this.#index.get(id) ?? 0);
    const label = button.querySelector(".mark");
    if (label) label.textContent = count > 1 ? count.toLocaleString(ctx.language) : mark;
    button.setAttribute("aria-label", count > 1
      ? ctx.t("pin.crowd", { count })
      : ctx.t("pin.named", { mark, title: ctx.text(ctx.dossier.pins.get(id)?.title) }));
  }

  /** @param {Context} ctx @param {string} id */
  #clicked(ctx, id) {
    const group = this.#groups.find(({ lead }) => lead === id);
    if (!group || group.members.length === 1) ctx.show({ kind: "pin", id });
    else if (!this.#nearer(ctx, group.members)) ctx.show({ kind: "pins", ids: group.members });
  }

  /** Goes so near that a crowd parts. @param {Context} ctx @param {string[]} members @returns {boolean} false: it would not */
  #nearer(ctx, members) {
    const places = members.flatMap((id) => [ctx.dossier.pins.get(id)?.anchor?.position_m ?? []].filter((place) => place.length === 3));
    if (places.length < 2) return false;
    const along = (/** @type {0 | 1 | 2} */ axis) => places.reduce((sum, place) => sum + (place[axis] ?? 0), 0) / places.length;
    /** @type {[number, number, number]} */
    const middle = [along(0), along(1), along(2)];
    const reach = Math.max(...places.map(([x = 0, y = 0, z = 0]) => Math.hypot(x - middle[0], y - middle[1], z - middle[2])));
    const now = ctx.view().camera;
    if (reach < now.distance_m * CLOSE) return false;
    return ctx.glide({ camera: { ...now, target_m: middle, distance_m: Math.min(now.distance_m * LEAST_STEP, reach * 4) } });
  }
}

/** The mark of a pin: a fine cross at the very place, and a leader up to its letter. */
function cross() {
  const drawing = svg("svg", { viewBox: "0 0 44 44", width: 44, height: 44, "aria-hidden": "true", focusable: "false" });
  for (const layer of ["halo", "line"]) append(drawing, [svg("path", { class: layer, d: "M22 16v12M16 22h12M25 19l6-6", fill: "none" })]);
  return drawing;
}
