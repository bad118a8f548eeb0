// @ts-check
/**
 * What a panel may know and do. Panels read the view and send intents; the
 * state of the view itself lives in the viewer handle alone.
 */

/** @typedef {import("../types.d.ts").View} View */
/** @typedef {import("../types.d.ts").Text} Text */
/** @typedef {import("../types.d.ts").Probe} Probe */

/** @typedef {"pin" | "evidence" | "claim" | "pigment" | "person" | "review" | "region" | "view" | "state" | "layer"} FormKind */

/**
 * @typedef {{kind: "pin", id: string} | {kind: "region", id: string, probe: Probe | null} | {kind: "point", probe: Probe}
 *   | {kind: "evidence", id: string} | {kind: "claim", id: string} | {kind: "pigment", id: string} | {kind: "pins", ids: string[]}
 *   | {kind: "form", form: FormKind, id: string | null, with?: Record<string, unknown>}} Subject
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
 * @property {<T>(work: Promise<T>) => Promise<T>} during keeps the viewer until this work of its is done
 * @property {import("../types.d.ts").ViewerHandle["snapshot_tile"]} pictured a part of a picture, as fine as the layers are: what it needs is brought first
 * @property {AbortSignal} signal ends what is under way when the element goes
 * @property {() => View} view
 * @property {(partial: Partial<View>) => boolean} change false: refused, and said so on the page
 * @property {(subject: Subject, camera?: import("../types.d.ts").Camera | null) => void} show opens the card; the camera glides
 * @property {(partial: Partial<View>) => boolean} glide as `change`, with the camera gliding
 * @property {() => import("../types.d.ts").Camera | null} first_camera that shows the whole object
 * @property {() => HTMLElement} wall_content what is printed
 * @property {(partial: Partial<View>, focus?: boolean) => void} visit goes to a saved view and opens the card it names
 * @property {import("./tour/tour.js").Tour} tour the views that are gone through
 * @property {(page: string | null) => void} turnTo opens a page of the wall, or closes it
 * @property {(value: Text | null | undefined) => string} text
 * @property {import("./settings.js").Settings} settings
 * @property {import("./stage.js").Stage} stage for tools that work on the surface
 * @property {import("./relief.js").Relief} relief what light needs of every vertex
 * @property {() => Promise<import("./desk/desk.js").Desk>} desk the worker that examines, compares and edits; begun when first asked
 * @property {() => Promise<import("./desk/desk.js").Desk>} measurer the same for measuring, which a surface without a dossier has too
 * @property {import("./desk/session.js").EditSession | null} session while somebody edits
 * @property {import("./editing.js").Editors | null} editors forms, tools and pages of editing; there whenever `session` is
 * @property {() => number} changes how often the document or the region maps have changed
 * @property {boolean} editable whether editing can begin
 * @property {(on: boolean) => Promise<void>} edit begins or ends editing
 * @property {(error: unknown, key?: "change" | "editing") => void} refused says on the page that a change was not made, or that editing did not begin
 */

/**
 * @typedef {object} Panel
 * @property {HTMLElement} element
 * @property {(view: View) => void} [update] after the view has changed
 * @property {() => void} [leave] before something else is shown
 * @property {() => boolean} [begun] somebody has begun to write in it: kept for when it is opened again
 * @property {boolean} [keeps] it is not made anew when the document changes, but told by `changed`
 * @property {() => void} [changed] after the document has changed
 */

export {};
