// @ts-check
/** The teacher's sheet: the palette as it was measured, questions, and what to beware of; made for printing. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { printPage } from "../printing.js";
import { shell } from "./shell.js";
import { OWN } from "./document.js";

/** @param {import("../context.js").Context} ctx @returns {import("../context.js").Panel} */
export function lesson(ctx) {
  const { t, text } = ctx;
  const { document } = ctx.dossier;
  const regions = (document.regions ?? []).map(({ title }) => text(title)).filter(Boolean);
  const palette = document.palette ?? [];
  const poisons = palette.filter(({ caution }) => caution !== undefined);
  const states = (document.states ?? []).filter(({ id }) => id !== OWN);
  const questions = ["look", "choose", "found", "compare", "doubt"].map((name) => t(`lesson.${name}`, { object: text(document.title) || t("untitled") }));
  const element = html("div", {},
    html("p", { class: "prose", dir: "auto" }, text(document.title) || t("untitled"), ". ", text(document.description)),
    html("div", { class: "row-actions no-print" }, html("button", { class: "action", type: "button", "data-lesson": "print", onclick: () => void printPage(ctx, () => {}, () => {}) }, icon("print"), html("span", {}, t("lesson.print")))),
    html("h3", {}, t("lesson.palette")),
    html("ul", { class: "lesson-palette" }, palette.map((pigment) => html("li", {}, shell(pigment.lab_d50 ?? null), html("div", {},
      html("span", { class: "name", dir: "auto" }, text(pigment.title)), pigment.caution !== undefined && html("span", { class: "note" }, t("lesson.poison")))))),
    html("h3", {}, t("lesson.parts")), html("p", { class: "prose", dir: "auto" }, regions.join(" · ")),
    html("h3", {}, t("lesson.questions")), html("ol", { class: "questions" }, questions.map((one) => html("li", {}, html("p", { class: "prose" }, one), html("div", { class: "lines", "aria-hidden": "true" })))),
    html("h3", {}, t("lesson.opinions")), html("ul", { class: "opinions" }, states.map((state) => html("li", {}, html("span", { dir: "auto" }, text(state.title)), state.description !== undefined && html("p", { class: "note", dir: "auto" }, text(state.description))))),
    html("h3", {}, t("lesson.caution")), html("p", { class: "prose" }, t("lesson.never")),
    poisons.length > 0 && html("p", { class: "note", dir: "auto" }, poisons.map(({ title }) => text(title)).join(" · ")));
  return { element, keeps: true };
}
