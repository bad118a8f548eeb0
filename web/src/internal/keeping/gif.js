// @ts-check
/**
 * An animated GIF: Graphics Interchange Format, version 89a (1990), whose sections are named below. Each
 * frame has the 256 colours that serve it best, so that paint comes near and is not exact. No DOM here.
 */

/** Bits a channel that colours are counted by, and how many there are then. A choice of ours: a step is finer than what 256 colours can hold apart. */
const BITS = 5;
const BINS = 1 << (3 * BITS);
/** Colours of a frame (appendix F: codes of at most 8 bits). */
const COLOURS = 256;
/** Longest code (bits), and where codes begin (appendix F). */
const [LONGEST, CLEAR, END] = [12, 256, 257];
/** Shortest time of a frame that browsers keep to (1/100 s); shorter ones they show slowly. */
const SHORTEST = 2;

/** Frames one after the other. */
export class GifWriter {
  /** @type {Uint8Array<ArrayBuffer>[]} */
  #parts = [];
  /** Frames so far, and hundredths of a second. */
  #shown = { frames: 0, until: 0 };

  /** @param {{width: number, height: number, per_second: number, comment: string}} options */
  constructor({ width, height, per_second, comment }) {
    if (width > 0xffff || height > 0xffff) throw new Error(`A GIF of ${width} × ${height} px cannot be written: 65,535 px a side are the most.`);
    this.width = width;
    this.height = height;
    this.per_second = per_second;
    // 17 header, 18 screen without a table of colours, 26 application: over and over.
    this.#put([...ascii("GIF89a"), ...short(width), ...short(height), 0, 0, 0]);
    this.#put([0x21, 0xff, 11, ...ascii("NETSCAPE2.0"), 3, 1, 0, 0, 0]);
    // 24 comment: characters of 7 bits, so what has others is written as their codes.
    if (comment) this.#put([0x21, 0xfe, ...blocks(Uint8Array.from(ascii(comment)))]);
  }

