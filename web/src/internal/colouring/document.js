// @ts-check
/**
 * Two documents made of a dossier's: the one that is shown has a state of the child's own beside the others;
 * the one that is painted on has maps whose numbers are colours in place of regions. No DOM here.
 */

/** @typedef {import("../../types.d.ts").DossierDocument} DossierDocument */

/** Id of the state and of its layer. */
export const OWN = "ganosis-own-colours";
/** The region maps as a band, for filling whole regions. */
export const REGIONS = "ganosis-region-numbers";
/** Larger sheets would be slow to draw anew at every touch, and a finger paints no finer (px). A choice of ours. */
const LARGEST_PX = 1024;
const USUAL_PX = 1024;

/** @typedef {{sheet: string, file: string, width_px: number, height_px: number}} Sheet */

/** The child's sheets: as the largest image over each, but no larger than is quick. @param {DossierDocument} document @returns {Sheet[]} */
export function sheetsOf(document) {
  const images = (document.layers ?? []).flatMap((layer) => layer.images ?? []);
  return (document.surface?.sheets ?? []).map(({ id }) => {
    const sizes = images.filter((image) => image.sheet === id && (image.width_px ?? 0) > 0 && (image.height_px ?? 0) > 0);
    const [width, height] = sizes.map(({ width_px = 1, height_px = 1 }) => [width_px, height_px]).sort(([a = 0, b = 0], [c = 0, d = 0]) => c * d - a * b)[0] ?? [USUAL_PX, USUAL_PX];
    const share = Math.min(1, LARGEST_PX / Math.max(width ?? 1, height ?? 1));
    return { sheet: id, file: `colouring/${encodeURIComponent(id)}.png`, width_px: Math.max(1, Math.round((width ?? 1) * share)), height_px: Math.max(1, Math.round((height ?? 1) * share)) };
  });
}

/** The layer and the state of the child's own. @param {any} document as it was read @param {Sheet[]} sheets */
function ownLook(document, sheets) {
  const layer = { id: OWN, kind: "colour", colour_space: "srgb", title: "", images: sheets };
  const parts = (document.states ?? []).find((/** @type {{kind?: string}} */ { kind }) => kind === "as-found")?.parts;
  return { layer, state: { id: OWN, kind: "hypothetical", title: "", layers: [OWN], ...(parts && { parts }) } };
}

/** With the child's state, first of all. @param {any} document as it was read @param {Sheet[]} sheets */
export function shownDocument(document, sheets) {
  const { layer, state } = ownLook(document, sheets);
  return { ...document, layers: [...(document.layers ?? []), layer], states: [...(document.states ?? []), state] };
}

/** For the desk that is painted with. @param {any} document as it was read @param {Sheet[]} sheets @param {number} full the code that stands for 1 in the region maps */
export function paintedDocument(document, sheets, full) {
  const regions = (document.region_map?.images ?? []).map((/** @type {{sheet: string, file: string}} */ { sheet, file }) => ({ sheet, file, ...size(sheets, sheet) }));
  const paint = { id: OWN, kind: "colour", title: "", images: sheets };
  const palette = (document.palette ?? []).map((/** @type {{id: string}} */ { id }, /** @type {number} */ index) => ({ id, number: index + 1, title: id }));
  return {
    format: document.format, id: `${document.id ?? ""} ${OWN}`, title: "", surface: document.surface, states: [], regions: palette,
    layers: [paint, ...(regions.length > 0 ? [{ id: REGIONS, kind: "band", band: "VIS", title: "", range: [0, full], images: regions }] : [])],
  };
}

/**
 * For taking the object home: the child's colours alone.
 * @param {any} document as it was read @param {Sheet[]} sheets
 * @param {{language: string, title: string, own: string, by: string, credit: string}} words
 */
export function takenDocument(document, sheets, { language, title, own, by, credit }) {
  const { layer, state } = ownLook(document, sheets);
  return {
    format: document.format, id: `${document.id || "object"}-coloured`, languages: [language], title, description: by,
    ...(document.object?.orientation && { object: { orientation: document.object.orientation } }),
    ...((document.rights || credit) && { rights: { ...document.rights, credit } }),
    surface: document.surface, layers: [{ ...layer, title: own }], states: [{ ...state, title: own }],
  };
}

/** @param {Sheet[]} sheets @param {string} id */
function size(sheets, id) {
  const found = sheets.find(({ sheet }) => sheet === id);
  return found ? { width_px: found.width_px, height_px: found.height_px } : {};
}

/** The code that stands for 1 in a PNG of greys: its bit depth stands in byte 24 (ISO/IEC 15948, 11.2.1). @param {Uint8Array} png */
export const fullScale = (png) => (png[24] === 16 ? 65535 : 255);
