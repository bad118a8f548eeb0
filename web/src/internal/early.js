// @ts-check
/**
 * What an element needs besides its own modules, asked for while those still come: they follow one another in a
 * chain, and the viewer and the words would begin after the last of them.
 */

/**
 * @param {URL} base folder of the viewer's own files
 * @param {string | null} backend only this one, when given
 * @param {string | null} language of the interface, when given
 * @param {string | null} mode
 */
export async function early(base, backend, language, mode) {
  const [{ loadModule, probeBackends }, { INTERFACE_LANGUAGES, bestLanguage, loadMessages }, { styles }] = await Promise.all([
    import("./backend.js"), import("./i18n.js"), import("./styles.js"),
  ]);
  const messages = new URL("messages/", base);
  const spoken = bestLanguage(language === null ? navigator.languages : [language], INTERFACE_LANGUAGES);
  for (const tag of new Set([spoken, "en"])) void loadMessages(tag, messages);
  styles(base, mode);
  const [first] = await probeBackends(backend);
  // Who needs it hears of a failure, and asks again.
  if (first) await loadModule(first, base).catch(() => {});
}
