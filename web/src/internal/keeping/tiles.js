// @ts-check
/** A picture of what is seen, drawn in parts: bands of rows, each of a few tiles beside one another. No DOM here. */

/** @typedef {import("../../types.d.ts").View} View */
/** @typedef {Pick<import("../../types.d.ts").ViewerHandle, "snapshot_tile">} Drawer */

/**
 * Largest tile (px): with four samples of colour and depth for each pixel a device then holds some 34 MB
 * beside the surface, and a band of the largest picture is 32 MB here. A choice of ours; both are even, so
 * that pixels are drawn by the same fours as in a whole picture.
 */
export const TILE = { width: 2048, height: 512 };
/** Longest side of a picture (px). */
export const LONGEST_PX = 16384;

/**
 * Draws band by band.
 * @param {object} options
 * @param {Drawer} options.handle
 * @param {Partial<View> | null} options.view what to show in place of what is seen now
 * @param {number} options.width @param {number} options.height
 * @param {{width: number, height: number}} [options.tile]
 * @param {(rows: Uint8Array, y: number) => Promise<void> | void} options.band takes RGBA rows in order
 * @param {AbortSignal} [options.signal]
 */
export async function drawInParts({ handle, view, width, height, tile = TILE, band, signal }) {
  for (let y = 0; y < height; y += tile.height) {
    const rows = Math.min(tile.height, height - y);
    const all = new Uint8Array(width * rows * 4);
    for (let x = 0; x < width; x += tile.width) {
      signal?.throwIfAborted();
      const columns = Math.min(tile.width, width - x);
      const part = await handle.snapshot_tile(view, width, height, new Uint32Array([x, y, columns, rows]));
      for (let row = 0; row < rows; row += 1) all.set(part.subarray(row * columns * 4, (row + 1) * columns * 4), (row * width + x) * 4);
    }
    await band(all, y);
  }
}

/** Width and height for a longer side and a shape. @param {number} longer px @param {number} aspect width to height @returns {{width: number, height: number}} */
export function sizeFor(longer, aspect) {
  const side = Math.min(LONGEST_PX, Math.max(16, Math.round(longer)));
  const other = Math.max(1, Math.round(aspect >= 1 ? side / aspect : side * aspect));
  return aspect >= 1 ? { width: side, height: other } : { width: other, height: side };
}

/** Of the object where the camera looks, metres a pixel of a picture. @param {View} view @param {number} width @param {number} height */
export function metresPerPixel({ camera, compare, count }, width, height) {
  // Panes stand beside one another where there is width for it, four two by two.
  const rows = compare !== "pair" ? 1 : count === 4 ? 2 : width >= height ? 1 : count;
  return (2 * camera.distance_m * Math.tan((camera.fov_deg * Math.PI) / 360)) / (height / rows);
}
