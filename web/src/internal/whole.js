// @ts-check
/**
 * What is seen whole stays whole when the picture becomes narrower: beside a second pane, on a tablet that
 * is turned, above a card. Where it was nearer, and when the width is back, the camera stays where it was.
 */

/** @typedef {import("../types.d.ts").Camera} Camera */

/** Share left free around an object that is seen whole; `OrbitCamera::fit` of the viewer has the same. */
const FREE = 1.06;
/** Nearer than this to where it is just seen whole, a camera was put there for that: what is told of it is rounded. */
const JUST = 0.002;

/** From where a ball is just seen whole. @param {number} radius_m @param {number} fov_deg vertical @param {number} aspect width to height */
export const wholeFrom = (radius_m, fov_deg, aspect) => (FREE * radius_m) / Math.sin(Math.atan(Math.tan((fov_deg * Math.PI) / 360) * Math.min(aspect, 1)));

/** Cameras that were put farther away for a narrow picture, by the distance they got: what they were. @type {Map<number, Camera>} */
const saved_as = new Map();
/** So many are remembered. A choice of ours: more than a tour has stops in sight of one another. */
const REMEMBERED = 32;

/** Of logarithms in double precision, with room. */
const ROUNDING = 1e-9;

/**
 * A view as it was saved, for a picture that is narrower than the one it was made in: what a square in the middle
 * of that showed stays seen. Where a camera does not say in which shape of picture it was, the picture was no
 * narrower than high. Panes lie below one another where it is narrow, and keep their shape.
 * @template {{camera?: Camera, compare?: string}} V @param {V} view @param {number} aspect @returns {V}
 */
export function inShape(view, aspect) {
  const { camera, compare } = view;
  if (!camera?.distance_m || compare === "pair") return view;
  const distance_m = distanceIn(camera, aspect);
  if (distance_m === camera.distance_m) return view;
  saved_as.delete(distance_m);
  saved_as.set(distance_m, camera);
  for (const oldest of saved_as.keys()) if (saved_as.size > REMEMBERED) saved_as.delete(oldest);
  return { ...view, camera: { ...camera, distance_m } };
}

/** A glide ends at its distance but for rounding. @param {number} distance_m */
function savedAs(distance_m) {
  for (const [there, camera] of saved_as) if (Math.abs(there / distance_m - 1) < ROUNDING) return camera;
  return undefined;
}

/** From where a saved camera shows in a picture of another shape what it was saved for. @param {Camera} camera @param {number} aspect */
function distanceIn({ distance_m, aspect: saved }, aspect) {
  const closer = Math.min(aspect, 1) / Math.min(saved ?? 1, 1);
  return closer > 0 && closer < 1 ? distance_m / closer : distance_m;
}

export class KeptWhole {
  /** What the last frame had. @type {{camera: Camera, aspect: number} | null} */
  #last = null;
  /** The distance that somebody chose, and the shape of picture it was chosen in; or the view that was saved. @type {{distance_m: number, aspect: number, saved?: Camera | undefined}} */
  #meant = { distance_m: 0, aspect: 1 };

  /**
   * The distance to go to after a frame, or null to stay. Whoever brings a camera along with another picture means it so.
   * @param {Camera} camera @param {number} aspect of a pane @param {number} radius_m
   * @returns {number | null}
   */
  next(camera, aspect, radius_m) {
    const last = this.#last;
    this.#last = { camera, aspect };
    const same = last !== null && /** @type {const} */ (["distance_m", "azimuth_deg", "elevation_deg", "fov_deg"]).every((key) => camera[key] === last.camera[key]);
    if (!same) this.#meant = { distance_m: camera.distance_m, aspect, saved: savedAs(camera.distance_m) };
    if (!same || aspect === last.aspect) return null;
    const meant = this.#meant;
    const [then, now] = [meant.aspect, aspect].map((shape) => wholeFrom(radius_m, camera.fov_deg, shape));
    if (then === undefined || now === undefined) return null;
    const part = meant.distance_m < then * (1 - JUST);
    const just = meant.distance_m <= then * (1 + JUST);
    // A saved view that was opened in a narrow picture shows in a wider one no more than it was saved for.
    const distance_m = meant.saved ? distanceIn(meant.saved, aspect) : part ? meant.distance_m : just ? now : Math.max(meant.distance_m, now);
    if (distance_m === camera.distance_m) return null;
    this.#last.camera = { ...camera, distance_m };
    return distance_m;
  }
}
