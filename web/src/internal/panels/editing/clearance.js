// @ts-check
/** Whether an entry may leave the house: `"public": false` keeps it out of everything that is published. */
import { html, uniqueId } from "../../dom.js";

/** Anything but true withholds, as for everything that is published. @param {object} entry */
export const isWithheld = (entry) => ![undefined, true].includes(Reflect.get(entry, "public"));

/**
 * @param {import("../../context.js").Context} ctx @param {object} entry that the form begins with
 * @returns {{element: HTMLElement, read: () => {public: boolean | undefined}}}
 */
export function clearanceField({ t }, entry) {
  const id = uniqueId("withheld");
  const box = html("input", { type: "checkbox", checked: isWithheld(entry), "aria-describedby": id });
  return {
    element: html("div", { class: "entry" }, html("label", { class: "option" }, box, html("span", {}, t("form.withheld"))), html("span", { class: "note", id }, t("form.withheld.note"))),
    read: () => ({ public: box.checked ? false : Reflect.get(entry, "public") === true ? true : undefined }),
  };
}

/**
 * A box for one entry of several.
 * @param {import("../../context.js").Context} ctx @param {object} entry @param {string} name of the entry, for those who hear it
 * @param {(withheld: boolean) => void} changed
 */
export function clearanceBox({ t }, entry, name, changed) {
  const box = html("input", { type: "checkbox", checked: isWithheld(entry), "aria-label": t("form.withheld.named", { name }) });
  box.addEventListener("change", () => changed(box.checked));
  return html("label", { class: "option" }, box, html("span", { "aria-hidden": "true" }, t("form.withheld")));
}

/**
 * The entry, withheld or cleared.
 * @template {object} T @param {T} entry @param {boolean} withheld @returns {T}
 */
export function withClearance(entry, withheld) {
  const made = { ...entry };
  if (withheld) Reflect.set(made, "public", false);
  else Reflect.deleteProperty(made, "public");
  return made;
}
