// @ts-check
/** From the surface to the screen. No DOM here. */

/** @typedef {{view_projection: ArrayLike<number>, eye: ArrayLike<number>, width: number, height: number}} Projection column-major; CSS px */

/** Where a point of space lies on the canvas. @param {Projection} projection @param {ArrayLike<number>} point metres @returns {[number, number] | null} null: behind the eye */
export function project({ view_projection: m, width, height }, point) {
  const [x, y, z] = [point[0] ?? 0, point[1] ?? 0, point[2] ?? 0];
  const row = (/** @type {number} */ at) => (m[at] ?? 0) * x + (m[at + 4] ?? 0) * y + (m[at + 8] ?? 0) * z + (m[at + 12] ?? 0);
  const w = row(3);
  if (!(w > 0)) return null;
  return [(row(0) / w * 0.5 + 0.5) * width, (0.5 - row(1) / w * 0.5) * height];
}

/** Points of a ring about a place, in the plane that touches the surface there. @param {ArrayLike<number>} centre @param {ArrayLike<number>} normal @param {number} radius_m @param {number} count @returns {[number, number, number][]} */
export function ring(centre, normal, radius_m, count) {
  const [nx, ny, nz] = [normal[0] ?? 0, normal[1] ?? 0, normal[2] ?? 1];
  // Any vector that is not along the normal gives two that lie in the plane.
  const [ax, ay, az] = Math.abs(nx) < 0.8 ? [1, 0, 0] : [0, 1, 0];
  const u = unit([ny * az - nz * ay, nz * ax - nx * az, nx * ay - ny * ax]);
  const v = [ny * u[2] - nz * u[1], nz * u[0] - nx * u[2], nx * u[1] - ny * u[0]];
  return Array.from({ length: count }, (_, index) => {
    const angle = (index / count) * 2 * Math.PI;
    const [c, s] = [Math.cos(angle) * radius_m, Math.sin(angle) * radius_m];
    return /** @type {[number, number, number]} */ ([0, 1, 2].map((axis) => (centre[axis] ?? 0) + (u[axis] ?? 0) * c + (v[axis] ?? 0) * s));
  });
}

/** @param {[number, number, number]} vector @returns {[number, number, number]} */
function unit([x, y, z]) {
  const length = Math.hypot(x, y, z) || 1;
  return [x / length, y / length, z / length];
}
