//! Many colours at a time: slices in, slices out, on the calling thread, nothing allocated.
//!
//! The results are those of the functions for one colour to 1e-10 (in their own units). Slices of
//! unequal length are worked up to the shortest; the number done is returned.

use std::sync::OnceLock;

use crate::adaptation::XYZ_D50_FROM_D65;
use crate::delta_e::{LANES, delta_e_2000, delta_e_2000_lanes};
use crate::fast::cbrt_positive;
use crate::lab::{EPSILON, KAPPA, LabD50};
use crate::matrix::{Matrix3, apply, diagonal, multiply};
use crate::rgb::{RgbSpace, Srgb, decode_srgb};
use crate::xyz::WHITE_D50;

/// ΔE00 of each pair.
pub fn delta_e_2000_slice(one: &[LabD50], two: &[LabD50], out: &mut [f64]) -> usize {
    let count = one.len().min(two.len()).min(out.len());
    let (one, two, out) = (&one[..count], &two[..count], &mut out[..count]);
    let whole = count - count % LANES;
    for start in (0..whole).step_by(LANES) {
        let a = lanes(&one[start..start + LANES]);
        let b = lanes(&two[start..start + LANES]);
        out[start..start + LANES].copy_from_slice(&delta_e_2000_lanes(&a, &b));
    }
    for i in whole..count {
        out[i] = delta_e_2000(one[i], two[i]);
    }
    count
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
    let straight = (KAPPA * t + 16.0) / 116.0;
    let curved = cbrt_positive(t.max(EPSILON));
    if t > EPSILON { curved } else { straight }
}

/// X/Xw, Y/Yw, Z/Zw (D50) from linear sRGB.
const RELATIVE_D50_FROM_SRGB: Matrix3 = multiply(
    &diagonal([1.0 / WHITE_D50.x, 1.0 / WHITE_D50.y, 1.0 / WHITE_D50.z]),
    &multiply(&XYZ_D50_FROM_D65, &Srgb::XYZ_FROM_LINEAR),
);

fn decode_table() -> &'static [f64; 256] {
    static TABLE: OnceLock<[f64; 256]> = OnceLock::new();
    TABLE.get_or_init(|| std::array::from_fn(|code| decode_srgb(code as f64 / 255.0)))
}

/// CIELAB (D50) of 8-bit sRGB codes.
pub fn srgb8_to_lab_slice(codes: &[[u8; 3]], out: &mut [LabD50]) -> usize {
    let table = decode_table();
    let count = codes.len().min(out.len());
    let (codes, out) = (codes[..count].chunks(LANES), out[..count].chunks_mut(LANES));
    for (code, out) in codes.zip(out) {
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
    count
}

/// Where the code changes: the linear light halfway (in code) between `i` and `i + 1`.
fn code_thresholds() -> &'static [f64; 255] {
    static TABLE: OnceLock<[f64; 255]> = OnceLock::new();
    TABLE.get_or_init(|| std::array::from_fn(|i| decode_srgb((i as f64 + 0.5) / 255.0)))
}

/// The nearest 8-bit sRGB codes of CIELAB (D50) colours, limited to the gamut by clipping (see
/// [`crate::gamut`] for mapping). The code is found by bisection among the thresholds, so no power
/// is taken.
pub fn lab_to_srgb8_slice(colours: &[LabD50], out: &mut [[u8; 3]]) -> usize {
    let thresholds = code_thresholds();
    let count = colours.len().min(out.len());
    for (lab, out) in colours[..count].iter().zip(&mut out[..count]) {
        *out = lab
            .to_linear::<Srgb>()
            .to_array()
            .map(|v| encode8(thresholds, v));
    }
    count
}

#[inline(always)]
fn encode8(thresholds: &[f64; 255], linear: f64) -> u8 {
    let mut code = 0usize;
    for step in [128, 64, 32, 16, 8, 4, 2, 1] {
        if code + step <= 255 && linear >= thresholds[code + step - 1] {
            code += step;
        }
    }
    code as u8
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
        let mut out = vec![0.0; labs.len()];
        delta_e_2000_slice(&labs, &reversed, &mut out);
        for i in 0..labs.len() {
            assert!((out[i] - delta_e_2000(labs[i], reversed[i])).abs() < 1e-10);
        }
    }
}
