// @ts-check
/** Names of steps, for undo and redo. */

/** A name of a step stays short (characters). */
const LONGEST = 40;

/** @param {import("../../context.js").Context} ctx @param {string} key @param {import("../../../types.d.ts").Text | null | undefined} title of what was changed */
export function labelOf(ctx, key, title) {
  const name = ctx.text(title);
  return ctx.t(key, { name: name.length > LONGEST ? `${name.slice(0, LONGEST - 1)}…` : name });
}
