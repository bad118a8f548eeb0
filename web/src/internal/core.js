// @ts-check
/** All that an element needs once somebody comes near it; before that nothing of it is fetched. */
export { Shell } from "./shell.js";
export { addressOf, viewOf } from "./address.js";

const STYLES = ["room.css", "plate.css", "wall.css", "audit.css", "editing.css", "measure.css", "photographs.css", "status.css", "print.css"];

/** One set of style sheets a page. @type {Promise<CSSStyleSheet[]> | null} */
let sheets = null;

/** @param {URL} base folder of the viewer's own files @param {string} name of a file in `styles/` */
export async function sheet(base, name) {
  const made = new CSSStyleSheet();
  const response = await fetch(new URL(`styles/${name}`, base));
  made.replaceSync(response.ok ? await response.text() : "");
  return made;
}

/** @param {URL} base folder of the viewer's own files */
export function styles(base) {
  sheets ??= Promise.all(STYLES.map((name) => sheet(base, name))).catch(() => []);
  return sheets;
}
