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

  /** @param {() => void} changed */
  constructor(changed) {
    this.changed = changed;
  }

  /** @param {Context} ctx @param {View} view */
  follow(ctx, view) {
    if (this.state === "none" && needsRelief(view)) void this.#find(ctx);
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
      this.state = ctx.handle.supply_relief(numbers) ? "here" : "failed";
    } catch {
      this.state = "failed";
    }
    if (ctx.signal.aborted) return;
    ctx.stage.intent();
    this.changed();
  }
}
