// @ts-check
/** Fields of a form: each has its element and reads its value. */
import { html, uniqueId } from "../../dom.js";
import { selectField as listField } from "../fields.js";
import { symbolsIn } from "./elements.js";

/** @typedef {import("../../context.js").Context} Context */

/**
 * @template T @typedef {object} Field
 * @property {HTMLElement} element
 * @property {() => T} read
 * @property {(message: string | null) => void} [fault] says what is wrong with it
 */

/** @param {string} label @param {HTMLElement} control @param {string} [note] */
export function labelled(label, control, note) {
  const id = control.id || uniqueId("field");
  control.id = id;
  const remark = note ? html("span", { class: "note", id: `${id}-note` }, note) : null;
  if (remark) control.setAttribute("aria-describedby", remark.id);
  return html("div", { class: "entry" }, html("label", { for: id, dir: "auto" }, label), control, remark);
}

/** What is wrong, under the control. @param {HTMLElement} element @param {HTMLElement} control */
export function faults(element, control) {
  const note = html("p", { class: "fault", id: uniqueId("fault"), hidden: true });
  element.append(note);
  return (/** @type {string | null} */ message) => {
    note.hidden = message === null;
    note.textContent = message ?? "";
    if (message === null) {
      control.removeAttribute("aria-invalid");
      control.removeAttribute("aria-errormessage");
    } else {
      control.setAttribute("aria-invalid", "true");
      control.setAttribute("aria-errormessage", note.id);
    }
  };
}

/** @param {string} label @param {string} value @param {{type?: string, list?: string[], note?: string, dir?: string}} [options] @returns {Field<string> & {input: HTMLInputElement}} */
export function lineField(label, value, { type = "text", list, note, dir = "auto" } = {}) {
  const input = html("input", { type, value, dir, autocomplete: "off" });
  const element = labelled(label, input, note);
  if (list && list.length > 0) {
    const options = html("datalist", { id: uniqueId("known") }, list.map((one) => html("option", { value: one })));
    input.setAttribute("list", options.id);
    element.append(options);
  }
  return { element, input, read: () => input.value.trim(), fault: faults(element, input) };
}

/** @param {Context} ctx @param {string} label @param {number | null | undefined} value @param {{min?: number, max?: number, step?: number | "any", unit?: string}} [limits] @returns {Field<number | undefined>} */
export function numberField(ctx, label, value, { min, max, step = "any", unit } = {}) {
  const input = html("input", { type: "number", value: value ?? "", min, max, step, inputmode: "decimal", dir: "ltr" });
  const element = labelled(unit ? `${label} (${unit})` : label, input);
  const fault = faults(element, input);
  return {
    element, fault,
    read() {
      if (input.value.trim() === "" && !input.validity.badInput) return undefined;
      const number = input.valueAsNumber;
      if (!Number.isFinite(number) || input.validity.rangeUnderflow || input.validity.rangeOverflow) {
        const message = ctx.t("form.number", { low: min ?? "−∞", high: max ?? "∞" });
        fault(message);
        throw new FormFault(message, input);
      }
      fault(null);
      return number;
    },
  };
}

/** @param {string} label @param {[string, string][]} options value and text @param {string} value @returns {Field<string> & {select: HTMLSelectElement}} */
export function selectField(label, options, value) {
  const { element, select } = listField(label, options, { value, as: "entry" });
  return { element, select, read: () => select.value };
}

/** @param {string} title @param {[string, string | Node][]} options @param {string[]} chosen @returns {Field<string[]> & {boxes: HTMLInputElement[]}} */
export function checksField(title, options, chosen) {
  const boxes = options.map(([value]) => html("input", { type: "checkbox", value, checked: chosen.includes(value) }));
  return {
    boxes,
    element: html("fieldset", { class: "entry" }, html("legend", {}, title), options.map(([, text], index) => html("label", { class: "option" }, /** @type {HTMLElement} */ (boxes[index]), html("span", { dir: "auto" }, text)))),
    read: () => boxes.filter(({ checked }) => checked).map(({ value }) => value),
  };
}

/** @param {string} title @param {[string, Node[]][]} options value and what is said of it @param {string} chosen @returns {Field<string> & {inputs: HTMLInputElement[]}} */
export function radiosField(title, options, chosen) {
  const name = uniqueId("radio");
  const inputs = options.map(([value]) => html("input", { type: "radio", name, value, checked: value === chosen }));
  return {
    inputs,
    element: html("fieldset", { class: "entry" }, html("legend", {}, title), options.map(([, content], index) => html("label", { class: "option" }, /** @type {HTMLElement} */ (inputs[index]), content))),
    read: () => inputs.find(({ checked }) => checked)?.value ?? "",
  };
}

/** Symbols of elements as chips. @param {Context} ctx @param {string[]} chosen @param {() => void} [changed] @returns {Field<string[]> & {input: HTMLInputElement}} */
export function elementsField(ctx, chosen, changed) {
  const { t } = ctx;
  let symbols = [...chosen];
  const chips = html("span", { class: "chips" });
  const input = html("input", { type: "text", dir: "ltr", autocomplete: "off", autocapitalize: "off", spellcheck: "false" });
  const element = labelled(t("evidence.elements"), input, t("form.elements"));
  element.insertBefore(chips, input);
  const fault = faults(element, input);
  const refresh = () => chips.replaceChildren(...symbols.map((symbol) => chip(symbol, t("form.take_out", { name: symbol }), () => {
    symbols = symbols.filter((one) => one !== symbol);
    refresh();
    changed?.();
    input.focus();
  })));
  /** Takes over what is written so far. @returns {boolean} */
  const take = () => {
    const { known, unknown } = symbolsIn(input.value);
    symbols = [...new Set([...symbols, ...known])];
    input.value = unknown.join(" ");
    fault(unknown.length === 0 ? null : t("form.no_element", { symbols: new Intl.ListFormat(ctx.language).format(unknown) }));
    refresh();
    if (known.length > 0) changed?.();
    return unknown.length === 0;
  };
  input.addEventListener("input", () => { if (/[\s,;]$/.test(input.value)) take(); });
  input.addEventListener("change", take);
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Backspace" || input.value !== "" || symbols.length === 0) return;
    symbols = symbols.slice(0, -1);
    refresh();
    changed?.();
  });
  refresh();
  return {
    element, input, fault,
    read() {
      if (!take()) throw new FormFault(t("form.no_element", { symbols: input.value }), input);
      return symbols;
    },
  };
}

/** @param {string} text @param {string} remove what the button says to those who hear it @param {() => void} taken */
export function chip(text, remove, taken) {
  return html("button", { class: "chip", type: "button", "aria-label": remove, onclick: taken }, html("span", { dir: "auto" }, text), html("span", { class: "cross", "aria-hidden": "true" }, "×"));
}

/** Something in a form that cannot be kept as it is. */
export class FormFault extends Error {
  /** @param {string} message @param {HTMLElement} [control] */
  constructor(message, control) {
    super(message);
    this.name = "FormFault";
    this.control = control;
  }
}
