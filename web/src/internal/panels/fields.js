// @ts-check
/** Fields that several pages have. */
import { html, uniqueId } from "../dom.js";

/**
 * One of several, as radio buttons.
 * @param {string} title @param {string[][]} options pairs of value and text @param {string} chosen @param {(value: string) => void} choose
 */
export function choice(title, options, chosen, choose) {
  const name = uniqueId("choice");
  const inputs = options.map(([value]) => html("input", { type: "radio", name, value, checked: value === chosen, onchange: () => choose(String(value)) }));
  return {
    element: html("fieldset", {}, html("legend", {}, title), options.map(([, text], index) => html("label", { class: "option" }, inputs[index], html("span", {}, text)))),
    /** @param {string} value */
    choose(value) {
      for (const input of inputs) input.checked = input.value === value;
    },
  };
}

/**
 * One of several, as a list with its label.
 * @param {string} title @param {string[][]} options pairs of value and text
 * @param {{value?: string, changed?: (value: string) => void, as?: "field" | "entry"}} [more] `as`: of settings or of a form
 */
export function selectField(title, options, { value, changed, as = "field" } = {}) {
  const select = html("select", { id: uniqueId("select") }, options.map(([one, text]) => html("option", { value: one }, text)));
  select.addEventListener("change", () => changed?.(select.value));
  /** One that is not on offer is offered too. @param {string} chosen */
  const show = (chosen) => {
    if (![...select.options].some((option) => option.value === chosen)) select.append(html("option", { value: chosen }, chosen));
    select.value = chosen;
  };
  if (value !== undefined) show(value);
  return { element: html("div", { class: as }, html("label", { for: select.id, dir: "auto" }, title), select), select, show };
}

/**
 * @param {string} title @param {[number, number, number]} range from, to and step
 * @param {(value: number) => string} words of a value @param {(value: number) => void} changed
 * @param {"ltr"} [dir] where it lies along something that runs from left to right in every language
 */
export function slider(title, [min, max, step], words, changed, dir) {
  // Named by `for`: an output within a label would take the name itself.
  const id = uniqueId("slider");
  const input = html("input", { id, type: "range", min, max, step, dir });
  // A figure and its unit in another script keep their order.
  const output = html("output", { dir: "auto" });
  input.addEventListener("input", () => changed(Number(input.value)));
  return {
    element: html("div", { class: "field" }, html("span", {}, html("label", { for: id }, title), " ", output), input),
    /** @param {number} value */
    show(value) {
      input.value = String(value);
      const said = words(value);
      if (output.textContent === said) return;
      output.textContent = said;
      input.setAttribute("aria-valuetext", said);
    },
  };
}
