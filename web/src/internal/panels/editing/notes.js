// @ts-check
/** Pins and observations as Web Annotations (W3C, JSON-LD): out to other programs, and back in. */
import { html } from "../../dom.js";
import { sentenceOf } from "../../errors.js";
import { icon } from "../../icons.js";
import { handOut } from "../../handing.js";

/** @typedef {import("../../context.js").Context} Context */

/** The part lives as long as its session, so that what it says outlasts the change that it speaks of. @type {WeakMap<object, {language: string, element: HTMLElement}>} */
const made = new WeakMap();

/** @param {Context} ctx @returns {HTMLElement | null} */
export function notesPart(ctx) {
  const { session, language } = ctx;
  if (!session) return null;
  const known = made.get(session);
  if (known?.language === language) return known.element;
  const element = partOf(ctx, session);
  made.set(session, { language, element });
  return element;
}

/** @param {Context} ctx @param {NonNullable<Context["session"]>} session @returns {HTMLElement} */
function partOf(ctx, session) {
  const { t } = ctx;
  const told = html("p", { class: "note", role: "status", dir: "auto" });
  const say = (/** @type {unknown} */ error) => { told.textContent = sentenceOf(error); };
  const out = html("button", {
    class: "action", type: "button", "data-do": "notes-out",
    onclick: () => void session.desk.annotations().then((notes) => {
      const id = session.document.id ?? "dossier";
      // The media type of the Web Annotation Protocol, 2017, section 4.
      handOut(new Blob([`${JSON.stringify(notes, null, 2)}\n`], { type: "application/ld+json" }), `${id}-annotations.jsonld`);
    }).catch(say),
  }, icon("out"), html("span", {}, t("notes.out")));
  const file = html("input", { type: "file", accept: ".json,.jsonld,application/json,application/ld+json", class: "unseen", tabindex: -1, "aria-hidden": "true", "data-do": "notes-file" });
  const into = html("button", { class: "action", type: "button", "data-do": "notes-in", onclick: () => file.click() }, icon("add"), html("span", {}, t("notes.in")));
  file.addEventListener("change", async () => {
    const [chosen] = file.files ?? [];
    if (!chosen) return;
    try {
      const { report } = await session.desk.merge_annotations(await chosen.text(), t("undo.notes"));
      const left = /** @type {{reason: string}[]} */ (report.left_out).map(({ reason }) => reason);
      told.textContent = [t("notes.read", { added: report.added.length, changed: report.changed.length, left: left.length }), ...new Set(left)].join(" ");
    } catch (error) {
      say(error);
    } finally {
      file.value = "";
    }
  });
  return html("details", { class: "more", "data-group": "notes" }, html("summary", {}, html("span", {}, t("notes.title"))),
    html("p", { class: "note" }, t("notes.about")), html("div", { class: "row-actions" }, out, into, file), told);
}
