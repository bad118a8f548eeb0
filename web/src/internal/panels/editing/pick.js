// @ts-check
/** Choosing from a list of any length: what is chosen as chips, the rest found by typing. */
import { html, uniqueId } from "../../dom.js";
import { chip, labelled } from "./fields.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {{id: string, title: string, note?: string}} Choice */

/** So many are offered at once; typing more narrows them. */
const OFFERED = 40;

/**
 * @param {Context} ctx
 * @param {{label: string, all: () => Choice[], chosen: string[], single?: boolean, changed?: (ids: string[]) => void}} options
 * @returns {import("./fields.js").Field<string[]> & {set(ids: string[]): void}}
 */
export function pickField(ctx, { label, all, chosen, single = false, changed }) {
  const { t } = ctx;
  let ids = [...chosen];
  /** @type {Choice[] | null} */
  let known = null;
  const choices = () => (known ??= all());
  const list = html("div", { class: "offers", role: "listbox", id: uniqueId("offers"), "aria-label": label, hidden: true });
  const input = html("input", {
    type: "text", role: "combobox", autocomplete: "off", spellcheck: "false", dir: "auto", placeholder: t("form.search"),
    "aria-expanded": "false", "aria-controls": list.id, "aria-autocomplete": "list",
  });
  const chips = html("span", { class: "chips" });
  const element = labelled(label, input);
  element.classList.add("picking");
  element.insertBefore(chips, input);
  element.append(list);
  let active = -1;
  const refresh = () => {
    const titles = new Map(ids.length > 0 ? choices().map(({ id, title }) => [id, title]) : []);
    chips.replaceChildren(...ids.map((id) => {
      const title = titles.get(id) ?? id;
      return chip(title, t("form.take_out", { name: title }), () => {
        set(ids.filter((one) => one !== id));
        changed?.(ids);
        input.focus();
      });
    }));
  };
  const set = (/** @type {string[]} */ next) => {
    ids = next;
    refresh();
    element.dispatchEvent(new Event("change", { bubbles: true }));
  };
  const close = () => {
    list.hidden = true;
    active = -1;
    input.setAttribute("aria-expanded", "false");
    input.removeAttribute("aria-activedescendant");
  };
  const offer = () => {
    const wanted = input.value.trim().toLocaleLowerCase();
    /** @type {Choice[]} */
    const fitting = [];
    let more = 0;
    for (const choice of choices()) {
      if (ids.includes(choice.id)) continue;
      if (wanted !== "" && !choice.title.toLocaleLowerCase().includes(wanted) && !choice.id.toLocaleLowerCase().includes(wanted)) continue;
      if (fitting.length < OFFERED) fitting.push(choice);
      else more += 1;
    }
    list.replaceChildren(
      ...fitting.map(({ id, title, note }) => html("div", { role: "option", id: uniqueId("offer"), "data-id": id, "aria-selected": "false" },
        html("span", { dir: "auto" }, title), note && html("span", { class: "note", dir: "auto" }, note))),
      ...(more > 0 || fitting.length === 0 ? [html("div", { class: "note", role: "option", "aria-disabled": "true" }, fitting.length === 0 ? t("form.none_found") : t("form.more", { count: more }))] : []));
    active = -1;
    list.hidden = false;
    input.setAttribute("aria-expanded", "true");
  };
  const options = () => /** @type {HTMLElement[]} */ ([...list.querySelectorAll("[data-id]")]);
  const point = (/** @type {number} */ to) => {
    const now = options();
    active = Math.min(now.length - 1, Math.max(0, to));
    now.forEach((option, index) => {
      option.classList.toggle("active", index === active);
      option.setAttribute("aria-selected", String(index === active));
    });
    const option = now[active];
    if (!option) return;
    option.scrollIntoView({ block: "nearest" });
    input.setAttribute("aria-activedescendant", option.id);
  };
  const choose = (/** @type {HTMLElement | undefined} */ option) => {
    const id = option?.dataset["id"];
    if (id === undefined) return;
    set(single ? [id] : [...ids, id]);
    input.value = "";
    close();
    changed?.(ids);
  };
  input.addEventListener("input", offer);
  input.addEventListener("focus", offer);
  input.addEventListener("click", () => { if (list.hidden) offer(); });
  input.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      if (list.hidden) offer();
      point(event.key === "ArrowDown" ? active + 1 : active - 1);
    } else if (event.key === "Enter" && !list.hidden && (active >= 0 || input.value !== "")) {
      event.preventDefault();
      choose(options()[Math.max(0, active)]);
    } else if (event.key === "Escape" && !list.hidden) {
      event.preventDefault();
      event.stopPropagation();
      close();
    } else if (event.key === "Backspace" && input.value === "" && ids.length > 0) {
      set(ids.slice(0, -1));
      changed?.(ids);
    }
  });
  // Before the input loses the focus.
  list.addEventListener("pointerdown", (event) => event.preventDefault());
  list.addEventListener("click", (event) => choose(/** @type {HTMLElement | undefined} */ (/** @type {HTMLElement} */ (event.target).closest("[data-id]")) ?? undefined));
  input.addEventListener("blur", close);
  refresh();
  return { element, read: () => ids, set };
}
