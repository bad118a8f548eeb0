// @ts-check
/**
 * The page for a frame, for platforms that allow nothing else: its address says what the element's
 * attributes would, and after `#` the view that it begins with. With `page=https://school.example` the page of that origin, and no other, may speak
 * to it by messages, version 1:
 *
 * - asked `{ganosis: 1, id, ask, …}`: `"view"`, `"set-view"` with `view`, `"dossier"`, or `"picture"` with
 *   `width` and `height` in pixels; answered `{ganosis: 1, id, answer}` or `{ganosis: 1, id, refused}`;
 * - told `{ganosis: 1, tell, …}`: `"ready"` with `dossier` and `view`, `"view"` with `view`, `"pin"` with
 *   `pin`, `"trouble"` with `message` and `file`.
 */
import { viewOf } from "./address.js";
import { place } from "./placing.js";

const VERSION = 1;
/** A view that the address names after `#`, as the viewer's own pages write it. */
const view_told = viewOf(location.hash);
/** Largest side of a picture that a page may ask for (px): what a WebGL 2 device draws at least. */
const LARGEST_PX = 2048;

const parameters = new URLSearchParams(location.search);
const element = place(["src", "state", "left", "right", "compare", "position", "view", "language", "controls", "poster", "alt", "backend", "patience"], { edit: "never" });

if (view_told) element.view = /** @type {import("../types.d.ts").View} */ (view_told);

/** @type {Record<string, (asked: any) => unknown>} */
const ANSWERS = {
  view: () => element.view,
  dossier: () => element.dossier,
  "set-view": ({ view }) => {
    if (typeof view !== "object" || view === null) throw new Error("set-view needs a view: an object with the fields to change.");
    element.view = view;
    return element.view;
  },
  picture: ({ width, height }) => {
    if (![width, height].every((side) => Number.isInteger(side) && side > 0 && side <= LARGEST_PX)) throw new Error(`picture needs width and height in whole pixels, up to ${LARGEST_PX}.`);
    return element.snapshot({ width, height });
  },
};

/** The one origin that may listen and ask. @param {string | null} page */
function originOf(page) {
  try {
    const { origin, protocol } = new URL(page ?? "");
    return protocol === "https:" || protocol === "http:" ? origin : null;
  } catch {
    return null;
  }
}

const origin = originOf(parameters.get("page"));
if (origin && window.parent !== window) {
  /** @param {object} message */
  const post = (message) => window.parent.postMessage({ ganosis: VERSION, ...message }, origin);
  window.addEventListener("message", async ({ source, origin: from, data }) => {
    if (source !== window.parent || from !== origin || data?.ganosis !== VERSION || typeof data.ask !== "string") return;
    const { id = null, ask } = data;
    try {
      const answer = Object.hasOwn(ANSWERS, ask) ? ANSWERS[ask] : null;
      if (!answer) throw new Error(`Version ${VERSION} knows no question "${ask}".`);
      post({ id, answer: await answer(data) });
    } catch (error) {
      post({ id, refused: error instanceof Error ? error.message : String(error) });
    }
  });
  element.ready.then(() => post({ tell: "ready", dossier: element.dossier, view: element.view }), () => {});
  element.addEventListener("viewchange", ({ detail }) => post({ tell: "view", view: detail }));
  element.addEventListener("pinopen", ({ detail }) => post({ tell: "pin", pin: detail.pin }));
  element.addEventListener("dossiererror", ({ detail }) => post({ tell: "trouble", ...detail }));
}
