//! In double precision.
#![cfg_attr(
    target_arch = "x86_64",
    expect(
        unsafe_code,
        reason = "calling what is compiled for AVX2 or AVX-512 where they are there"
    )
)]

use std::sync::OnceLock;

use super::dispatch::for_this_processor;
use crate::adaptation::{XYZ_D50_FROM_D65, XYZ_D65_FROM_D50};
use crate::delta_e::{delta_e_2000, delta_e_2000_lanes};
use crate::fast::double::cbrt_positive;
use crate::lab::{EPSILON, KAPPA, LabD50};
use crate::matrix::{Matrix3, apply, diagonal, multiply};
use crate::rgb::{RgbSpace, Srgb, decode_srgb, encode_srgb};
use crate::xyz::WHITE_D50;

/// How many colours are done together.
const LANES: usize = 8;

for_this_processor!(
    /// Slices of equal length.
    differences, differences_work, differences_avx2, differences_avx512,
    (one: &[LabD50], two: &[LabD50], out: &mut [f64])
);
for_this_processor!(
    /// Slices of equal length.
    labs, labs_work, labs_avx2, labs_avx512,
    (table: &[f64; 256], codes: &[[u8; 3]], out: &mut [LabD50])
);
for_this_processor!(
    /// Slices of equal length.
    codes8, codes8_work, codes8_avx2, codes8_avx512,
    (encoder: &Encoder8, colours: &[LabD50], out: &mut [[u8; 3]])
);

/// ΔE00 of each pair.
pub fn delta_e_2000_slice(one: &[LabD50], two: &[LabD50], out: &mut [f64]) -> usize {
    let count = one.len().min(two.len()).min(out.len());
    differences(&one[..count], &two[..count], &mut out[..count]);
    count
}

#[inline(always)]
fn differences_work(one: &[LabD50], two: &[LabD50], out: &mut [f64]) {
    let count = out.len();
    let whole = count - count % LANES;
    for start in (0..whole).step_by(LANES) {
        let a = lanes(&one[start..start + LANES]);
        let b = lanes(&two[start..start + LANES]);
        out[start..start + LANES].copy_from_slice(&delta_e_2000_lanes(&a, &b));
    }
    for i in whole..count {
        out[i] = delta_e_2000(one[i], two[i]);
    }
}

#[inline(always)]
fn lanes(colours: &[LabD50]) -> [[f64; LANES]; 3] {
    let mut v = [[0.0; LANES]; 3];
    for (i, c) in colours.iter().take(LANES).enumerate() {
        v[0][i] = c.l;
        v[1][i] = c.a;
        v[2][i] = c.b;
    }
    v
}

/// `f(t)` of CIELAB without a branch; t is never negative here.
#[inline(always)]
fn f(t: f64) -> f64 {
    let straight = KAPPA / 116.0 * t + 16.0 / 116.0;
    let curved = cbrt_positive(t.max(EPSILON));
    if t > EPSILON { curved } else { straight }
}

/// X/Xw, Y/Yw, Z/Zw (D50) from linear sRGB.
pub(super) const RELATIVE_D50_FROM_SRGB: Matrix3 = multiply(
    &diagonal([1.0 / WHITE_D50.x, 1.0 / WHITE_D50.y, 1.0 / WHITE_D50.z]),
    &multiply(&XYZ_D50_FROM_D65, &Srgb::XYZ_FROM_LINEAR),
);

fn decode_table() -> &'static [f64; 256] {
    static TABLE: OnceLock<[f64; 256]> = OnceLock::new();
    TABLE.get_or_init(|| std::array::from_fn(|code| decode_srgb(code as f64 / 255.0)))
}

/// CIELAB (D50) of 8-bit sRGB codes.
pub fn srgb8_to_lab_slice(codes: &[[u8; 3]], out: &mut [LabD50]) -> usize {
    let count = codes.len().min(out.len());
    labs(decode_table(), &codes[..count], &mut out[..count]);
    count
}

#[inline(always)]
fn labs_work(table: &[f64; 256], codes: &[[u8; 3]], out: &mut [LabD50]) {
    for (code, out) in codes.chunks(LANES).zip(out.chunks_mut(LANES)) {
        let mut v = [[0.0; LANES]; 3];
        for (i, code) in code.iter().enumerate() {
            let linear = code.map(|c| table[usize::from(c)]);
            let relative = apply(&RELATIVE_D50_FROM_SRGB, linear);
            for k in 0..3 {
                v[k][i] = relative[k];
            }
        }
        for component in &mut v {
            for x in component {
                *x = f(*x);
            }
        }
        for (i, out) in out.iter_mut().enumerate() {
            let (x, y, z) = (v[0][i], v[1][i], v[2][i]);
            *out = LabD50::new(116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z));
        }
    }
}

/// Linear sRGB from X/Xw, Y/Yw, Z/Zw (D50).
pub(super) const SRGB_FROM_RELATIVE_D50: Matrix3 = multiply(
    &multiply(&Srgb::LINEAR_FROM_XYZ, &XYZ_D65_FROM_D50),
    &diagonal([WHITE_D50.x, WHITE_D50.y, WHITE_D50.z]),
);

/// Bins of linear light: the curve of sRGB rises by 12.92 * 255 = 3295 codes in 1 at most, so that no
/// bin holds more than one change of code.
const BINS: usize = 4096;

