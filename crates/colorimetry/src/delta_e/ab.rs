//! ΔE*ab, CIE 1976.

use crate::lab::LabD50;

/// The Euclidean distance in CIELAB. CIE 15:2018, equation 8.21 ff.; ISO/CIE 11664-4.
#[inline]
pub fn delta_e_ab(one: LabD50, two: LabD50) -> f64 {
    let (l, a, b) = (one.l - two.l, one.a - two.a, one.b - two.b);
    (l * l + a * a + b * b).sqrt()
}
