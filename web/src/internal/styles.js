// @ts-check
/** The element's style sheets, one set a page however many elements. */
import { modeNamed } from "./modes.js";

const STYLES = ["room.css", "plate.css", "wall.css", "audit.css", "editing.css", "measure.css", "photographs.css", "status.css", "print.css"];
/** What is seen before anybody opens a page of the wall. */
const FIRST = ["room.css", "plate.css", "status.css"];

/** @type {Map<string, Promise<CSSStyleSheet>>} */
const sheets = new Map();

/** @param {URL} base @param {string} name of a file in `styles/` */
async function read(base, name) {
  const made = new CSSStyleSheet();
  const response = await fetch(new URL(`styles/${name}`, base)).catch(() => null);
  made.replaceSync(response?.ok ? await response.text() : "");
  return made;
}

/** @param {URL} base @param {string} name */
function sheet(base, name) {
  const known = sheets.get(name) ?? read(base, name);
  sheets.set(name, known);
  return known;
}

/**
 * Both in the order of the cascade: what the element begins with, and then all.
 * @param {URL} base folder of the viewer's own files @param {string | null} mode
 */
export function styles(base, mode) {
  const own = modeNamed(mode)?.style;
  const all = [...STYLES, ...(own ? [own] : [])];
  const needed = all.filter((name) => FIRST.includes(name) || name === own);
  // The needed ones are asked for before the others.
  const first = Promise.all(needed.map((name) => sheet(base, name)));
  return { first, all: first.then(() => Promise.all(all.map((name) => sheet(base, name)))) };
}
