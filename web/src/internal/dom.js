// @ts-check
/**
 * Making elements. Strings always become text nodes, so nothing that a dossier
 * says is ever read as markup.
 */

import { unbroken } from "./i18n.js";

/** @typedef {Node | string | number | null | undefined | false} Child */
/** @typedef {Record<string, unknown>} Properties */

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Properties} [properties] `class`, `on…` listeners, `data-…`, `aria-…` and plain attributes;
 *   `true` gives an empty attribute, `false`, `null` and `undefined` none
 * @param {...(Child | Child[])} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function html(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  assign(element, properties);
  append(element, children);
  return element;
}

/** What is written in is written as it is. */
const VERBATIM = "textarea";

/**
 * @template {keyof SVGElementTagNameMap} K
 * @param {K} tag
 * @param {Properties} [attributes]
 * @param {...(Child | Child[])} children
 * @returns {SVGElementTagNameMap[K]}
 */
export function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  assign(element, attributes);
  append(element, children);
  return element;
}

/** @param {Element} element @param {Properties} properties */
function assign(element, properties) {
  for (const [name, value] of Object.entries(properties)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on") && typeof value === "function") {
      element.addEventListener(name.slice(2), /** @type {EventListener} */ (value));
    } else {
      element.setAttribute(name, value === true ? "" : String(value));
    }
  }
}

/** @param {Element} element @param {(Child | Child[])[]} children */
export function append(element, children) {
  for (const child of children.flat()) {
    if (child === null || child === undefined || child === false) continue;
    if (child instanceof Node) element.append(child);
    else element.append(element.localName === VERBATIM ? String(child) : unbroken(String(child)));
  }
}

/** Ids must differ between several elements' shadow roots only for `document`-wide uses such as `url(#…)`. */
let last = 0;
/** @param {string} prefix */
export function uniqueId(prefix) {
  last += 1;
  return `${prefix}-${last}`;
}
