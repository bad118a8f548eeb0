// @ts-check
/** What a view shows, and how its layers are shown. No DOM here. */

/** @typedef {import("../types.d.ts").View} View */
/** @typedef {import("../types.d.ts").LayerLook} LayerLook */

/** A layer as it is. @type {LayerLook} */
export const AS_IT_IS = { opacity: 1, ends: [0, 1], map: "sequence", lines: 0 };

/** @param {View} view @param {string} id @returns {LayerLook} */
export const lookOf = (view, id) => ({ ...AS_IT_IS, ...view.layers[id] });

/** The change of a view that shows a layer otherwise. @param {View} view @param {string} id @param {Partial<LayerLook>} change */
export const withLook = (view, id, change) => ({ layers: { ...view.layers, [id]: { ...lookOf(view, id), ...change } } });

/** The ends, the lower first. @param {LayerLook} look @returns {[number, number]} */
export const sorted = ({ ends: [a, b] }) => (a <= b ? [a, b] : [b, a]);

/** Where so much of the surface has lower values. @param {Float64Array | number[]} classes shares by value, in equal classes @param {number} share 0 to 1 */
export function percentile(classes, share) {
  let below = 0;
  for (const [index, part] of classes.entries()) {
    if (part > 0 && below + part >= share) return (index + (share - below) / part) / classes.length;
    below += part;
  }
  return 1;
}

/** How many are seen at once; a mixture is of three at most. @param {Pick<View, "compare" | "count">} view */
export function countOf({ compare, count }) {
  if (compare === "one") return 1;
  if (compare === "swipe" || compare === "pair") return count;
  return compare === "blend" ? Math.min(3, count) : 2;
}

/** Ids of the states and bands that are seen, each once, in the order of the view. @param {Pick<View, "compare" | "count" | "left" | "right" | "third" | "fourth">} view */
export const shownIn = (view) => [...new Set([view.left, view.right, view.third, view.fourth].slice(0, countOf(view)))];

/** Ids of the layers that a view shows, the ones of the first state first. @param {import("./context.js").Context["dossier"]} dossier @param {View} view */
export function layersIn(dossier, view) {
  const { over } = view;
  const layers = shownIn(view).flatMap((id) => dossier.states.get(id)?.layers ?? [id]);
  return [...new Set([...layers, ...(over ? [over] : [])])].filter((id) => dossier.layers.has(id));
}

/**
 * What a picture of a view needs of what is fetched: its layers and the surface; region maps where regions are marked or
 * lit (as `App::asks` of the viewer has it), and spectra under a lamp.
 * @param {import("./context.js").Context["dossier"]} dossier @param {View} view @returns {(item: import("../types.d.ts").Wanted) => boolean}
 */
export function neededBy(dossier, view) {
  const layers = layersIn(dossier, view);
  const with_regions = view.region !== null || view.overlay !== null || view.lamp !== null || view.light.mode !== "as-measured";
  return ({ kind, layer }) => {
    if (layer !== null) return layers.includes(layer);
    if (kind === "labels") return with_regions;
    return kind !== "spectrum" || view.lamp !== null;
  };
}

/** Ids of the layers that are seen. @param {import("./context.js").Context} ctx */
export const layersSeen = (ctx) => layersIn(ctx.dossier, ctx.view());
