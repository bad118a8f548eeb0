//! In single precision, colours as three planes.
#![cfg_attr(
    target_arch = "x86_64",
    expect(
        unsafe_code,
        reason = "calling what is compiled for AVX2 or AVX-512 where they are there"
    )
)]

use std::sync::OnceLock;

use super::dispatch::for_this_processor;
use super::double::{RELATIVE_D50_FROM_SRGB, SRGB_FROM_RELATIVE_D50};
use crate::delta_e::delta_e_2000_lanes;
use crate::fast::single::{cbrt_positive, power_5_12};
use crate::lab::{EPSILON, KAPPA};
use crate::matrix::Matrix3;
use crate::rgb::decode_srgb;

/// How many colours are done together.
const LANES: usize = 64;

/// CIELAB (D50) colours, one plane a component.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabPlanes<'a> {
    /// L*.
    pub l: &'a [f32],
    /// a*.
    pub a: &'a [f32],
    /// b*.
    pub b: &'a [f32],
}

/// Where CIELAB (D50) colours go, one plane a component.
#[derive(Debug, PartialEq)]
pub struct LabPlanesMut<'a> {
    /// L*.
    pub l: &'a mut [f32],
    /// a*.
    pub a: &'a mut [f32],
    /// b*.
    pub b: &'a mut [f32],
}

impl LabPlanes<'_> {
    /// How many colours: the length of the shortest plane.
    pub fn len(&self) -> usize {
        self.l.len().min(self.a.len()).min(self.b.len())
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// [`LANES`] colours from `start`; past the end black.
    #[inline(always)]
    fn lanes(&self, start: usize) -> [[f32; LANES]; 3] {
        [self.l, self.a, self.b].map(|plane| {
            let plane = &plane[start..];
            let mut v = [0.0; LANES];
            match plane.first_chunk::<LANES>() {
                Some(chunk) => v = *chunk,
                None => v[..plane.len()].copy_from_slice(plane),
            }
            v
        })
    }
}

impl LabPlanesMut<'_> {
    fn len(&self) -> usize {
        self.l.len().min(self.a.len()).min(self.b.len())
    }
}

/// Writes lanes from `start`, as many as there is room for.
#[inline(always)]
fn put<T: Copy>(out: &mut [T], start: usize, lanes: &[T; LANES]) {
    let out = &mut out[start..];
    match out.first_chunk_mut::<LANES>() {
        Some(chunk) => *chunk = *lanes,
        None => {
            let count = out.len();
            out.copy_from_slice(&lanes[..count]);
        }
    }
}

for_this_processor!(
    differences, differences_work, differences_avx2, differences_avx512,
    (one: LabPlanes, two: LabPlanes, out: &mut [f32])
);
for_this_processor!(
    labs, labs_work, labs_avx2, labs_avx512,
    (table: &[f32; 256], codes: &[[u8; 3]], out: &mut LabPlanesMut)
);
for_this_processor!(
    codes8, codes8_work, codes8_avx2, codes8_avx512,
    (colours: LabPlanes, out: &mut [[u8; 3]])
);

/// ΔE00 of each pair, within 1e-4 or 1e-5 of its value, whichever is more, of the formula in double
/// precision for the same colours. Left out: pairs whose hues are opposite to within a thousandth of a
/// degree, for which the formula itself jumps.
pub fn delta_e_2000_planes(one: LabPlanes, two: LabPlanes, out: &mut [f32]) -> usize {
    let count = one.len().min(two.len()).min(out.len());
    differences(one, two, &mut out[..count]);
    count
}

#[inline(always)]
fn differences_work(one: LabPlanes, two: LabPlanes, out: &mut [f32]) {
    for start in (0..out.len()).step_by(LANES) {
        let lanes = delta_e_2000_lanes(&one.lanes(start), &two.lanes(start));
        put(out, start, &lanes);
    }
}

