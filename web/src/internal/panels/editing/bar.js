// @ts-check
/** Over the picture while somebody edits: undo and redo by name, what is saved, and what may be begun. */
import { html } from "../../dom.js";
import { sentenceOf } from "../../errors.js";
import { dateLocale } from "../../i18n.js";
import { icon } from "../../icons.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../context.js").FormKind} FormKind */

/** @type {FormKind[]} */
const BEGIN = ["evidence", "claim", "pin"];

/** @param {Context} ctx @returns {{element: HTMLElement, update(): void, tell(words: string): void}} */
export function bar(ctx) {
  const { t } = ctx;
  const undo = html("button", { class: "tool", type: "button", "data-do": "undo", onclick: () => void run(() => ctx.session?.undo()) }, icon("undo"), html("span", { class: "words" }));
  const redo = html("button", { class: "tool", type: "button", "data-do": "redo", onclick: () => void run(() => ctx.session?.redo()) }, icon("redo"), html("span", { class: "words" }));
  const state = html("span", { class: "saved", role: "status" });
  const save = html("button", { class: "tool strong", type: "button", "data-do": "save" }, icon("save"), html("span", { class: "words always" }));
  const leave = html("button", { class: "tool", type: "button", "data-do": "leave", onclick: () => void run(() => ctx.edit(false)) }, icon("close"), html("span", { class: "words" }, t("edit.leave")));
  leave.setAttribute("aria-label", t("edit.leave"));
  let told = "";
  const notices = html("div", { class: "edit-notices" });
  const strip = html("div", { class: "edit-bar", role: "region", "aria-label": t("page.editing") },
    html("div", { class: "group" }, undo, redo, state, save, leave),
    html("div", { class: "group begin" },
      BEGIN.map((form) => html("button", { class: "tool", type: "button", "data-add": form, onclick: () => ctx.show({ kind: "form", form, id: null }) }, icon(form), html("span", { class: "words always" }, t(`edit.short.${form}`)))),
      html("button", { class: "tool", type: "button", "data-page": "drawing", onclick: () => ctx.turnTo("drawing") }, icon("drawing"), html("span", { class: "words always" }, t("edit.short.draw"))),
      html("button", { class: "tool", type: "button", "data-page": "workbench", onclick: () => ctx.turnTo("workbench") }, icon("workbench"), html("span", { class: "words always" }, t("edit.short.all")))));
  const element = html("div", {}, strip, notices);
  let noticed = "";

  /** @param {() => unknown} work */
  const run = async (work) => {
    told = "";
    try {
      await work();
    } catch (error) {
      told = t("form.refused", { detail: sentenceOf(error) });
    }
    update();
  };
  save.addEventListener("click", () => void run(() => ctx.session?.save()));
  const named = (/** @type {HTMLButtonElement} */ button, /** @type {string} */ key, /** @type {string | null} */ step) => {
    button.disabled = step === null;
    const words = step === null ? t(key) : t(`${key}.named`, { step });
    button.setAttribute("aria-label", words);
    button.title = words;
    const label = button.querySelector(".words");
    if (label) label.textContent = words;
  };
  const update = () => {
    const { session } = ctx;
    if (!session) return;
    named(undo, "edit.undo", session.canUndo);
    named(redo, "edit.redo", session.canRedo);
    save.disabled = session.saved || session.saving;
    const words = save.querySelector(".words");
    if (words) words.textContent = t(session.where === "server" ? "edit.save" : "edit.download");
    state.textContent = session.saving ? t("edit.saving") : t(session.saved ? "edit.saved" : session.where === "server" ? "edit.unsaved" : "edit.not_downloaded");
    notice();
  };
  /** What needs a decision: a draft that was left, or somebody else who has saved. */
  const notice = () => {
    const { session } = ctx;
    if (!session) return;
    const { draft, conflict, keeps_drafts } = session;
    const now = JSON.stringify([draft, conflict, keeps_drafts, told]);
    if (now === noticed) return;
    noticed = now;
    const button = (/** @type {string} */ key, /** @type {() => unknown} */ work) => html("button", { class: "action", type: "button", "data-do": key, onclick: () => void run(work) }, t(`edit.${key}`));
    const when = draft && new Intl.DateTimeFormat(dateLocale(ctx.language), { dateStyle: "long", timeStyle: "short" }).format(draft.when);
    notices.replaceChildren(...[
      draft && html("div", { class: "edit-notice", role: "alert" }, html("p", {}, t(draft.outdated ? "edit.draft_outdated" : "edit.draft", { when: when ?? "" })),
        button("restore", () => session.restore(t("undo.restore"))), button("discard", () => session.discard())),
      conflict && html("div", { class: "edit-notice", role: "alert" }, html("p", {}, t("edit.conflict", { revision: conflict.revision ?? "?" })),
        button("download_mine", () => session.download()), button("load_theirs", () => session.load_theirs())),
      !keeps_drafts && html("div", { class: "edit-notice", role: "alert" }, html("p", {}, t("edit.no_drafts"))),
      told !== "" && html("div", { class: "edit-notice", role: "alert" }, html("p", { dir: "auto" }, told)),
    ].flatMap((entry) => entry || []));
  };
  update();
  return { element, update, tell(words) { told = words; update(); } };
}
