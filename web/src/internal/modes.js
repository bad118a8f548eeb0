// @ts-check
/** Other furniture around the picture than a scholar's: fetched with the element when its `mode` names it. */

/**
 * @typedef {object} Hooks what furniture may use besides the context
 * @property {HTMLElement} element the room, all of the element
 * @property {import("./words.js").Words} words
 * @property {import("./wall.js").Wall} wall
 * @property {Record<string, any>} memory of this sitting: furniture is made anew when the language changes
 * @property {(type: string, detail: unknown) => void} say an event of the element
 * @property {() => string[]} languages that can be chosen
 * @property {(name: string) => string | null} option an attribute of the element
 * @property {(id: string, image: ImageBitmap) => void} supply a new image for a layer that was added
 */

/** `restored`: after the device was lost and is another. @typedef {import("./context.js").Panel & {page(open: string | null): void, restored?: () => void}} Furniture */
/**
 * @typedef {object} Mode
 * @property {(ctx: import("./context.js").Context, hooks: Hooks) => Furniture} furniture
 * @property {(opened: {source: import("./source.js").Source, document: Uint8Array}) => Uint8Array | Promise<Uint8Array>} [arrange]
 *   changes the document before it is opened, and may lay files beside it
 */

/** @type {Record<string, {style: string, load: () => Promise<Mode>}>} */
const MODES = {
  gallery: { style: "gallery.css", load: () => import("./gallery/mode.js") },
  colouring: { style: "colouring.css", load: () => import("./colouring/mode.js") },
};

/** @param {string | null} name */
export const modeNamed = (name) => (name !== null && Object.hasOwn(MODES, name) ? MODES[name] : undefined);
