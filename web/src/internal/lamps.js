// @ts-check
/** Lamps around the object: where they lie on the disc that the picture shows of them. No DOM here. */
import { clamp } from "./geometry.js";

/** @typedef {import("../types.d.ts").Lamp} Lamp */
/** @typedef {{azimuth_deg: number, elevation_deg: number}} Direction */

/** Nearest and furthest lamp whose distance is shown, in radii of the object: choices of ours, from just outside it to where light across it is even to a quarter. */
const [NEAREST, FURTHEST] = [1.2, 8];
/** A lamp with a distance has at most this share; from the second one up it is meant to be far. The gap between them is less than a step. */
const [LAST_NEAR, FIRST_FAR] = [0.99, 0.995];

const rad = (/** @type {number} */ deg) => (deg * Math.PI) / 180;
const deg = (/** @type {number} */ angle) => (angle * 180) / Math.PI;

/** Right, up and front of the object. @param {Direction} direction @returns {[number, number, number]} */
function vectorOf({ azimuth_deg, elevation_deg }) {
  const [a, e] = [rad(azimuth_deg), rad(elevation_deg)];
  return [Math.sin(a) * Math.cos(e), Math.sin(e), Math.cos(a) * Math.cos(e)];
}

/** Right, up and backward of the picture, in directions of the object. @param {Direction} camera @returns {[number, number, number][]} */
function axesOf({ azimuth_deg, elevation_deg }) {
  const [a, e] = [rad(azimuth_deg), rad(elevation_deg)];
  return [
    [Math.cos(a), 0, -Math.sin(a)],
    [-Math.sin(e) * Math.sin(a), Math.cos(e), -Math.sin(e) * Math.cos(a)],
    vectorOf({ azimuth_deg, elevation_deg }),
  ];
}

/**
 * A lamp as seen from where the camera looks: x to the right and y up, on a disc of radius 1; z towards
 * the eye, below 0 behind the object.
 * @param {Direction} camera @param {Direction} lamp @returns {[number, number, number]}
 */
export function onDisc(camera, lamp) {
  const direction = vectorOf(lamp);
  const along = (/** @type {number[]} */ axis) => axis.reduce((sum, value, index) => sum + value * (direction[index] ?? 0), 0);
  const [x, y, z] = axesOf(camera).map(along);
  return [x ?? 0, y ?? 0, z ?? 0];
}

/**
 * The direction of a lamp that stands there; beyond the rim it stays on it.
 * @param {Direction} camera @param {number} x @param {number} y @param {boolean} behind @returns {Direction}
 */
export function fromDisc(camera, x, y, behind) {
  const length = Math.hypot(x, y);
  const scale = length > 1 ? 1 / length : 1;
  const z = Math.sqrt(Math.max(0, 1 - length * length)) * (behind ? -1 : 1);
  const parts = [x * scale, y * scale, z];
  const axes = axesOf(camera);
  const along = (/** @type {number} */ index) => axes.reduce((sum, axis, row) => sum + (axis[index] ?? 0) * (parts[row] ?? 0), 0);
  return { azimuth_deg: deg(Math.atan2(along(0), along(2))), elevation_deg: deg(Math.asin(clamp(along(1), -1, 1))) };
}

/** Share of the way from the nearest lamp (0) to one so far that its light is parallel (1). @param {number} distance_m 0: far @param {number} radius_m */
export function shareOfDistance(distance_m, radius_m) {
  if (distance_m === 0) return 1;
  return clamp(Math.log(distance_m / radius_m / NEAREST) / Math.log(FURTHEST / NEAREST), 0, LAST_NEAR);
}

/** And back. @param {number} share @param {number} radius_m */
export function distanceOfShare(share, radius_m) {
  return share >= FIRST_FAR ? 0 : radius_m * NEAREST * (FURTHEST / NEAREST) ** clamp(share, 0, 1);
}
