// @ts-check
/** Looking straight at a region, so that it fills the picture. */
import { html } from "../dom.js";

/** @typedef {import("../context.js").Context} Context */

/** Free room around a region: a choice of ours. */
const ROOM = 1.15;
/** The camera stays off the poles. */
const HIGHEST_DEG = 89.5;

/** Glides to where a region is seen along its mean normal; from here where it faces all ways. @param {Context} ctx @param {string} id */
export async function lookStraightAt(ctx, id) {
  const region = ctx.dossier.regions.get(id);
  if (!region) return;
  try {
    const spot = await ctx.desk().then((desk) => desk.spot(region.number));
    if (!spot || ctx.signal.aborted) return;
    const { camera } = ctx.view();
    const { width, height } = ctx.stage.size;
    const half = Math.atan(Math.tan((camera.fov_deg * Math.PI) / 360) * Math.min(1, width / Math.max(1, height)));
    ctx.glide({
      camera: {
        ...camera, target_m: spot.middle_m, distance_m: (ROOM * Math.max(spot.radius_m, 1e-6)) / Math.sin(half),
        azimuth_deg: spot.azimuth_deg ?? camera.azimuth_deg,
        elevation_deg: Math.min(HIGHEST_DEG, Math.max(-HIGHEST_DEG, spot.elevation_deg ?? camera.elevation_deg)),
      },
    });
  } catch (error) {
    if (!ctx.signal.aborted) ctx.refused(error, "change");
  }
}

/** @param {Context} ctx @param {string} id of a region */
export function straightButton(ctx, id) {
  if (!ctx.dossier.regions.has(id)) return null;
  return html("div", { class: "acts" }, html("button", { class: "plain", type: "button", "data-straight": id, onclick: () => void lookStraightAt(ctx, id) }, ctx.t("card.straight")));
}
