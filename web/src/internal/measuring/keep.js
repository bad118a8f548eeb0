// @ts-check
/** The button under a reading that keeps it, to be compared with others on the page of measurements. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { notebookOf } from "./notebook.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @param {import("../../types.d.ts").Probe} probe */
export function keepButton(ctx, probe) {
  const { t } = ctx;
  const notebook = notebookOf(ctx);
  const words = html("span", {});
  const button = html("button", { class: "action", type: "button", "data-keep": "keep" }, icon("keep"), words);
  const said = html("span", { class: "note", role: "status" });
  const refresh = () => {
    const kept = notebook.kept(probe);
    button.dataset["keep"] = kept ? "compare" : "keep";
    words.textContent = t(kept ? "kept.compare" : "kept.keep");
    said.textContent = kept ? t("kept.as", { number: kept.number }) : "";
  };
  button.addEventListener("click", async () => {
    if (notebook.kept(probe)) return ctx.turnTo("measure");
    notebook.keep(probe);
    refresh();
    const { showNotebook } = await import("./overlay.js");
    showNotebook(ctx);
  });
  refresh();
  return html("div", { class: "row-actions" }, button, said);
}
