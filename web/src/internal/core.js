// @ts-check
/** All that an element needs once somebody comes near it; before that nothing of it is fetched. */
import { modeNamed } from "./modes.js";

export { Shell } from "./shell.js";
export { addressOf, viewOf } from "./address.js";

const STYLES = ["room.css", "plate.css", "wall.css", "audit.css", "editing.css", "measure.css", "photographs.css", "status.css", "print.css"];

/** One set of style sheets a page. @type {Map<string, Promise<CSSStyleSheet>>} */
const sheets = new Map();

/** @param {URL} base @param {string} name of a file in `styles/` */
async function read(base, name) {
  const made = new CSSStyleSheet();
  const response = await fetch(new URL(`styles/${name}`, base)).catch(() => null);
  made.replaceSync(response?.ok ? await response.text() : "");
  return made;
}

/** @param {URL} base folder of the viewer's own files @param {string | null} mode */
export function styles(base, mode) {
  const own = modeNamed(mode)?.style;
  return Promise.all([...STYLES, ...(own ? [own] : [])].map((name) => {
    const sheet = sheets.get(name) ?? read(base, name);
    sheets.set(name, sheet);
    return sheet;
  }));
}
