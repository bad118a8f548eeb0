// @ts-check
/** The sheets that a child paints on, as pictures: numbers of colours come in, images for the viewer go out. */

/** @typedef {import("../desk/types.d.ts").Rect} Rect */
/** @typedef {import("./document.js").Sheet} Sheet */

/** Bare stone: light, and as neutral as every ground here. */
export const BARE = [206, 206, 206];

/** How often a sheet that is on its way is looked for (ms). */
const AWAIT_MS = 150;

/** sRGB codes of CIELAB (D50), as the browser shows them. @param {readonly [number, number, number]} lab @returns {number[]} */
export function codesOf(lab) {
  const context = new OffscreenCanvas(1, 1).getContext("2d");
  if (!context) return BARE;
  context.fillStyle = `lab(${lab.join(" ")})`;
  context.fillRect(0, 0, 1, 1);
  return [...context.getImageData(0, 0, 1, 1).data.subarray(0, 3)];
}

export class Paper {
  /** @type {Map<string, {sheet: Sheet, numbers: Uint16Array, canvas: OffscreenCanvas, dirty: boolean}>} */
  #sheets = new Map();
  #busy = false;

  /**
   * @param {object} options
   * @param {Sheet[]} options.sheets
   * @param {number[][]} options.colours by number; the first is bare stone
   * @param {(sheet: string, image: ImageBitmap) => void} options.show
   * @param {(sheet: string) => boolean} options.awaited the viewer still waits for the first picture of this sheet
   */
  constructor({ sheets, colours, show, awaited }) {
    this.colours = colours;
    this.awaited = awaited;
    this.show = show;
    for (const sheet of sheets) {
      const canvas = new OffscreenCanvas(sheet.width_px, sheet.height_px);
      const context = canvas.getContext("2d");
      if (context) {
        context.fillStyle = `rgb(${BARE.join(" ")})`;
        context.fillRect(0, 0, sheet.width_px, sheet.height_px);
      }
      this.#sheets.set(sheet.sheet, { sheet, numbers: new Uint16Array(sheet.width_px * sheet.height_px), canvas, dirty: true });
    }
  }

  /** Takes what the desk has changed. @param {Rect[]} rects */
  take(rects) {
    for (const { sheet, x, y, width, height, map_width, texels } of rects) {
      const own = this.#sheets.get(sheet);
      if (!own || map_width !== own.sheet.width_px) continue;
      for (let row = 0; row < height; row += 1) own.numbers.set(texels.subarray(row * width, (row + 1) * width), (y + row) * map_width + x);
      this.#paint(own, x - 1, y - 1, width + 2, height + 2);
      own.dirty = true;
    }
    void this.refresh();
  }

  /** Every colour that lies on the sheets, by how many texels. @returns {Map<number, number>} */
  used() {
    /** @type {Map<number, number>} */
    const found = new Map();
    for (const { numbers } of this.#sheets.values()) for (const number of numbers) if (number > 0) found.set(number, (found.get(number) ?? 0) + 1);
    return found;
  }

  /** Brings what has changed to the viewer, one sheet after the other. @param {boolean} [all] after a loss of the device */
  async refresh(all = false) {
    if (all) for (const own of this.#sheets.values()) own.dirty = true;
    if (this.#busy) return;
    this.#busy = true;
    try {
      for (let own = this.#next(); own; own = this.#next()) {
        // What comes first would be painted over by the bare stone on its way.
        while (this.awaited(own.sheet.sheet)) await new Promise((done) => { setTimeout(done, AWAIT_MS); });
        own.dirty = false;
        this.show(own.sheet.sheet, await createImageBitmap(own.canvas, { colorSpaceConversion: "none", premultiplyAlpha: "none" }));
      }
    } finally {
      this.#busy = false;
    }
  }

  #next() {
    return [...this.#sheets.values()].find(({ dirty }) => dirty);
  }

  /** @returns {Promise<{sheet: string, png: Uint8Array}[]>} */
  async pictures() {
    return Promise.all([...this.#sheets.values()].map(async ({ sheet, canvas }) => ({
      sheet: sheet.sheet, png: new Uint8Array(await (await canvas.convertToBlob({ type: "image/png" })).arrayBuffer()),
    })));
  }

  /** Colours a part; what is bare takes the colour beside it, so that no seam shows between the pieces of a sheet. @param {{sheet: Sheet, numbers: Uint16Array, canvas: OffscreenCanvas}} own @param {number} left @param {number} top @param {number} width @param {number} height */
  #paint({ sheet: { width_px, height_px }, numbers, canvas }, left, top, width, height) {
    const [x0, y0] = [Math.max(0, left), Math.max(0, top)];
    const [x1, y1] = [Math.min(width_px, left + width), Math.min(height_px, top + height)];
    const context = canvas.getContext("2d");
    if (!context || x1 <= x0 || y1 <= y0) return;
    const image = new ImageData(x1 - x0, y1 - y0);
    let at = 0;
    for (let y = y0; y < y1; y += 1) {
      for (let x = x0; x < x1; x += 1) {
        const i = y * width_px + x;
        const number = numbers[i] || (x > 0 && numbers[i - 1]) || (x + 1 < width_px && numbers[i + 1]) || (y > 0 && numbers[i - width_px]) || (y + 1 < height_px && numbers[i + width_px]) || 0;
        const colour = this.colours[number] ?? BARE;
        image.data[at] = colour[0] ?? 0;
        image.data[at + 1] = colour[1] ?? 0;
        image.data[at + 2] = colour[2] ?? 0;
        image.data[at + 3] = 255;
        at += 4;
      }
    }
    context.putImageData(image, x0, y0);
  }
}
