// @ts-check
/** What is said over the picture: loading, notices of what is missing, and the page when nothing can be shown. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { byteCount } from "../i18n.js";

/** @typedef {import("../i18n.js").Translate} Translate */
/** @typedef {import("../errors.js").Trouble} Trouble */

/** @param {Translate} t @param {Trouble} trouble */
export function troubleInWords(t, trouble) {
  const values = { file: trouble.file, detail: trouble.detail, ...trouble.values };
  return { what: t(`error.${trouble.key}`, values), todo: t(`error.${trouble.key}.todo`, values) };
}

export function loading() {
  const bar = html("progress", { max: 1 });
  const what = html("p", { class: "what" });
  const amount = html("p", { class: "amount" });
  const element = html("div", { class: "loading" }, html("div", {}, what, bar, amount));
  return {
    element,
    /** @param {Translate} t @param {string} language @param {string} text @param {{received: number, total: number | null}} progress */
    show(t, language, text, { received, total }) {
      what.textContent = text;
      bar.setAttribute("aria-label", text);
      if (total) bar.value = Math.min(1, received / total);
      else bar.removeAttribute("value");
      amount.textContent = received === 0 ? "" : total
        ? t("load.of", { received: byteCount(received, language), total: byteCount(total, language) })
        : t("load.received", { received: byteCount(received, language) });
    },
  };
}

/** @param {Translate} t @param {Trouble} trouble @param {() => void} again */
export function errorPage(t, trouble, again) {
  const { what, todo } = troubleInWords(t, trouble);
  return html("div", { class: "failure", role: "alert" }, html("div", { class: "paper" },
    html("h2", {}, t("error.title")),
    html("p", { class: "prose" }, what),
    trouble.file !== "" && html("p", { class: "file" }, html("span", { class: "note" }, t("error.file")), " ", html("code", { dir: "ltr" }, trouble.file)),
    trouble.detail !== "" && html("p", { class: "detail", dir: "auto" }, trouble.detail),
    html("p", { class: "note" }, todo),
    html("button", { class: "action", type: "button", onclick: again }, icon("again"), html("span", {}, t("error.again")))));
}

/** @param {Translate} t */
export function emptyPage(t) {
  return html("div", { class: "failure" }, html("div", { class: "paper" },
    html("h2", {}, t("empty.title")), html("p", { class: "prose" }, t("empty.text")),
    html("p", {}, html("code", { dir: "ltr" }, "?src=dossier/")), html("p", { class: "note" }, t("empty.embed")),
    html("p", {}, html("code", { dir: "ltr" }, '<ganosis-view src="dossier/"></ganosis-view>'))));
}

/**
 * A quiet list of what is missing.
 * @param {Translate} t @param {Trouble[]} troubles @param {() => void} again @param {() => void} dismiss
 */
export function notice(t, troubles, again, dismiss) {
  if (troubles.length === 0) return null;
  return html("details", { class: "notice" },
    html("summary", {}, icon("warn"), html("span", {}, t("notice.count", { count: troubles.length }))),
    html("ul", {}, troubles.map((trouble) => {
      const { what, todo } = troubleInWords(t, trouble);
      const file = trouble.file !== "" && html("code", { dir: "ltr" }, trouble.file);
      if (trouble.key === "problem") return html("li", {}, html("p", { dir: "auto" }, file, " ", trouble.detail));
      return html("li", {}, html("p", { dir: "auto" }, file, " ", what),
        trouble.detail !== "" && html("p", { class: "note", dir: "auto" }, trouble.detail), html("p", { class: "note" }, todo));
    })),
    html("div", { class: "actions" },
      // What the viewer itself leaves out is left out again.
      troubles.some(({ key }) => key !== "problem") && html("button", { class: "action", type: "button", onclick: again }, icon("again"), html("span", {}, t("error.again"))),
      html("button", { class: "action", type: "button", onclick: dismiss }, t("notice.dismiss"))));
}