  /** @param {number[] | Uint8Array} bytes */
  #put(bytes) {
    this.#parts.push(Uint8Array.from(bytes));
  }

  /** @param {Uint8Array | Uint8ClampedArray} rgba rows from the top */
  add(rgba) {
    const { colours, codes } = quantised(rgba);
    // Times add up to what was asked for, though each is whole hundredths.
    const until = Math.max(this.#shown.until + SHORTEST, Math.round((100 * (this.#shown.frames + 1)) / this.per_second));
    // 23 control, left in place; 20 the frame, with 21 a table of its own.
    this.#put([0x21, 0xf9, 4, 0x04, ...short(until - this.#shown.until), 0, 0]);
    this.#put([0x2c, 0, 0, 0, 0, ...short(this.width), ...short(this.height), 0x87]);
    this.#put(colours);
    this.#put([8, ...blocks(packed(codes))]);
    this.#shown = { frames: this.#shown.frames + 1, until };
  }

  finish() {
    // 27 trailer.
    this.#put([0x3b]);
    return new Blob(this.#parts, { type: "image/gif" });
  }
}

/** @param {number} value */
const short = (value) => [value & 0xff, value >> 8];

/** @param {string} text */
const ascii = (text) => [...text].flatMap((one) => {
  const code = one.codePointAt(0) ?? 0;
  return code < 0x80 ? [code] : [...`&#${code};`].map((digit) => digit.charCodeAt(0));
});

/** Data in blocks of at most 255 bytes, and none at the end (15). @param {Uint8Array} data */
function blocks(data) {
  const count = Math.ceil(data.length / 255);
  const all = new Uint8Array(data.length + count + 1);
  for (let block = 0; block < count; block += 1) {
    const part = data.subarray(block * 255, (block + 1) * 255);
    all[block * 256] = part.length;
    all.set(part, block * 256 + 1);
  }
  return all;
}

/** @param {Uint8Array | Uint8ClampedArray} rgba */
const binOf = (rgba, /** @type {number} */ at) => (((rgba[at] ?? 0) >> (8 - BITS)) << (2 * BITS)) | (((rgba[at + 1] ?? 0) >> (8 - BITS)) << BITS) | ((rgba[at + 2] ?? 0) >> (8 - BITS));

/**
 * The table of colours, and each pixel's place in it. Boxes of colours are cut in two where the squares of
 * what they depart from their mean are then least, the worst box first (X. Wu, "Color quantization by
 * dynamic programming and principal analysis", ACM Transactions on Graphics 11, 1992, cuts so too).
 * @param {Uint8Array | Uint8ClampedArray} rgba
 */
export function quantised(rgba) {
  const [counts, sums] = [new Float64Array(BINS), new Float64Array(3 * BINS)];
  for (let at = 0; at < rgba.length; at += 4) {
    const bin = binOf(rgba, at);
    counts[bin] = (counts[bin] ?? 0) + 1;
    for (let c = 0; c < 3; c += 1) sums[3 * bin + c] = (sums[3 * bin + c] ?? 0) + (rgba[at + c] ?? 0);
  }
  const used = Array.from({ length: BINS }, (_, bin) => bin).filter((bin) => (counts[bin] ?? 0) > 0);
  const mean = (/** @type {number} */ bin, /** @type {number} */ c) => (sums[3 * bin + c] ?? 0) / (counts[bin] ?? 1);
  const boxes = [boxOf(used)];
  while (boxes.length < COLOURS) {
    const worst = boxes.reduce((a, b) => (b.error > a.error ? b : a));
    if (worst.bins.length < 2 || worst.error <= 0) break;
    const { bins, axis } = worst;
    bins.sort((a, b) => mean(a, axis) - mean(b, axis));
    const cut = bestCut(bins, axis);
    boxes.splice(boxes.indexOf(worst), 1, boxOf(bins.slice(0, cut)), boxOf(bins.slice(cut)));
  }
  const colours = new Uint8Array(3 * COLOURS);
  const place = new Uint8Array(BINS);
  boxes.forEach(({ bins, middle }, number) => {
    colours.set(middle.map(Math.round), 3 * number);
    for (const bin of bins) place[bin] = number;
  });
  const codes = new Uint8Array(rgba.length / 4);
  for (let at = 0; at < codes.length; at += 1) codes[at] = place[binOf(rgba, 4 * at)] ?? 0;
  return { colours, codes };

  /** @param {number[]} bins */
  function boxOf(bins) {
    const middle = [0, 0, 0];
    const spread = [0, 0, 0];
    let weight = 0;
    for (const bin of bins) weight += counts[bin] ?? 0;
    for (const c of [0, 1, 2]) {
      for (const bin of bins) middle[c] = (middle[c] ?? 0) + (sums[3 * bin + c] ?? 0) / weight;
      for (const bin of bins) spread[c] = (spread[c] ?? 0) + (counts[bin] ?? 0) * (mean(bin, c) - (middle[c] ?? 0)) ** 2;
    }
    const axis = spread.indexOf(Math.max(...spread));
    return { bins, middle, axis, error: spread.reduce((a, b) => a + b, 0) };
  }

  /** Where two parts are each as even as can be along an axis: the between-group variance is largest. @param {number[]} bins in order @param {number} axis */
  function bestCut(bins, axis) {
    let [all, total] = [0, 0];
    for (const bin of bins) {
      all += counts[bin] ?? 0;
      total += sums[3 * bin + axis] ?? 0;
    }
    let [below, sum, best, cut] = [0, 0, -1, 1];
    for (let at = 1; at < bins.length; at += 1) {
      const bin = bins[at - 1] ?? 0;
      below += counts[bin] ?? 0;
      sum += sums[3 * bin + axis] ?? 0;
      const gain = sum ** 2 / below + (total - sum) ** 2 / (all - below);
      if (gain > best) [best, cut] = [gain, at];
    }
    return cut;
  }
}

/** Appendix F: the codes of the strings met so far, in 9 to 12 bits, the lowest bit first. @param {Uint8Array} codes */
function packed(codes) {
  const out = new Uint8Array(Math.ceil((codes.length * LONGEST) / 8) + 16);
  // What a known string becomes by one more colour: 0 is nothing known.
  const known = new Uint16Array(COLOURS << LONGEST);
  let [length, bits, held] = [0, 0, 0];
  let [size, next] = [9, END + 1];
  const write = (/** @type {number} */ code) => {
    held |= code << bits;
    for (bits += size; bits >= 8; bits -= 8) {
      out[length] = held & 0xff;
      length += 1;
      held >>>= 8;
    }
  };
  write(CLEAR);
  let string = codes[0] ?? 0;
  for (let at = 1; at < codes.length; at += 1) {
    const colour = codes[at] ?? 0;
    const key = string * COLOURS + colour;
    const longer = known[key] ?? 0;
    if (longer > 0) {
      string = longer;
      continue;
    }
    write(string);
    if (next < 1 << LONGEST) {
      known[key] = next;
      if (next === 1 << size) size += 1;
      next += 1;
    } else {
      write(CLEAR);
      known.fill(0);
      [size, next] = [9, END + 1];
    }
    string = colour;
  }
  write(string);
  // The reader is one string behind: it has made this one too by now.
  if (next === 1 << size && size < LONGEST) size += 1;
  write(END);
  if (bits > 0) {
    out[length] = held & 0xff;
    length += 1;
  }
  return out.subarray(0, length);
}