/// `f(t)` of CIELAB without a branch; t is never negative here.
#[inline(always)]
fn f(t: f32) -> f32 {
    const LEAST: f32 = EPSILON as f32;
    let straight = (KAPPA / 116.0) as f32 * t + (16.0 / 116.0) as f32;
    let curved = cbrt_positive(t.max(LEAST));
    if t > LEAST { curved } else { straight }
}

/// A matrix as it is here.
const fn single(m: &Matrix3) -> [[f32; 3]; 3] {
    let mut out = [[0.0; 3]; 3];
    let mut i = 0;
    while i < 9 {
        out[i / 3][i % 3] = m[i / 3][i % 3] as f32;
        i += 1;
    }
    out
}

#[inline(always)]
fn apply(m: &[[f32; 3]; 3], [x, y, z]: [f32; 3]) -> [f32; 3] {
    m.map(|row| row[0] * x + row[1] * y + row[2] * z)
}

fn decode_table() -> &'static [f32; 256] {
    static TABLE: OnceLock<[f32; 256]> = OnceLock::new();
    TABLE.get_or_init(|| std::array::from_fn(|code| decode_srgb(code as f64 / 255.0) as f32))
}

/// CIELAB (D50) of 8-bit sRGB codes, each component within 3e-4 of the conversion in double precision.
pub fn srgb8_to_lab_planes(codes: &[[u8; 3]], mut out: LabPlanesMut) -> usize {
    let count = codes.len().min(out.len());
    labs(decode_table(), &codes[..count], &mut out);
    count
}

#[inline(always)]
fn labs_work(table: &[f32; 256], codes: &[[u8; 3]], out: &mut LabPlanesMut) {
    const M: [[f32; 3]; 3] = single(&RELATIVE_D50_FROM_SRGB);
    for (n, codes) in codes.chunks(LANES).enumerate() {
        let mut v = [[0.0; LANES]; 3];
        for (i, code) in codes.iter().enumerate() {
            for k in 0..3 {
                v[k][i] = table[usize::from(code[k])];
            }
        }
        let [one, two, three] = &mut v;
        for i in 0..LANES {
            let [x, y, z] = apply(&M, [one[i], two[i], three[i]]).map(f);
            one[i] = 116.0 * y - 16.0;
            two[i] = 500.0 * (x - y);
            three[i] = 200.0 * (y - z);
        }
        let (start, end) = (n * LANES, n * LANES + codes.len());
        put(&mut out.l[..end], start, &v[0]);
        put(&mut out.a[..end], start, &v[1]);
        put(&mut out.b[..end], start, &v[2]);
    }
}

/// The inverse of [`f`] without a branch.
#[inline(always)]
fn f_inverse(t: f32) -> f32 {
    let straight = (116.0 / KAPPA) as f32 * t - (16.0 / KAPPA) as f32;
    let curved = t * t * t;
    if curved > EPSILON as f32 {
        curved
    } else {
        straight
    }
}

/// The code of linear light (IEC 61966-2-1; 1/2.4 is 5/12).
#[inline(always)]
#[expect(clippy::manual_clamp, reason = "NaN goes to 0")]
fn code(linear: f32) -> u32 {
    // Where the straight part ends.
    const LEAST: f32 = 0.003_130_8;
    let within = linear.max(0.0).min(1.0);
    let curved = (1.055 * 255.0) * power_5_12(within.max(LEAST)) - 0.055 * 255.0;
    let straight = (12.92 * 255.0) * within;
    let code = if within > LEAST { curved } else { straight };
    // Adding 2^23 rounds to a whole number, which is then in the last bits.
    (code + 8_388_608.0).to_bits() & 0xFF
}

/// The nearest 8-bit sRGB codes of CIELAB (D50) colours, limited to the gamut by clipping (see
/// [`crate::gamut`] for mapping). A colour that lies within a thousandth of a code of the middle
/// between two may get the other.
pub fn lab_planes_to_srgb8(colours: LabPlanes, out: &mut [[u8; 3]]) -> usize {
    let count = colours.len().min(out.len());
    codes8(colours, &mut out[..count]);
    count
}

