//! The map from a scalar band value to a colour.
//!
//! L* rises linearly, so that equal differences of the value look equal and every observer, colour
//! vision deficiency included, reads more as lighter. The hue goes from dark green over slate blue,
//! mauve and rose to cream; the path is timed so that a step is even in ΔE00 as well. The knots
//! come from `data/band_map/design.py`.

use std::sync::OnceLock;

use crate::lab::LabD50;
use crate::rgb::{Encoded, Srgb};

/// L* at the dark end.
pub const BAND_MAP_L_FIRST: f64 = 12.0;

/// L* at the light end.
pub const BAND_MAP_L_LAST: f64 = 95.0;

/// (a*, b*) at equal steps of the value.
pub const BAND_MAP_AB: [[f64; 2]; 17] = [
    [-8.34, 3.37],
    [-11.04, -4.12],
    [-10.10, -12.73],
    [-6.85, -22.62],
    [1.38, -30.63],
    [9.88, -31.70],
    [16.84, -29.76],
    [23.23, -26.18],
    [29.12, -20.54],
    [33.86, -12.16],
    [35.64, -1.81],
    [33.57, 8.24],
    [28.62, 16.31],
    [21.69, 21.87],
    [13.47, 23.85],
    [5.45, 20.58],
    [0.45, 12.99],
];

/// The colour for a value 0..1; values outside and NaN are limited to the ends.
pub fn band_map_lab(value: f64) -> LabD50 {
    let t = if value > 0.0 { value.min(1.0) } else { 0.0 };
    let last = BAND_MAP_AB.len() - 1;
    let position = t * last as f64;
    let i = (position as usize).min(last - 1);
    let u = position - i as f64;
    let [p0, p1, p2, p3] =
        [i.saturating_sub(1), i, i + 1, (i + 2).min(last)].map(|k| BAND_MAP_AB[k]);
    let ab = |k: usize| catmull_rom(p0[k], p1[k], p2[k], p3[k], u);
    LabD50::new(
        BAND_MAP_L_FIRST + (BAND_MAP_L_LAST - BAND_MAP_L_FIRST) * t,
        ab(0),
        ab(1),
    )
}

/// E. Catmull, R. Rom, "A class of local interpolating splines", 1974; uniform, tension 1/2.
fn catmull_rom(p0: f64, p1: f64, p2: f64, p3: f64, u: f64) -> f64 {
    let (a, b) = (p2 - p0, 2.0 * p0 - 5.0 * p1 + 4.0 * p2 - p3);
    let c = 3.0 * (p1 - p2) + p3 - p0;
    p1 + 0.5 * u * (a + u * (b + u * c))
}

/// The 256 encoded sRGB colours of the map, dark to light.
pub fn band_map() -> [[u8; 3]; 256] {
    static MAP: OnceLock<[[u8; 3]; 256]> = OnceLock::new();
    *MAP.get_or_init(|| {
        std::array::from_fn(|i| nearest_in_lightness(band_map_lab(i as f64 / 255.0)))
    })
}

/// Of the eight codes around the colour the one nearest to it, lightness counting most: plain
/// rounding would make L* step back now and then.
pub(crate) fn nearest_in_lightness(lab: LabD50) -> [u8; 3] {
    let floor = lab.to_srgb().to_array().map(|v| (v * 255.0).floor());
    let mut best = ([0; 3], f64::INFINITY);
    for corner in 0..8 {
        // `as` saturates at 0 and 255.
        let code: [u8; 3] = std::array::from_fn(|k| (floor[k] + f64::from(corner >> k & 1)) as u8);
        let got = LabD50::from(Encoded::<Srgb>::from_u8(code));
        let (l, a, b) = (got.l - lab.l, got.a - lab.a, got.b - lab.b);
        let distance = 16.0 * l * l + a * a + b * b;
        if distance < best.1 {
            best = (code, distance);
        }
    }
    best.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delta_e::delta_e_2000;

    fn labs() -> Vec<LabD50> {
        band_map()
            .iter()
            .map(|&c| Encoded::<Srgb>::from_u8(c).into())
            .collect()
    }

    #[test]
    fn lightness_rises_at_every_step_and_stays_on_its_line() {
        for (i, pair) in labs().windows(2).enumerate() {
            assert!(pair[1].l > pair[0].l, "step {i}");
            let want = band_map_lab(i as f64 / 255.0).l;
            assert!(
                (pair[0].l - want).abs() < 0.2,
                "code {i}: {} for {want}",
                pair[0].l
            );
        }
    }

    #[test]
    fn path_lies_inside_srgb() {
        for i in 0..=1000 {
            let rgb = band_map_lab(f64::from(i) / 1000.0).to_srgb().to_array();
            assert!(rgb.iter().all(|v| (0.0..=1.0).contains(v)), "{i}: {rgb:?}");
        }
    }

    #[test]
    fn sixteenths_of_the_map_differ_evenly_in_delta_e_2000() {
        // In ΔE00 the whole map is one scale: a sixteenth never differs from the mean by a fifth.
        let labs = labs();
        let steps: Vec<f64> = (0..15)
            .map(|i| delta_e_2000(labs[i * 17], labs[i * 17 + 17]))
            .collect();
        let mean = steps.iter().sum::<f64>() / 15.0;
        assert!(
            steps.iter().all(|s| (s / mean - 1.0).abs() < 0.2),
            "{steps:?}"
        );
    }
}
