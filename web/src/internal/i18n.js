// @ts-check
/** Messages of the interface, and choosing among the languages of a dossier's texts. */

/** @typedef {import("../types.d.ts").Text} Text */
/** @typedef {Record<string, string | Record<string, string>>} Messages key to text, or plural form to text */

/** Languages that the interface itself speaks. */
export const INTERFACE_LANGUAGES = ["en", "es", "de", "ar"];

/** Language subtags written from right to left (the scripts' usual languages; RFC 5646 tags). */
const RIGHT_TO_LEFT = ["ar", "arc", "ckb", "dv", "fa", "he", "ps", "sd", "syr", "ug", "ur", "yi"];

/** @param {string} tag @returns {"rtl" | "ltr"} */
export function directionOf(tag) {
  return RIGHT_TO_LEFT.includes(primary(tag)) ? "rtl" : "ltr";
}

/** @param {string} tag */
const primary = (tag) => tag.toLowerCase().split("-")[0] ?? "";

/**
 * The best of the languages on offer: an exact tag, then one that is more or
 * less special (RFC 4647, section 3.4, lookup), then the first.
 * @param {readonly string[]} wanted most wanted first
 * @param {readonly string[]} offered
 */
export function bestLanguage(wanted, offered) {
  for (const tag of wanted) {
    const exact = offered.find((other) => other.toLowerCase() === tag.toLowerCase());
    if (exact) return exact;
    const related = offered.find((other) => primary(other) === primary(tag));
    if (related) return related;
  }
  return offered[0] ?? "en";
}

/**
 * A dossier's text in a language, else in the dossier's own, else in any.
 * @param {Text | null | undefined} text
 * @param {readonly string[]} languages most wanted first
 * @returns {{value: string, language: string | null}} language null: not said
 */
export function textIn(text, languages) {
  if (text === null || text === undefined) return { value: "", language: null };
  if (typeof text === "string") return { value: text, language: null };
  const tags = Object.keys(text);
  if (tags.length === 0) return { value: "", language: null };
  const language = bestLanguage(languages, tags);
  return { value: String(text[language] ?? ""), language };
}

/** Signs of the scripts that run the other way than those of a language. */
const OTHER_WAY = { rtl: /\p{Script=Latin}|\p{Script=Greek}|\p{Script=Cyrillic}/u, ltr: /\p{Script=Arabic}|\p{Script=Hebrew}|\p{Script=Syriac}/u };

/** A text within a sentence of a language: what runs the other way is kept together (Unicode Standard Annex 9, isolates). @param {string} text @param {string} language */
export const within = (text, language) => (OTHER_WAY[directionOf(language)].test(text) ? `\u2068${text}\u2069` : text);

/** Initials stay together, and with the name that follows: "E. K." is never at the end of a line and at the beginning of the next. @param {string} text */
export const unbroken = (text) => text.replace(/(?<![\p{L}\p{N}])(\p{Lu}\.) (?=\p{Lu})/gu, "$1\u00a0");

/**
 * @param {Messages} messages
 * @param {Messages} fallback what is said where `messages` lacks a key
 * @param {string} language
 */
export function translator(messages, fallback, language) {
  const plurals = new Intl.PluralRules(language);
  /**
   * @param {string} key
   * @param {Record<string, string | number>} [values] `count` chooses the plural form
   */
  return (key, values = {}) => {
    const found = messages[key] ?? fallback[key];
    if (found === undefined) return key;
    const form = typeof found === "string"
      ? found
      : found[plurals.select(Number(values["count"] ?? 0))] ?? found["other"] ?? "";
    return form.replace(/\{(\w+)\}/g, (whole, name) => {
      const value = values[name];
      if (value === undefined) return whole;
      return typeof value === "number" ? value.toLocaleString(language) : within(value, language);
    });
  };
}

/** @typedef {ReturnType<typeof translator>} Translate */

/** @type {Map<string, Promise<Messages>>} */
const loaded = new Map();

/**
 * @param {string} language one of INTERFACE_LANGUAGES
 * @param {URL} folder where `en.json` and the others lie
 * @returns {Promise<Messages>}
 */
export function loadMessages(language, folder) {
  const address = new URL(`${language}.json`, folder).href;
  let messages = loaded.get(address);
  if (!messages) {
    messages = fetch(address).then((response) => (response.ok ? response.json() : {}), () => ({}));
    loaded.set(address, messages);
  }
  return messages;
}

/** How dates are written: English ones as in Europe, the day before the month. @param {string} language */
export const dateLocale = (language) => (language === "en" ? "en-GB" : language);

/**
 * Digits as a locale writes a measured number.
 * @param {number} value @param {string} language @param {number} digits after the point
 */
export function decimal(value, language, digits) {
  return value.toLocaleString(language, { minimumFractionDigits: digits, maximumFractionDigits: digits });
}

/** A share in hundredths, as a locale writes it. @param {number} share @param {string} language */
export const percent = (share, language) => share.toLocaleString(language, { style: "percent" });

/** An angle in whole degrees, with a minus sign. @param {number} value @param {string} language */
export const degrees = (value, language) => `${(Math.round(value) || 0).toLocaleString(language).replace("-", "−")}°`;

/** The three numbers of a colour, with a minus sign. @param {readonly number[]} lab CIELAB @param {string} language */
export const labFigures = (lab, language) => lab.map((value) => decimal(value, language, 1).replace("-", "−"));

/** @param {readonly number[]} lab CIELAB @param {string} language */
export function labInWords(lab, language) {
  const [l, a, b] = labFigures(lab, language);
  return `L* ${l}  a* ${a}  b* ${b}`;
}

/** "3.1 MB": SI prefixes, as data are counted. @param {number} bytes @param {string} language */
export function byteCount(bytes, language) {
  const [value, unit] = bytes < 1e6 ? [bytes / 1e3, "kilobyte"] : [bytes / 1e6, "megabyte"];
  return value.toLocaleString(language, {
    style: "unit", unit, unitDisplay: "short", maximumFractionDigits: value < 10 ? 1 : 0,
  });
}