#[inline(always)]
fn codes8_work(colours: LabPlanes, out: &mut [[u8; 3]]) {
    const M: [[f32; 3]; 3] = single(&SRGB_FROM_RELATIVE_D50);
    for (n, out) in out.chunks_mut(LANES).enumerate() {
        let [l, a, b] = colours.lanes(n * LANES);
        let mut codes = [0; LANES];
        for i in 0..LANES {
            let y = (l[i] + 16.0) * (1.0 / 116.0);
            let relative = [y + a[i] * (1.0 / 500.0), y, y - b[i] * (1.0 / 200.0)].map(f_inverse);
            let [r, g, b] = apply(&M, relative).map(code);
            codes[i] = r | g << 8 | b << 16;
        }
        put_codes(out.as_flattened_mut(), &codes);
    }
}

/// Three bytes of each, in their order.
#[inline(always)]
fn put_codes(out: &mut [u8], codes: &[u32; LANES]) {
    if let Some(out) = out.first_chunk_mut::<{ 3 * LANES }>() {
        // Eight codes of three bytes are three words of eight.
        for (out, codes) in out.chunks_exact_mut(24).zip(codes.chunks_exact(8)) {
            let c = |i: usize| u64::from(codes[i]);
            let words = [
                c(0) | c(1) << 24 | c(2) << 48,
                c(2) >> 16 | c(3) << 8 | c(4) << 32 | c(5) << 56,
                c(5) >> 8 | c(6) << 16 | c(7) << 40,
            ];
            for (out, word) in out.chunks_exact_mut(8).zip(words) {
                out.copy_from_slice(&word.to_le_bytes());
            }
        }
        return;
    }
    for (out, code) in out.chunks_exact_mut(3).zip(codes) {
        out.copy_from_slice(&code.to_le_bytes()[..3]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bulk::{delta_e_2000_slice, lab_to_srgb8_slice, srgb8_to_lab_slice};
    use crate::lab::LabD50;

    /// Planes that own their numbers.
    struct Planes([Vec<f32>; 3]);

    impl Planes {
        fn of(labs: &[LabD50]) -> Self {
            Self([0, 1, 2].map(|k| labs.iter().map(|c| c.to_array()[k] as f32).collect()))
        }

        fn see(&self) -> LabPlanes<'_> {
            let [l, a, b] = &self.0;
            LabPlanes { l, a, b }
        }

        fn fill(&mut self) -> LabPlanesMut<'_> {
            let [l, a, b] = &mut self.0;
            LabPlanesMut { l, a, b }
        }

        /// The same numbers in double precision.
        fn wide(&self) -> Vec<LabD50> {
            (0..self.0[0].len())
                .map(|i| LabD50::from_array([0, 1, 2].map(|k| f64::from(self.0[k][i]))))
                .collect()
        }
    }

    /// Numbers 0..1 from a seed: the generator of S. K. Park, K. W. Miller, Communications of the
    /// ACM 31(10), 1988.
    fn random(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed;
        move || {
            state = state * 16_807 % 2_147_483_647;
            state as f64 / 2_147_483_647.0
        }
    }

    fn some(count: usize, seed: u64) -> Vec<LabD50> {
        let mut next = random(seed);
        let colour = |_| {
            LabD50::new(
                100.0 * next(),
                256.0 * next() - 128.0,
                256.0 * next() - 128.0,
            )
        };
        (0..count).map(colour).collect()
    }

    /// How far two hues are from being opposite, in degrees.
    fn from_opposite(one: LabD50, two: LabD50) -> f64 {
        ((one.to_lch().h_deg - two.to_lch().h_deg).abs() - 180.0).abs()
    }

    fn check(one: &[LabD50], two: &[LabD50]) {
        let (one, two) = (Planes::of(one), Planes::of(two));
        let count = one.see().len();
        let (mut got, mut wanted) = (vec![0.0; count], vec![0.0; count]);
        assert_eq!(delta_e_2000_planes(one.see(), two.see(), &mut got), count);
        let (one, two) = (one.wide(), two.wide());
        delta_e_2000_slice(&one, &two, &mut wanted);
        let mut compared = 0;
        for i in 0..count {
            // The hue angle of colours this near to the axis turns with the factor 1 + G.
            if from_opposite(one[i], two[i]) < 1e-3 {
                continue;
            }
            compared += 1;
            let off = (f64::from(got[i]) - wanted[i]).abs();
            assert!(
                off < 1e-4_f64.max(1e-5 * wanted[i]),
                "{:?} {:?}: {} {}",
                one[i],
                two[i],
                got[i],
                wanted[i]
            );
        }
        assert!(compared * 100 > count * 98, "{compared} of {count}");
    }

    #[test]
    fn differences_hold_their_tolerance_far_and_near() {
        // An odd number, so that the last lanes are partly filled.
        let one = some(200_003, 1);
        check(&one, &some(200_003, 2));
        let mut next = random(3);
        for reach in [10.0, 1.0, 0.01] {
            let near: Vec<_> = (one.iter())
                .map(|c| {
                    let mut by = || reach * (next() - 0.5);
                    LabD50::new(c.l + by(), c.a + by(), c.b + by())
                })
                .collect();
            check(&one, &near);
        }
        let greys: Vec<_> = one.iter().map(|c| LabD50::new(c.l, 0.0, 0.0)).collect();
        check(&one, &greys);
        check(&greys, &one);
        let pale: Vec<_> = (one.iter())
            .map(|c| LabD50::new(c.l, c.a * 1e-3, c.b * 1e-3))
            .collect();
        check(&one, &pale);
    }

    #[test]
    fn equal_colours_differ_by_nothing() {
        let one = Planes::of(&some(1000, 4));
        let mut out = vec![1.0; 1000];
        delta_e_2000_planes(one.see(), one.see(), &mut out);
        assert!(out.iter().all(|&d| d == 0.0));
    }

    #[test]
    fn conversions_hold_their_tolerance_for_every_code_of_a_grid() {
        let levels: Vec<u8> = (0..=255).step_by(5).chain([1, 2, 9, 11, 254]).collect();
        let mut codes = Vec::new();
        for &r in &levels {
            for &g in &levels {
                codes.extend(levels.iter().map(|&b| [r, g, b]));
            }
        }
        let mut wanted = vec![LabD50::default(); codes.len()];
        srgb8_to_lab_slice(&codes, &mut wanted);
        let mut got = Planes([0, 1, 2].map(|_| vec![0.0; codes.len()]));
        assert_eq!(srgb8_to_lab_planes(&codes, got.fill()), codes.len());
        for (wanted, got) in wanted.iter().zip(got.wide()) {
            let (wanted, got) = (wanted.to_array(), got.to_array());
            for k in 0..3 {
                assert!((wanted[k] - got[k]).abs() < 3e-4, "{wanted:?} {got:?}");
            }
        }
        let mut back = vec![[0; 3]; codes.len()];
        assert_eq!(lab_planes_to_srgb8(got.see(), &mut back), codes.len());
        assert_eq!(back, codes);
    }

    #[test]
    fn codes_are_the_nearest_or_within_a_thousandth_of_a_tie() {
        let colours = Planes::of(&some(100_001, 5));
        let labs = colours.wide();
        let mut got = vec![[0; 3]; labs.len()];
        lab_planes_to_srgb8(colours.see(), &mut got);
        let mut exact = got.clone();
        lab_to_srgb8_slice(&labs, &mut exact);
        let mut other = 0;
        for (i, lab) in labs.iter().enumerate() {
            other += usize::from(got[i] != exact[i]);
            let codes = lab.to_srgb().to_array().map(|v| v.clamp(0.0, 1.0) * 255.0);
            for k in 0..3 {
                let off = (codes[k] - f64::from(got[i][k])).abs();
                assert!(off < 0.501, "{lab:?} {} {}", codes[k], got[i][k]);
            }
        }
        assert!(other < 100, "{other}");
        let broken = Planes([vec![f32::NAN], vec![0.0], vec![0.0]]);
        lab_planes_to_srgb8(broken.see(), &mut got[..1]);
        assert_eq!(got[0], [0; 3]);
    }
}
