// @ts-check
/** What a person prefers on this device, apart from any dossier. */

/** @typedef {{theme: "system" | "light" | "dark"}} Settings */

const KEY = "ganosis-settings";

/** @returns {Settings} */
export function readSettings() {
  try {
    const theme = JSON.parse(localStorage.getItem(KEY) ?? "{}").theme;
    if (theme === "light" || theme === "dark") return { theme };
  } catch {
    // No storage in this page, or not ours: the system's choice stands.
  }
  return { theme: "system" };
}

/** @param {Settings} settings */
export function writeSettings(settings) {
  try {
    localStorage.setItem(KEY, JSON.stringify(settings));
  } catch {
    // Without storage the choice holds until the page is left.
  }
}
