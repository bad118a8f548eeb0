// @ts-check
/** Copying text; where the browser lends no clipboard the text is shown, chosen and ready. */
import { html } from "../dom.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @param {string} label @param {() => string} text */
export function copyButton({ t }, label, text) {
  const said = html("span", { class: "note", role: "status" });
  const button = html("button", { class: "action", type: "button" }, label);
  const element = html("span", { class: "copying" }, button, said);
  button.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(text());
      said.textContent = t("measure.copied");
    } catch {
      const shown = html("textarea", { readonly: true, rows: 4, "aria-label": label, dir: "ltr" });
      shown.value = text();
      element.querySelector("textarea")?.remove();
      element.append(shown);
      shown.focus();
      shown.select();
      said.textContent = t("measure.copy_by_hand");
    }
  });
  return element;
}
