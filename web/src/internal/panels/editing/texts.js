// @ts-check
/** A text in one language or several, kept in the shape that the dossier had it in. */
import { html, uniqueId } from "../../dom.js";
import { directionOf, INTERFACE_LANGUAGES } from "../../i18n.js";
import { faults, FormFault } from "./fields.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../../types.d.ts").Text} Text */

/** Language that a new text is written in: the one on the screen, if the dossier speaks it. @param {Context} ctx */
export function writingLanguage(ctx) {
  const own = ctx.dossier.document.languages ?? [];
  return ctx.languages.find((tag) => own.includes(tag)) ?? own[0] ?? ctx.language;
}

/**
 * A text from its rows: a plain string where it was one and needs no tag.
 * @param {{tag: string | null, value: string}[]} rows
 * @returns {Text | undefined} undefined: nothing is written
 */
export function textOf(rows) {
  const written = rows.filter(({ value }) => value.trim() !== "");
  if (written.length === 0) return undefined;
  const [only] = written;
  if (written.length === 1 && only && only.tag === null) return only.value.trim();
  return Object.fromEntries(written.map(({ tag, value }) => [tag ?? "und", value.trim()]));
}

/**
 * @param {Context} ctx
 * @param {{label: string, value?: Text | undefined, lines?: number, required?: boolean, placeholder?: string}} options
 * @returns {import("./fields.js").Field<Text | undefined> & {placeholder(text: string): void}}
 */
export function textsField(ctx, { label, value, lines = 1, required = false, placeholder = "" }) {
  const { t } = ctx;
  const own = ctx.dossier.document.languages ?? [];
  const plain = typeof value === "string" || (value === undefined && own.length < 2);
  /** @type {{tag: string | null, input: HTMLInputElement | HTMLTextAreaElement}[]} */
  const rows = [];
  const room = html("div", {});
  const name = uniqueId("texts");
  const element = html("div", { class: "entry", role: "group", "aria-labelledby": name }, html("span", { class: "legend", id: name }, label), room);
  const more = html("select", { class: "add-language", "aria-label": t("form.add_language_to", { label }) });
  /** @param {string | null} tag @param {string} text */
  const add = (tag, text) => {
    const shown = tag ?? writingLanguage(ctx);
    const common = { dir: tag === null ? "auto" : directionOf(tag), lang: tag ?? undefined, "aria-label": `${label}, ${languageName(ctx, shown)}` };
    const input = lines > 1 ? html("textarea", { rows: lines, ...common }) : html("input", { type: "text", autocomplete: "off", ...common });
    input.value = text;
    rows.push({ tag, input });
    room.append(html("div", { class: "text-row" }, html("span", { class: "tag", dir: "ltr", "aria-hidden": "true" }, tag ?? ""), input));
  };
  const refresh = () => {
    const used = rows.map(({ tag }) => tag ?? writingLanguage(ctx));
    const left = [...new Set([...own, ...INTERFACE_LANGUAGES])].filter((tag) => !used.includes(tag));
    more.replaceChildren(html("option", { value: "" }, t("form.add_language")), ...left.map((tag) => html("option", { value: tag }, languageName(ctx, tag))));
    more.hidden = left.length === 0;
  };
  more.addEventListener("change", () => {
    // With a second language the first needs its tag too.
    for (const row of rows) row.tag ??= writingLanguage(ctx);
    room.replaceChildren();
    const kept = rows.splice(0);
    for (const { tag, input } of kept) add(tag, input.value);
    add(more.value, "");
    refresh();
    rows.at(-1)?.input.focus();
  });
  if (typeof value === "object") for (const [tag, text] of Object.entries(value)) add(tag, text);
  else add(plain ? null : writingLanguage(ctx), value ?? "");
  refresh();
  element.append(more);
  const first = /** @type {{input: HTMLInputElement | HTMLTextAreaElement}} */ (rows[0]);
  const fault = faults(element, first.input);
  const hint = (/** @type {string} */ text) => { rows[0]?.input.setAttribute("placeholder", text); };
  hint(placeholder);
  return {
    element, fault, placeholder: hint,
    read() {
      const text = textOf(rows.map(({ tag, input }) => ({ tag, value: input.value })));
      fault(null);
      if (required && text === undefined) {
        fault(t("form.needed"));
        throw new FormFault(t("form.needed_named", { label }), rows[0]?.input);
      }
      return text;
    },
  };
}

/** @param {Context} ctx @param {string} tag */
function languageName(ctx, tag) {
  try {
    return new Intl.DisplayNames([ctx.language], { type: "language" }).of(tag) ?? tag;
  } catch {
    return tag;
  }
}
