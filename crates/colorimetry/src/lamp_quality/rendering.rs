//! The CIE general colour rendering index. CIE 13.3-1995.

use std::sync::OnceLock;

use super::temperature::lamp_temperature;
use super::{powers_5nm, xyz_100};
use crate::illuminant::{Lamp, columns};
use crate::observer::Observer;
use crate::spectrum::Spectrum;
use crate::xyz::Xyz;

/// The indices of a lamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rendering {
    /// Ra, the mean of the first eight.
    pub ra: f64,
    /// R1 to R14; R9 is a strong red, R13 and R14 skin and leaf.
    pub special: [f64; 14],
    /// The distance of the lamp from its reference in (u, v): above 0.0054 the index is not defined
    /// (CIE 13.3, section 5.3).
    pub distance_uv: f64,
}

fn samples() -> &'static [Spectrum] {
    static TABLE: OnceLock<Vec<Spectrum>> = OnceLock::new();
    TABLE.get_or_init(|| columns(include_str!("../../data/rendering_samples_5nm.csv")))
}

/// Planckian below 5000 K, daylight from there on. CIE 13.3, section 5.2.
fn reference(kelvin: f64) -> Lamp {
    if kelvin < 5000.0 {
        Lamp::Planckian(kelvin)
    } else {
        Lamp::Daylight(kelvin)
    }
}

fn uv(xyz: [f64; 3]) -> [f64; 2] {
    Xyz::from_array(xyz).chromaticity().to_uv_1960()
}

/// c and d of equation 3.
fn cd([u, v]: [f64; 2]) -> [f64; 2] {
    [
        (4.0 - u - 10.0 * v) / v,
        (1.708 * v + 0.404 - 1.481 * u) / v,
    ]
}

/// (u, v) of a sample moved from the white of the lamp to that of the reference: equation 2.
fn adapted(sample: [f64; 2], lamp: [f64; 2], reference: [f64; 2]) -> [f64; 2] {
    let ([c, d], [cl, dl], [cr, dr]) = (cd(sample), cd(lamp), cd(reference));
    let (c, d) = (c * cr / cl, d * dr / dl);
    let divisor = 16.518 + 1.481 * c - d;
    [(10.872 + 0.404 * c - 4.0 * d) / divisor, 5.520 / divisor]
}

/// CIE 1964 U*V*W*: equation 4.
fn uvw(y: f64, [u, v]: [f64; 2], white: [f64; 2]) -> [f64; 3] {
    let w = 25.0 * y.cbrt() - 17.0;
    [13.0 * w * (u - white[0]), 13.0 * w * (v - white[1]), w]
}

/// The colour rendering index of a lamp; all from sums at 5 nm, 380 to 780 nm.
pub fn rendering(lamp: &Lamp) -> Rendering {
    let observer = Observer::TwoDegree;
    let lamp_power = powers_5nm(lamp);
    let reference_power = powers_5nm(&reference(lamp_temperature(lamp).kelvin));
    let lamp_white = uv(xyz_100(&lamp_power, &|_| 1.0, observer));
    let reference_white = uv(xyz_100(&reference_power, &|_| 1.0, observer));
    let mut special = [0.0; 14];
    for (index, sample) in special.iter_mut().zip(samples()) {
        let reflectance = |i: usize| sample.values()[i];
        let shown = xyz_100(&lamp_power, &reflectance, observer);
        let wanted = xyz_100(&reference_power, &reflectance, observer);
        let moved = adapted(uv(shown), lamp_white, reference_white);
        let a = uvw(shown[1], moved, reference_white);
        let b = uvw(wanted[1], uv(wanted), reference_white);
        let difference = (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt();
        *index = 100.0 - 4.6 * difference;
    }
    Rendering {
        ra: special[..8].iter().sum::<f64>() / 8.0,
        special,
        distance_uv: (lamp_white[0] - reference_white[0]).hypot(lamp_white[1] - reference_white[1]),
    }
}
