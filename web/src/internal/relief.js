// @ts-check
/**
 * What light needs of every vertex besides its normal: smoothed normals and what the object hides of the
 * sky. Found once by the desk, in steps, when a view first asks for it.
 */

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").View} View */

/** Whether a view cannot be drawn without it. @param {View} view */
export const needsRelief = ({ light }) => light.mode !== "as-measured" && (light.relief !== 1 || light.occlusion > 0);

export class Relief {
  /** `failed` also where the object has no dossier, whose desk finds it. @type {"none" | "working" | "here" | "failed"} */
  state = "none";
  /** Of the work that is done, 0 to 1. */
  share = 0;
  /** Found, while the level of the surface that it is for is on its way. @type {Int16Array | null} */
  #waiting = null;

  /** @param {() => void} changed */
  constructor(changed) {
    this.changed = changed;
  }

  /** @param {Context} ctx @param {View} view */
  follow(ctx, view) {
    if (this.state === "none" && needsRelief(view)) void this.#find(ctx);
    if (this.#waiting) this.#give(ctx, this.#waiting);
  }

  /** The numbers are those of the finest level's vertices, which comes once light falls on it. @param {Context} ctx @param {Int16Array} numbers */
  #give(ctx, numbers) {
    const level = ctx.handle.surface_level();
    const later = level !== null && level.level < level.of;
    this.#waiting = later ? numbers : null;
    if (later) return;
    this.state = ctx.handle.supply_relief(numbers) ? "here" : "failed";
    ctx.stage.intent();
    this.changed();
  }

  /** @param {Context} ctx */
  async #find(ctx) {
    this.state = "working";
    try {
      const desk = await ctx.measurer();
      const numbers = await desk.relief((share) => {
        this.share = share;
        this.changed();
      }, ctx.signal);
      if (ctx.signal.aborted) return;
      this.#give(ctx, numbers);
    } catch {
      this.state = "failed";
    }
    if (ctx.signal.aborted) return;
    ctx.stage.intent();
    this.changed();
  }
}
