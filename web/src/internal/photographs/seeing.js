// @ts-check
/** Where things of a photograph lie: turned on the page, before the surface, through its lens. No DOM here. */

/** @typedef {import("../tripod/types.d.ts").Frame} Frame */
/** @typedef {import("../tripod/types.d.ts").Answer} Answer */
/** @typedef {import("../../types.d.ts").Camera} Camera */
/** @typedef {[number, number, number]} Vector */
/** @typedef {[number, number]} Point */

/** Quarter turns clockwise that show a picture upright, by its EXIF orientation (tag 274; CIPA DC-008, 4.6.4); mirrored ones stay as stored. @param {number} exif */
export const quartersOf = (exif) => ({ 3: 2, 6: 1, 8: 3 })[exif] ?? 0;

/** A point of a picture of this size, in the picture turned by quarters clockwise. @param {Point} point @param {Point} size @param {number} quarters @returns {Point} */
export function turned([x, y], [w, h], quarters) {
  if (quarters === 1) return [h - y, x];
  if (quarters === 2) return [w - x, h - y];
  return quarters === 3 ? [y, w - x] : [x, y];
}

/** The other way. @param {Point} point of the turned picture @param {Point} size of the picture as stored @param {number} quarters @returns {Point} */
export function stored([x, y], [w, h], quarters) {
  if (quarters === 1) return [y, h - x];
  if (quarters === 2) return [w - x, h - y];
  return quarters === 3 ? [w - y, x] : [x, y];
}

/** @param {ArrayLike<number>} a @param {ArrayLike<number>} b */
export const dot = (a, b) => (a[0] ?? 0) * (b[0] ?? 0) + (a[1] ?? 0) * (b[1] ?? 0) + (a[2] ?? 0) * (b[2] ?? 0);
/** @param {Vector} a @param {Vector} b @returns {Vector} */
const cross = ([ax, ay, az], [bx, by, bz]) => [ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx];
/** @param {Vector} v @returns {Vector} */
const unit = (v) => { const length = Math.hypot(...v) || 1; return /** @type {Vector} */ (v.map((one) => one / length)); };
/** @param {Vector} from @param {Vector} way @param {number} by @returns {Vector} */
export const along = ([x, y, z], [u, v, w], by) => [x + u * by, y + v * by, z + w * by];

/** Directions of the object, as the viewer has them. @param {{up: Vector, front: Vector}} orientation */
export function basisOf({ up: up_said, front: front_said }) {
  const up = unit(up_said);
  const right = unit(cross(up, front_said));
  return { right, up, front: cross(right, up) };
}

/** The camera of the picture stays off the poles. */
const HIGHEST_DEG = 89.5;
/** Free room around the photograph: a choice of ours. */
const ROOM = 1.03;

/**
 * The camera that stands where the photograph was taken from and takes all of it in. It stands upright,
 * whichever way the photograph lies.
 * @param {Frame} frame @param {{up: Vector, front: Vector}} orientation @param {Vector} middle_m of the object @param {number} aspect width over height of the picture on the page
 * @returns {Camera | null} null: looking straight up or down, where it cannot stand
 */
export function cameraThrough(frame, orientation, middle_m, aspect) {
  const { right, up, front } = basisOf(orientation);
  const axis = unit(frame.middle);
  const degrees = 180 / Math.PI;
  const backward = /** @type {Vector} */ (axis.map((one) => -one));
  const elevation_deg = Math.asin(Math.max(-1, Math.min(1, dot(backward, up)))) * degrees;
  if (Math.abs(elevation_deg) > HIGHEST_DEG) return null;
  const azimuth_deg = Math.atan2(dot(backward, right), dot(backward, front)) * degrees;
  const to_middle = /** @type {Vector} */ (middle_m.map((one, axis) => one - (frame.centre_m[axis] ?? 0)));
  const distance_m = Math.max(dot(to_middle, axis), 1e-3 * Math.hypot(...to_middle), 1e-6);
  const aside = unit(cross(up, backward));
  const upward = cross(backward, aside);
  const tangents = frame.border.map((ray) => {
    const depth = dot(ray, axis);
    return depth > 0 ? Math.max(Math.abs(dot(ray, upward)) / depth, Math.abs(dot(ray, aside)) / depth / aspect) : Infinity;
  });
  const half = Math.max(...tangents);
  if (!Number.isFinite(half)) return null;
  return { target_m: along(frame.centre_m, axis, distance_m), azimuth_deg, elevation_deg, distance_m, fov_deg: 2 * Math.atan(half * ROOM) * degrees };
}

/** Arrows are drawn so many times as long as they are: round steps. */
const TIMES = [500, 200, 100, 50, 20, 10, 5, 2, 1];
/** The longest right one takes up this share of the photograph's width at most: a choice of ours. */
const LONGEST = 0.06;

/** @param {Answer} answer @returns {number} */
export function arrowTimes({ fit }) {
  const lengths = fit.pairs.filter(({ wrong }) => !wrong).map(({ off_px }) => (off_px ? Math.hypot(...off_px) : 0));
  const longest = Math.max(...lengths, 1e-9);
  return TIMES.find((times) => longest * times <= fit.lens.width_px * LONGEST) ?? 1;
}

/** Whether a patch under these nodes is there in what is shown. @param {string[]} nodes @param {import("../../types.d.ts").DossierDocument} document @param {string[]} states ids of the states in view; none for everything */
export function isThere(nodes, document, states) {
  const parts = (document.surface?.parts ?? []).filter(({ node }) => node !== undefined && nodes.includes(node));
  if (states.length === 0 || parts.length === 0) return true;
  const shown = states.flatMap((id) => document.states?.find((state) => state.id === id)?.parts ?? []);
  return parts.some(({ id }) => shown.includes(id));
}

/** The inverse of a matrix of four by four, column-major; null where it has none. @param {ArrayLike<number>} m @returns {Float64Array | null} */
export function inverse(m) {
  // Gauss and Jordan with pivots, on the matrix beside the identity.
  const rows = [0, 1, 2, 3].map((row) => [0, 1, 2, 3].map((column) => m[column * 4 + row] ?? 0).concat([0, 1, 2, 3].map((column) => Number(column === row))));
  for (let at = 0; at < 4; at += 1) {
    const best = [at, at + 1, at + 2, at + 3].filter((row) => row < 4).reduce((a, b) => (Math.abs(rows[b]?.[at] ?? 0) > Math.abs(rows[a]?.[at] ?? 0) ? b : a));
    [rows[at], rows[best]] = [/** @type {number[]} */ (rows[best]), /** @type {number[]} */ (rows[at])];
    const pivot = rows[at]?.[at] ?? 0;
    if (pivot === 0) return null;
    rows[at] = (rows[at] ?? []).map((value) => value / pivot);
    for (let row = 0; row < 4; row += 1) {
      const by = row === at ? 0 : rows[row]?.[at] ?? 0;
      if (by !== 0) rows[row] = (rows[row] ?? []).map((value, column) => value - by * (rows[at]?.[column] ?? 0));
    }
  }
  return Float64Array.from({ length: 16 }, (_, index) => rows[index % 4]?.[4 + Math.floor(index / 4)] ?? 0);
}
