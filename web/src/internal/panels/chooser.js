// @ts-check
/** One end of the caption: what is shown on that side, and the list to choose from. */
import { html } from "../dom.js";
import { unbroken } from "../i18n.js";
import { icon } from "../icons.js";
import { kindRule } from "../patterns.js";
import { sideInWords } from "../describe.js";
import { lookOf } from "../looks.js";
import { legend } from "./legend.js";
import { LIKENESS_PX, likenesses } from "../keeping/likeness.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {"left" | "right"} End */

/**
 * @param {Context} ctx @param {End} end
 * @returns {import("../context.js").Panel & {name(side: string): void}}
 */
export function chooser(ctx, end) {
  const side = html("span", { class: "side" });
  const title = html("span", { class: "title", dir: "auto" });
  const rule = html("span", { class: "rule" });
  const note = html("p", { class: "note", dir: "auto" });
  const scale = html("div", { class: "scale" });
  const list = html("div", { class: "choices", role: "listbox", tabindex: -1, id: `choices-${end}`, hidden: true });
  const button = html("button", {
    class: "choose", type: "button", "aria-haspopup": "listbox", "aria-expanded": "false", "aria-controls": list.id,
  }, side, html("span", { class: "line" }, title, icon("more")));
  const element = html("div", { class: `end ${end}` }, rule, button, note, scale, list);
  listen(ctx, end, { element, button, list });
  let shown = "";
  return {
    element,
    name(text) { side.textContent = text; },
    update(view) {
      const id = view[end];
      const now = `${id}\n${JSON.stringify(view.layers[id])}`;
      if (now === shown) return;
      shown = now;
      const words = sideInWords(ctx, id);
      title.textContent = unbroken(words.title);
      rule.replaceChildren(kindRule(words.kind_id));
      note.textContent = unbroken(noteOf(ctx, id));
      const layer = ctx.dossier.layers.get(id);
      scale.replaceChildren(...(layer?.kind === "band" ? [legend(ctx, layer, lookOf(view, id))] : []));
    },
  };
}

/** Kind and who proposes it; of a band its wavelengths. @param {Context} ctx @param {string} id */
function noteOf(ctx, id) {
  const { t, dossier } = ctx;
  const state = dossier.states.get(id);
  if (!state) {
    if (!dossier.layers.has(id)) return "";
    const band = dossier.layers.get(id)?.wavelength_nm;
    return [t("kind.band"), band && t("band.wavelengths", { from: String(band[0]), to: String(band[1]) })].filter(Boolean).join(" · ");
  }
  const people = (state.proposed_by ?? []).map((person) => ctx.text(dossier.people.get(person)?.name) || person);
  const { kind } = sideInWords(ctx, id);
  return people.length === 0 ? kind : t(state.kind === "as-found" ? "kind.recorded_by" : "kind.proposed_by", { kind, people: new Intl.ListFormat(ctx.language).format(people) });
}

/** @param {Context} ctx @param {End} end @param {{element: HTMLElement, button: HTMLButtonElement, list: HTMLElement}} parts */
function listen(ctx, end, { element, button, list }) {
  const close = (/** @type {boolean} */ back) => {
    list.hidden = true;
    button.setAttribute("aria-expanded", "false");
    if (back) button.focus();
  };
  const open = () => {
    list.replaceChildren(...options(ctx, end, (id) => {
      ctx.change({ [end]: id });
      close(true);
    }));
    list.setAttribute("aria-label", button.querySelector(".side")?.textContent ?? "");
    list.hidden = false;
    button.setAttribute("aria-expanded", "true");
    const chosen = list.querySelector('[aria-selected="true"]') ?? list.querySelector('[role="option"]');
    activate(list, /** @type {HTMLElement | null} */ (chosen));
    list.focus();
  };
  button.addEventListener("click", () => (list.hidden ? open() : close(true)));
  button.addEventListener("keydown", (event) => {
    if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
    event.preventDefault();
    open();
  });
  list.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      event.stopPropagation();
      close(true);
    } else listKey(event, list);
  });
  element.addEventListener("focusout", (event) => {
    const to = /** @type {Node | null} */ (event.relatedTarget);
    if (!list.hidden && !element.contains(to)) close(false);
  });
}

/** @param {Context} ctx @param {End} end @param {(id: string) => void} choose */
function options(ctx, end, choose) {
  const current = ctx.view()[end];
  const { states } = ctx.dossier.document;
  /** @param {{id: string}} item */
  const option = ({ id }) => {
    const words = sideInWords(ctx, id);
    const likeness = html("img", { alt: "", hidden: true, width: LIKENESS_PX.width / 2, height: LIKENESS_PX.height / 2 });
    likenesses(ctx).put(id, likeness);
    return html("div", {
      role: "option", id: `${end}-${id}`, "data-id": id, "aria-selected": String(id === current),
      onclick: () => choose(id),
    }, html("span", { class: "likeness" }, likeness),
    html("span", { class: "words" }, kindRule(words.kind_id), html("span", { class: "title", dir: "auto" }, words.title), html("span", { class: "note", dir: "auto" }, noteOf(ctx, id))));
  };
  /** @param {string} key @param {{id: string}[]} items */
  const group = (key, items) => (items.length === 0 ? [] : [
    html("div", { role: "group", "aria-label": ctx.t(key) },
      html("span", { class: "heading", "aria-hidden": "true" }, ctx.t(key)), items.map(option))]);
  return [...group("choose.states", states ?? []), ...group("choose.bands", ctx.dossier.bands)];
}

/** @param {HTMLElement} list @param {HTMLElement | null} option */
function activate(list, option) {
  for (const other of list.querySelectorAll(".active")) other.classList.remove("active");
  if (!option) return;
  option.classList.add("active");
  option.scrollIntoView({ block: "nearest" });
  list.setAttribute("aria-activedescendant", option.id);
}

/** @param {KeyboardEvent} event @param {HTMLElement} list */
function listKey(event, list) {
  const all = /** @type {HTMLElement[]} */ ([...list.querySelectorAll('[role="option"]')]);
  const at = all.findIndex((option) => option.classList.contains("active"));
  /** @type {Record<string, number>} */
  const moves = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: all.length - 1 };
  const move = moves[event.key];
  if (move !== undefined) {
    event.preventDefault();
    activate(list, all[Math.min(all.length - 1, Math.max(0, move))] ?? null);
  } else if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    all[at]?.click();
  } else if (event.key.length === 1) {
    const letter = event.key.toLocaleLowerCase();
    const order = [...all.slice(at + 1), ...all.slice(0, at + 1)];
    const found = order.find((option) => option.querySelector(".title")?.textContent?.toLocaleLowerCase().startsWith(letter));
    if (found) activate(list, found);
  }
}
