// How pictures look in grey and to people who see colours otherwise.
//
// Matrices: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation
// of Color Vision Deficiency", IEEE Transactions on Visualization and Computer Graphics 15(6), 1291-1298, 2009:
// the tables of pre-computed matrices that the authors publish with the paper, severity 1.0, for linear RGB.
// Written down from public copies of these tables (several agree in all digits), not from the paper's page.
// Encoding: IEC 61966-2-1. Grey: relative luminance, WCAG 2.2.

const linear = (code) => (code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4);
const LUMINANCE = [0.2126, 0.7152, 0.0722];

/** Rows of linear RGB from linear RGB. */
export const SIMULATIONS = {
  'normal vision': [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
  grey: [LUMINANCE, LUMINANCE, LUMINANCE],
  protanopia: [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
  deuteranopia: [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
  tritanopia: [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
};

/**
 * A part of an RGBA picture as luminance after a simulation, rows from the top.
 * @returns {{width: number, height: number, values: Float64Array}}
 */
export function seen(pixels, picture_width, { x, y, width, height }, rows) {
  const values = new Float64Array(width * height);
  for (let j = 0; j < height; j += 1) {
    for (let i = 0; i < width; i += 1) {
      const at = ((y + j) * picture_width + x + i) * 4;
      const rgb = [0, 1, 2].map((c) => linear(pixels[at + c]));
      const shown = rows.map((row) => Math.min(1, Math.max(0, row.reduce((sum, factor, c) => sum + factor * rgb[c], 0))));
      values[j * width + i] = LUMINANCE.reduce((sum, factor, c) => sum + factor * shown[c], 0);
    }
  }
  return { width, height, values };
}

/** Contrast of the lightest and the darkest thirtieth (WCAG 2.2, contrast ratio): the sparsest pattern has more ink than that. */
export function contrast({ values }) {
  const sorted = Float64Array.from(values).sort();
  const mean = (part) => part.reduce((sum, value) => sum + value, 0) / part.length;
  const few = Math.max(1, Math.floor(sorted.length / 30));
  return (mean(sorted.slice(-few)) + 0.05) / (mean(sorted.slice(0, few)) + 0.05);
}

/** Values without their mean, and how far they spread. */
function centred(values) {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const from = values.map((value) => value - mean);
  return { from, spread: Math.sqrt(from.reduce((sum, value) => sum + value * value, 0)) };
}

/**
 * How alike two textures are, 0 to 1, wherever each begins and whichever of ink and paint is the darker:
 * the highest normalised cross-correlation, by amount, of the middle of one with every place in the other.
 * 1: the one is the other, moved, or its negative.
 */
export function likeness(one, other) {
  const [across, down] = [one.width, one.height].map((size) => Math.floor((size * 2) / 3));
  const cut = ({ width, values }, x, y) => {
    const part = new Float64Array(across * down);
    for (let j = 0; j < down; j += 1) part.set(values.subarray((y + j) * width + x, (y + j) * width + x + across), j * across);
    return centred(part);
  };
  const middle = cut(one, Math.floor((one.width - across) / 2), Math.floor((one.height - down) / 2));
  let best = 0;
  for (let y = 0; y + down <= other.height; y += 1) {
    for (let x = 0; x + across <= other.width; x += 1) {
      const there = cut(other, x, y);
      const product = middle.from.reduce((sum, value, at) => sum + value * there.from[at], 0);
      best = Math.max(best, Math.abs(product) / (middle.spread * there.spread || Infinity));
    }
  }
  return best;
}
