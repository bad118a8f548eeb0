// @ts-check
/** Whether an entry may leave the house: `"public": false` keeps it out of everything that is published. */
import { html, uniqueId } from "../../dom.js";

/**
 * @param {import("../../context.js").Context} ctx @param {object} entry that the form begins with
 * @returns {{element: HTMLElement, read: () => {public: boolean | undefined}}}
 */
export function clearanceField({ t }, entry) {
  const told = Reflect.get(entry, "public");
  const id = uniqueId("withheld");
  // Anything but true withholds, as for everything that is published.
  const box = html("input", { type: "checkbox", checked: told !== undefined && told !== true, "aria-describedby": id });
  return {
    element: html("div", { class: "entry" }, html("label", { class: "option" }, box, html("span", {}, t("form.withheld"))), html("span", { class: "note", id }, t("form.withheld.note"))),
    read: () => ({ public: box.checked ? false : told === true ? true : undefined }),
  };
}
