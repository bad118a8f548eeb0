// Reading pictures as numbers.

/** Linear light of a code of 0 to 255, and back (IEC 61966-2-1). */
export const decode = (v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
export const encode = (v) => 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);

/** Share of the pixels of an RGBA picture that `test(r, g, b)` holds for. */
export function share(pixels, test) {
  let count = 0;
  for (let at = 0; at < pixels.length; at += 4) if (test(pixels[at], pixels[at + 1], pixels[at + 2])) count += 1;
  return count / (pixels.length / 4);
}

/** Share of pixels that are not the surround, told by the top left corner. */
export function covered(pixels) {
  const [r0, g0, b0] = pixels;
  return share(pixels, (r, g, b) => Math.abs(r - r0) + Math.abs(g - g0) + Math.abs(b - b0) > 6);
}

/** Share of pixels where two pictures differ by more than `step` code values in any channel. */
export function differing(one, other, step) {
  if (one.length !== other.length) throw new Error('pictures of different sizes');
  let count = 0;
  for (let at = 0; at < one.length; at += 4) {
    if ([0, 1, 2].some((c) => Math.abs(one[at + c] - other[at + c]) > step)) count += 1;
  }
  return count / (one.length / 4);
}

/** Mean colour of the pixels around a place. */
export function colourAt(pixels, width, x, y, reach = 1) {
  const sum = [0, 0, 0];
  let count = 0;
  for (let j = Math.round(y) - reach; j <= Math.round(y) + reach; j += 1) {
    for (let i = Math.round(x) - reach; i <= Math.round(x) + reach; i += 1) {
      for (let c = 0; c < 3; c += 1) sum[c] += pixels[4 * (j * width + i) + c];
      count += 1;
    }
  }
  return sum.map((v) => v / count);
}

/** Rows of a simple table with a header, no quoted fields. */
export function rowsOf(text) {
  const [header, ...lines] = text.trim().split(/\r?\n/).map((line) => line.split(','));
  return lines.map((line) => Object.fromEntries(header.map((name, index) => [name, line[index] ?? ''])));
}
