// @ts-check
/** How layers are shown: their part of a view. No DOM here. */

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

/** Ids of the layers that are seen, the ones of the first state first. @param {import("./context.js").Context} ctx */
export function layersSeen(ctx) {
  const { left, right, third, fourth, compare, count, over } = ctx.view();
  const most = compare === "one" ? 1 : compare === "swipe" || compare === "pair" ? count : compare === "blend" ? Math.min(3, count) : 2;
  const shown = [left, right, third, fourth].slice(0, most);
  const layers = shown.flatMap((id) => ctx.dossier.states.get(id)?.layers ?? [id]);
  return [...new Set([...layers, ...(over ? [over] : [])])].filter((id) => ctx.dossier.layers.has(id));
}
