// @ts-check
/**
 * What a panel may know and do. Panels read the view and send intents; the
 * state of the view itself lives in the viewer handle alone.
 */

/** @typedef {import("../types.d.ts").View} View */
/** @typedef {import("../types.d.ts").Text} Text */
/** @typedef {import("../types.d.ts").Probe} Probe */

/**
 * @typedef {{kind: "pin", id: string} | {kind: "region", id: string, probe: Probe | null} | {kind: "point", probe: Probe}} Subject
 *   what the card is about
 */

/**
 * @typedef {object} Context
 * @property {import("./i18n.js").Translate} t
 * @property {string} language of the interface
 * @property {readonly string[]} languages for dossier texts, most wanted first
 * @property {import("./lookup.js").Lookup} dossier
 * @property {import("../types.d.ts").ViewerHandle} handle
 * @property {import("./source.js").Source} source the dossier's files
 * @property {AbortSignal} signal ends what is under way when the element goes
 * @property {() => View} view
 * @property {(partial: Partial<View>) => boolean} change false: refused, and said so on the page
 * @property {(subject: Subject) => void} show opens the card
 * @property {(partial: Partial<View>) => void} visit goes to a saved view and opens the card it names
 * @property {(page: string | null) => void} turnTo opens a page of the wall, or closes it
 * @property {(value: Text | null | undefined) => string} text
 * @property {import("./settings.js").Settings} settings
 */

/**
 * @typedef {object} Panel
 * @property {HTMLElement} element
 * @property {(view: View) => void} [update] after the view has changed
 */

export {};
