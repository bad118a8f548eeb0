// @ts-check
/** Colour patches beside a picture: the pigments that the shown states claim, and a neutral grey wedge. No DOM here. */

/** @typedef {import("../lookup.js").Lookup} Lookup */
/** @typedef {[number, number, number]} Three */

/** Lightness of the steps of the grey wedge (CIELAB L*): a choice of ours, black to white of a good print. */
export const WEDGE_L = [10, 25, 40, 50, 60, 75, 95];

/** CIE 15:2018, section 8.2.1: where the cube root ends, and its slope below. */
const [EPSILON, KAPPA] = [216 / 24389, 24389 / 27];
/** D50 of CSS Color Module Level 4, from its chromaticity (0.3457, 0.3585). */
const WHITE_D50 = /** @type {Three} */ ([0.3457 / 0.3585, 1, (1 - 0.3457 - 0.3585) / 0.3585]);
/** XYZ under D50 to linear sRGB: `D50_to_D65` (Bradford) and `XYZ_to_lin_sRGB` of CSS Color Module Level 4, section 18, multiplied. */
const SRGB_FROM_XYZ_D50 = multiplied(
  [[12831 / 3959, -329 / 214, -1974 / 3959], [-851781 / 878810, 1648619 / 878810, 36519 / 878810], [705 / 12673, -2585 / 12673, 705 / 667]],
  [[0.955473421488075, -0.02309845494876471, 0.06325924320057072], [-0.0283697093338637, 1.0099953980813041, 0.021041441191917323], [0.012314014864481998, -0.020507649298898964, 1.330365926242124]],
);

/** @param {number[][]} one @param {number[][]} other */
function multiplied(one, other) {
  return one.map((row) => [0, 1, 2].map((column) => row.reduce((sum, value, at) => sum + value * Number(other[at]?.[column]), 0)));
}

/**
 * A colour in code values of sRGB, cut to what these can say.
 * @param {readonly number[]} lab CIELAB, D50 @returns {{codes: Three, cut: boolean}} `cut`: the colour lies outside
 */
export function srgbOf(lab) {
  const [l, a, b] = /** @type {Three} */ (lab);
  const y = (l + 16) / 116;
  const xyz = [y + a / 500, y, y - b / 200].map((f, at) => Number(WHITE_D50[at]) * (f ** 3 > EPSILON ? f ** 3 : (116 * f - 16) / KAPPA));
  const linear = SRGB_FROM_XYZ_D50.map((row) => row.reduce((sum, value, at) => sum + value * Number(xyz[at]), 0));
  // Half a code value of room: white itself rounds to a hair above one.
  const cut = linear.some((v) => v < -5e-4 || v > 1.0005);
  return { codes: /** @type {Three} */ (linear.map((v) => Math.round(255 * encoded(Math.min(1, Math.max(0, v)))))), cut };
}

/** IEC 61966-2-1. @param {number} v */
const encoded = (v) => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);

/**
 * Pigments that claims name for these states, each once, in the order of the palette.
 * @param {Lookup} dossier @param {readonly string[]} states
 */
export function pigmentsOf(dossier, states) {
  const named = new Set((dossier.document.claims ?? []).filter((claim) => claim.states?.some((id) => states.includes(id)))
    .flatMap((claim) => [claim.pigment, claim.over, ...(claim.mixture ?? []).map(({ pigment }) => pigment)]));
  return (dossier.document.palette ?? []).filter(({ id, lab_d50 }) => named.has(id) && lab_d50);
}
