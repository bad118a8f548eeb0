// @ts-check
/**
 * Writing a PNG (ISO/IEC 15948, PNG third edition) row by row, so that no picture has to be in memory
 * whole. 8 bits a channel, red, green, blue. No DOM here.
 */
import { crc32 } from "../zip.js";

/** The first bytes of every PNG (section 5.2). */
const SIGNATURE = [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a];
/** Colour type 2, truecolour (section 11.2.1), and its channels. */
const [TRUECOLOUR, CHANNELS] = [2, 3];
/** Filter types (section 9.2). */
const [SUB, UP] = [1, 2];
/** Rendering intent of the sRGB chunk: relative colorimetric (section 11.3.2.5). */
const RELATIVE_COLORIMETRIC = 1;
/** Bytes of one IDAT chunk at the least: a choice of ours. */
const CHUNK_BYTES = 1 << 18;

/** @param {string} type four letters @param {Uint8Array} data @returns {Uint8Array<ArrayBuffer>} */
export function chunk(type, data) {
  const bytes = new Uint8Array(data.length + 12);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, data.length);
  bytes.set(new TextEncoder().encode(type), 4);
  bytes.set(data, 8);
  view.setUint32(8 + data.length, crc32(bytes.subarray(4, 8 + data.length)));
  return bytes;
}

/** A text of any language (section 11.3.3.4, iTXt), not packed. @param {string} keyword Latin letters @param {string} text @param {string} [language] BCP 47 */
export function textChunk(keyword, text, language = "") {
  return chunk("iTXt", new TextEncoder().encode(`${keyword}\0\0\0${language}\0\0${text}`));
}

export class PngWriter {
  /** @type {BlobPart[]} */
  #parts = [];
  /** @type {Uint8Array[]} */
  #waiting = [];
  #waiting_bytes = 0;
  #rows = 0;

  /** @param {{width: number, height: number, texts?: [keyword: string, text: string, language?: string][]}} picture */
  constructor({ width, height, texts = [] }) {
    this.width = width;
    this.height = height;
    const header = new Uint8Array(13);
    const view = new DataView(header.buffer);
    view.setUint32(0, width);
    view.setUint32(4, height);
    header.set([8, TRUECOLOUR], 8);
    this.#parts.push(new Uint8Array(SIGNATURE), chunk("IHDR", header), chunk("sRGB", new Uint8Array([RELATIVE_COLORIMETRIC])));
    for (const [keyword, text, language] of texts) this.#parts.push(textChunk(keyword, text, language));
    this.above = new Uint8Array(width * CHANNELS);
    // In the browser's `deflate` is the zlib format (RFC 1950) that PNG asks for.
    const packer = new CompressionStream("deflate");
    this.writer = packer.writable.getWriter();
    this.packed = this.#collect(packer.readable.getReader());
    // Whoever writes hears of a failure there.
    this.packed.catch(() => {});
  }

  /** The next rows. @param {Uint8Array | Uint8ClampedArray} rgba whole rows from the top; alpha is left out */
  async write(rgba) {
    const { width } = this;
    const rows = rgba.length / (width * 4);
    if (!Number.isInteger(rows) || this.#rows + rows > this.height) throw new RangeError(`${rgba.length} bytes are not whole rows of ${width} px that the picture lacks.`);
    const line = width * CHANNELS;
    const out = new Uint8Array(rows * (line + 1));
    let row = new Uint8Array(line);
    for (let y = 0; y < rows; y += 1) {
      for (let from = y * width * 4, to = 0; to < line; from += 4, to += CHANNELS) {
        row[to] = /** @type {number} */ (rgba[from]);
        row[to + 1] = /** @type {number} */ (rgba[from + 1]);
        row[to + 2] = /** @type {number} */ (rgba[from + 2]);
      }
      filtered(row, this.above, out.subarray(y * (line + 1), (y + 1) * (line + 1)));
      [this.above, row] = [row, this.above];
    }
    this.#rows += rows;
    await this.writer.write(out);
  }

  /** @returns {Promise<Blob>} */
  async finish() {
    if (this.#rows !== this.height) throw new RangeError(`The picture has ${this.#rows} of ${this.height} rows.`);
    await this.writer.close();
    await this.packed;
    this.#lay();
    this.#parts.push(chunk("IEND", new Uint8Array(0)));
    return new Blob(this.#parts, { type: "image/png" });
  }

  /** Lets go of a picture that is not wanted any more. */
  async abandon() {
    this.#parts = [];
    await this.writer.abort().catch(() => {});
  }

  /** @param {ReadableStreamDefaultReader<Uint8Array>} reader */
  async #collect(reader) {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      this.#waiting.push(value);
      this.#waiting_bytes += value.length;
      if (this.#waiting_bytes >= CHUNK_BYTES) this.#lay();
    }
  }

  /** What is packed goes into a chunk. A blob need not stay in memory. */
  #lay() {
    if (this.#waiting_bytes === 0) return;
    const data = new Uint8Array(this.#waiting_bytes);
    let at = 0;
    for (const part of this.#waiting) {
      data.set(part, at);
      at += part.length;
    }
    this.#waiting = [];
    this.#waiting_bytes = 0;
    this.#parts.push(new Blob([chunk("IDAT", data)]));
  }
}

/**
 * One row with the filter whose differences are smaller in sum (section 12.7, the heuristic named there),
 * of those that need one neighbour only.
 * @param {Uint8Array} row @param {Uint8Array} above @param {Uint8Array} out one byte longer
 */
function filtered(row, above, out) {
  let [sub, up] = [0, 0];
  // Every seventh byte tells enough, of all three channels.
  for (let at = CHANNELS; at < row.length; at += 7) {
    const value = /** @type {number} */ (row[at]);
    sub += Math.abs(value - /** @type {number} */ (row[at - CHANNELS]));
    up += Math.abs(value - /** @type {number} */ (above[at]));
  }
  if (up <= sub) {
    out[0] = UP;
    for (let at = 0; at < row.length; at += 1) out[at + 1] = /** @type {number} */ (row[at]) - /** @type {number} */ (above[at]);
    return;
  }
  out[0] = SUB;
  for (let at = 0; at < row.length; at += 1) out[at + 1] = /** @type {number} */ (row[at]) - (at < CHANNELS ? 0 : /** @type {number} */ (row[at - CHANNELS]));
}