/// Codes of linear light, without a power.
struct Encoder8 {
    /// The code at the lower end of each bin.
    code: [u8; BINS + 1],
    /// The linear light from which the next code is nearer; never reached for the last.
    next: [f64; 256],
}

fn encoder8() -> &'static Encoder8 {
    static TABLE: OnceLock<Encoder8> = OnceLock::new();
    TABLE.get_or_init(|| Encoder8 {
        code: std::array::from_fn(|i| (encode_srgb(i as f64 / BINS as f64) * 255.0).round() as u8),
        next: std::array::from_fn(|i| match i {
            255 => f64::INFINITY,
            i => decode_srgb((i as f64 + 0.5) / 255.0),
        }),
    })
}

impl Encoder8 {
    #[inline(always)]
    fn code(&self, linear: f64) -> u8 {
        // `as` takes NaN to 0.
        let within = linear.clamp(0.0, 1.0);
        let code = self.code[(within * BINS as f64) as usize];
        code + u8::from(within >= self.next[usize::from(code)])
    }
}

/// The inverse of [`f`] without a branch.
#[inline(always)]
fn f_inverse(t: f64) -> f64 {
    let (straight, curved) = ((116.0 * t - 16.0) * (1.0 / KAPPA), t * t * t);
    if curved > EPSILON { curved } else { straight }
}

/// The nearest 8-bit sRGB codes of CIELAB (D50) colours, limited to the gamut by clipping (see
/// [`crate::gamut`] for mapping). The code is looked up among the thresholds, so no power is taken.
pub fn lab_to_srgb8_slice(colours: &[LabD50], out: &mut [[u8; 3]]) -> usize {
    let count = colours.len().min(out.len());
    codes8(encoder8(), &colours[..count], &mut out[..count]);
    count
}

#[inline(always)]
fn codes8_work(encoder: &Encoder8, colours: &[LabD50], out: &mut [[u8; 3]]) {
    for (colours, out) in colours.chunks(LANES).zip(out.chunks_mut(LANES)) {
        let [l, a, b] = lanes(colours);
        let mut linear = [[0.0; LANES]; 3];
        for i in 0..LANES {
            let y = (l[i] + 16.0) * (1.0 / 116.0);
            let relative = [y + a[i] * (1.0 / 500.0), y, y - b[i] * (1.0 / 200.0)].map(f_inverse);
            let rgb = apply(&SRGB_FROM_RELATIVE_D50, relative);
            for k in 0..3 {
                linear[k][i] = rgb[k];
            }
        }
        for (i, out) in out.iter_mut().enumerate() {
            *out = [0, 1, 2].map(|k| encoder.code(linear[k][i]));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rgb::Encoded;

    fn grid() -> Vec<[u8; 3]> {
        let levels = [0u8, 1, 2, 9, 10, 11, 37, 64, 128, 200, 254, 255];
        let mut all = Vec::new();
        for r in levels {
            for g in levels {
                all.extend(levels.map(|b| [r, g, b]));
            }
        }
        all
    }

    #[test]
    fn every_code_is_found_on_both_sides_of_every_threshold() {
        let encoder = encoder8();
        for i in 0..255u8 {
            let threshold = decode_srgb((f64::from(i) + 0.5) / 255.0);
            assert_eq!(encoder.code(threshold * (1.0 - 1e-9)), i);
            assert_eq!(encoder.code(threshold * (1.0 + 1e-9)), i + 1);
        }
        assert_eq!(
            [-1.0, 0.0, 1.0, 7.0, f64::NAN].map(|v| encoder.code(v)),
            [0, 0, 255, 255, 0]
        );
    }

    #[test]
    fn slices_equal_the_functions_for_one_colour() {
        let codes = grid();
        let mut labs = vec![LabD50::default(); codes.len()];
        assert_eq!(srgb8_to_lab_slice(&codes, &mut labs), codes.len());
        for (code, lab) in codes.iter().zip(&labs) {
            let want = LabD50::from(Encoded::<Srgb>::from_u8(*code));
            let distance = crate::delta_e::delta_e_ab(want, *lab);
            assert!(distance < 1e-10, "{code:?}: {distance}");
        }
        let mut back = vec![[0; 3]; codes.len()];
        lab_to_srgb8_slice(&labs, &mut back);
        assert_eq!(back, codes);
        let mut reversed = labs.clone();
        reversed.reverse();
        // Outside the gamut too.
        let wide: Vec<_> = (labs.iter().zip(&reversed))
            .map(|(x, y)| LabD50::new(x.l * 1.1 - 5.0, 2.0 * y.a, 2.0 * y.b))
            .collect();
        let mut got = vec![[0; 3]; wide.len()];
        lab_to_srgb8_slice(&wide, &mut got);
        for (lab, got) in wide.iter().zip(&got) {
            let codes = lab.to_srgb().to_array().map(|v| v.clamp(0.0, 1.0) * 255.0);
            for k in 0..3 {
                assert!(
                    (codes[k] - f64::from(got[k])).abs() < 0.5 + 1e-9,
                    "{lab:?} {got:?}"
                );
            }
        }
        let mut out = vec![0.0; labs.len()];
        delta_e_2000_slice(&labs, &reversed, &mut out);
        for i in 0..labs.len() {
            assert!((out[i] - delta_e_2000(labs[i], reversed[i])).abs() < 1e-10);
        }
    }
}
