// @ts-check
/** What the audit says, in the language of the page. */
import { html } from "../dom.js";
import { dateLocale, decimal } from "../i18n.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Told} Told */
/** @typedef {import("../../types.d.ts").ToldValue} ToldValue */

/**
 * A sentence of the audit: in the page's words where it has them, else in English and marked as that.
 * @param {Context} ctx @param {Told} told
 */
export function sentence(ctx, told) {
  const words = inWords(ctx, told);
  return words === null ? html("span", { lang: "en", dir: "auto" }, told.message) : html("span", {}, begun(words, ctx.language));
}

/** What would settle a finding of a rule. @param {Context} ctx @param {import("../../types.d.ts").Finding} finding */
export function settlement(ctx, { rule, settles }) {
  const key = `settles.${rule}`;
  const words = ctx.t(key);
  return words === key ? html("span", { lang: "en", dir: "auto" }, settles) : html("span", {}, words);
}

/** What a number of a finding is. @param {Context} ctx @param {{name: string, key?: string}} measure */
export function figureName({ t }, { name, key }) {
  const words = t(`finding.${key}`);
  return words === `finding.${key}` ? name : words;
}

/** @param {string} text @param {string} language */
const begun = (text, language) => text.replace(/^\p{Ll}/u, (first) => first.toLocaleUpperCase(language));

/** @param {Context} ctx @param {Told} told @returns {string | null} null: the page has no words for it */
function inWords(ctx, { key, values = {} }) {
  const of = `finding.${key}`;
  /** @type {Record<string, string | number>} */
  const said = {};
  for (const [name, value] of Object.entries(values)) said[name] = name === "count" && "number" in value ? value.number.value : valueInWords(ctx, value);
  const words = ctx.t(of, said);
  return words === of ? null : words;
}

/** @param {Context} ctx @param {ToldValue} value @returns {string} */
function valueInWords(ctx, value) {
  const { t, text, language } = ctx;
  if ("text" in value) return value.text;
  if ("written" in value) return text(value.written);
  if ("number" in value) return decimal(value.number.value, language, value.number.digits);
  if ("told" in value) return inWords(ctx, value.told) ?? value.told.message;
  if ("named" in value) {
    const { title, id } = value.named;
    const said = text(title);
    return said === "" || said === id ? t("finding.id", { id }) : t("finding.named", { title: said, id });
  }
  const items = value.list.items.map((item) => valueInWords(ctx, item));
  if (value.list.how === "apart") return items.reduce((one, more) => t("finding.apart", { one, more }));
  return new Intl.ListFormat(dateLocale(language), { type: value.list.how === "or" ? "disjunction" : "conjunction" }).format(items);
}
