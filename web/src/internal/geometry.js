// @ts-check
/** The swipe divider, and words for where the camera stands. No DOM here. */

/** @typedef {{width: number, height: number}} Size in CSS pixels */

/**
 * Where a point lies across the divider: `t < position` shows the left state.
 * p is taken from the centre, y down; n = (cos a, sin a);
 * t = p·n / (|w cos a| + |h sin a|) + 0.5, so that 0 and 1 are the last corners
 * that the divider meets on its way.
 * @param {number} x @param {number} y CSS pixels from the top left corner
 * @param {Size} size @param {number} angle_deg
 */
export function positionAt(x, y, { width, height }, angle_deg) {
  const angle = (angle_deg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const reach = Math.abs(width * cos) + Math.abs(height * sin);
  if (reach === 0) return 0.5;
  return ((x - width / 2) * cos + (y - height / 2) * sin) / reach + 0.5;
}

/**
 * The point of the divider nearest to the centre of the canvas.
 * @param {number} position @param {Size} size @param {number} angle_deg
 */
export function pointOfDivider(position, { width, height }, angle_deg) {
  const angle = (angle_deg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const along = (position - 0.5) * (Math.abs(width * cos) + Math.abs(height * sin));
  return { x: width / 2 + along * cos, y: height / 2 + along * sin };
}

/**
 * On which side of the divider the `left` state lies on the screen.
 * @param {number} angle_deg
 * @returns {"left" | "above" | "right" | "below"}
 */
export function sideOfLeft(angle_deg) {
  const turned = (((angle_deg + 45) % 360) + 360) % 360;
  if (turned < 90) return "left";
  if (turned < 180) return "above";
  return turned < 270 ? "right" : "below";
}

/**
 * Out of the plane of the wall (degrees): a choice of ours. What stands out by a fifth of its distance to the
 * next thing (tan 12° = 0.21) hides nothing of it, and flat relief is still told by its outline.
 */
const GRAZING_DEG = 12;
/** An object that is first seen from higher than this lies rather than stands; standing ones are first seen level. */
const LYING_DEG = 45;

/** Whether an object lies, by from where it is first seen. @param {number} first_elevation_deg */
export const lies = (first_elevation_deg) => first_elevation_deg > LYING_DEG;

/**
 * Where one looks along what an object is fixed to or lies on. A wall or a vault is behind it, so that its
 * front faces away from it; what lies has the ground below. Looked along from the side that the camera is
 * nearer to, and who looks so already is taken to the other side.
 * @param {{azimuth_deg: number, elevation_deg: number}} now @param {number} first_elevation_deg from where the object is first seen
 */
export function alongWall({ azimuth_deg, elevation_deg }, first_elevation_deg) {
  if (lies(first_elevation_deg)) return { azimuth_deg: Math.abs(elevation_deg - GRAZING_DEG) < 0.5 ? turned(azimuth_deg + 180) : azimuth_deg, elevation_deg: GRAZING_DEG };
  const side = 90 - GRAZING_DEG;
  const there = Math.abs(Math.abs(azimuth_deg) - side) < 0.5 && Math.abs(elevation_deg) < 0.5;
  // From the left where the camera stands in the middle, as light usually comes from there.
  return { azimuth_deg: (azimuth_deg > 0) === there ? -side : side, elevation_deg: 0 };
}

/** Into -180 to 180. @param {number} degrees */
const turned = (degrees) => ((((degrees + 180) % 360) + 360) % 360) - 180;

/**
 * The name of the direction that the object is seen from; azimuth 0 sees the
 * front, positive moves the viewer to the picture's right.
 * @param {number} azimuth_deg
 * @returns {"front" | "front-right" | "right" | "back-right" | "back" | "back-left" | "left" | "front-left"}
 */
export function directionName(azimuth_deg) {
  const names = /** @type {const} */ ([
    "front", "front-right", "right", "back-right", "back", "back-left", "left", "front-left",
  ]);
  const eighth = Math.round(azimuth_deg / 45);
  return names[((eighth % 8) + 8) % 8] ?? "front";
}

/**
 * @param {number} elevation_deg
 * @returns {"steep-below" | "below" | "level" | "above" | "steep-above"}
 */
export function heightName(elevation_deg) {
  if (elevation_deg <= -50) return "steep-below";
  if (elevation_deg < -8) return "below";
  if (elevation_deg <= 8) return "level";
  return elevation_deg < 50 ? "above" : "steep-above";
}

/** @param {number} value @param {number} low @param {number} high */
export function clamp(value, low, high) {
  return Math.min(high, Math.max(low, value));
}
