// @ts-check
/**
 * What an element needs besides its own modules, asked for while those still come: they follow one another in a
 * chain, and the viewer and the words would begin after the last of them. Pages of ours ask for this module and what
 * it imports before they need them, so that the viewer goes ahead of the chain where a server takes few requests at once.
 */
import { loadModule, probeBackends } from "./backend.js";
import { INTERFACE_LANGUAGES, bestLanguage, loadMessages } from "./i18n.js";
import { styles } from "./styles.js";

/**
 * @param {URL} base folder of the viewer's own files
 * @param {string | null} backend only this one, when given
 * @param {string | null} language of the interface, when given
 * @param {string | null} mode
 */
export async function early(base, backend, language, mode) {
  // Who needs it hears of a failure, and asks again.
  const viewer = probeBackends(backend).then(([first]) => first && loadModule(first, base)).catch(() => {});
  const messages = new URL("messages/", base);
  const spoken = bestLanguage(language === null ? navigator.languages : [language], INTERFACE_LANGUAGES);
  for (const tag of new Set([spoken, "en"])) void loadMessages(tag, messages);
  styles(base, mode);
  await viewer;
}
