// @ts-check
/** The words of the interface in the language spoken now. */
import { INTERFACE_LANGUAGES, bestLanguage, directionOf, loadMessages, translator } from "./i18n.js";

export class Words {
  /** @type {import("./i18n.js").Translate} */
  t = translator({}, {}, "en");
  language = "en";

  /** @param {URL} base folder of the viewer's own files @param {HTMLElement} element that carries the language */
  constructor(base, element) {
    this.folder = new URL("messages/", base);
    this.element = element;
  }

  /** @param {string} wanted a language tag */
  async speak(wanted) {
    const language = bestLanguage([wanted], INTERFACE_LANGUAGES);
    const [messages, fallback] = await Promise.all([loadMessages(language, this.folder), loadMessages("en", this.folder)]);
    this.language = language;
    this.t = translator(messages, fallback, language);
    this.element.lang = language;
    this.element.dir = directionOf(language);
  }
}
