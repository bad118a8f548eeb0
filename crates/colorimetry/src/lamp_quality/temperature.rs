//! Correlated colour temperature and the distance from the Planckian locus.

use crate::illuminant::{Lamp, planck};
use crate::observer::{FIRST_NM, Observer};
use crate::xyz::Xyz;

/// The nearest Planckian radiator in the CIE 1960 (u, v) diagram. CIE 15:2018, section 9.5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temperature {
    /// Correlated colour temperature, 1000 to 25000 K.
    pub kelvin: f64,
    /// Distance from the locus in (u, v), positive above it (greenish), negative below (pinkish):
    /// Duv of Y. Ohno, "Practical use and calculation of CCT and Duv", Leukos 10, 2013.
    pub duv: f64,
}

impl Temperature {
    /// Whether a temperature says anything at all: CIE 15:2018 allows it up to 0.05 from the locus.
    pub fn is_meaningful(self) -> bool {
        self.duv.abs() <= 0.05
    }
}

/// The range searched, in reciprocal megakelvin.
const MIREDS: (f64, f64) = (1e6 / 25000.0, 1e6 / 1000.0);

/// Over which wavelengths the locus is summed.
#[derive(Clone, Copy)]
enum Range {
    /// 360 to 830 nm, as meters and tables have it.
    Whole,
    /// 380 to 780 nm, as this crate sums lamps: what is cut from the lamp is cut from the locus.
    Visible,
}

fn planckian_uv(mired: f64, range: Range) -> [f64; 2] {
    let observer = Observer::TwoDegree;
    let kelvin = 1e6 / mired;
    let (first_nm, matching) = match range {
        Range::Whole => (360, observer.matching_360_to_830()),
        Range::Visible => (FIRST_NM, observer.matching_1nm()),
    };
    let mut sum = [0.0; 3];
    for (nm, matching) in (first_nm..).zip(matching) {
        let power = planck(nm as f64, kelvin);
        for k in 0..3 {
            sum[k] += power * matching[k];
        }
    }
    Xyz::from_array(sum).chromaticity().to_uv_1960()
}

/// Of a chromaticity in CIE 1960 (u, v).
pub fn correlated_temperature(uv: [f64; 2]) -> Temperature {
    nearest(uv, Range::Whole)
}

/// Of a lamp.
pub fn lamp_temperature(lamp: &Lamp) -> Temperature {
    let white = lamp.white(Observer::TwoDegree);
    nearest(white.chromaticity().to_uv_1960(), Range::Visible)
}

/// The least distance, found by a coarse search and then by the golden section, to 0.001 mired.
fn nearest(uv: [f64; 2], range: Range) -> Temperature {
    let distance = |mired: f64| {
        let p = planckian_uv(mired, range);
        (p[0] - uv[0]).hypot(p[1] - uv[1])
    };
    const COARSE: usize = 48;
    let at = |i: usize| MIREDS.0 + (MIREDS.1 - MIREDS.0) * i as f64 / COARSE as f64;
    let nearest = (0..=COARSE)
        .min_by(|a, b| distance(at(*a)).total_cmp(&distance(at(*b))))
        .unwrap_or(0);
    let (mut low, mut high) = (at(nearest.saturating_sub(1)), at((nearest + 1).min(COARSE)));
    let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
    while high - low > 1e-3 {
        let (a, b) = (high - ratio * (high - low), low + ratio * (high - low));
        if distance(a) < distance(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let mired = 0.5 * (low + high);
    let above = uv[1] >= planckian_uv(mired, range)[1];
    let duv = distance(mired);
    Temperature {
        kelvin: 1e6 / mired,
        duv: if above { duv } else { -duv },
    }
}
