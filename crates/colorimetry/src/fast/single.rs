//! In single precision. The coefficients interpolate at the Chebyshev nodes (computed with NumPy).

use std::f32::consts::{LN_2, LOG2_E};

/// `atan(t) / t` in powers of t², 0 ≤ t ≤ tan(π/8), relative error 2e-8.
const ATAN: [f32; 5] = [
    0.999_999_98,
    -0.333_327_86,
    0.199_740_82,
    -0.138_484_9,
    0.079_762_92,
];

/// The arc tangent of |t| ≤ tan(π/8), which keeps `atan2` within 5e-7.
#[inline(always)]
pub(crate) fn arc_tangent_small(t: f32) -> f32 {
    let z = t * t;
    let c = &ATAN;
    t * (c[0] + z * (c[1] + z * (c[2] + z * (c[3] + z * c[4]))))
}

/// `2^f`, |f| ≤ 1/2, relative error 1e-7; the second is ln 2 to the last digit of this precision.
const EXP2: [f32; 6] = [
    1.000_000_1,
    LN_2,
    0.240_221_07,
    0.055_503_573,
    0.009_676_032,
    0.001_339_086_3,
];

/// `exp(x)` for x ≤ 0 to 4e-7 absolute. Below x = -40 the result is below 1e-17 and zero is returned.
#[inline(always)]
pub(crate) fn exp_negative(x: f32) -> f32 {
    let small = x < -40.0;
    let v = if small { 0.0 } else { x * LOG2_E };
    // Adding 3 * 2^22 rounds to a whole number, which is then in the last bits.
    const ROUND: f32 = 12_582_912.0;
    let shifted = v + ROUND;
    let whole = shifted - ROUND;
    let f = v - whole;
    let c = &EXP2;
    let p = c[0] + f * (c[1] + f * (c[2] + f * (c[3] + f * (c[4] + f * c[5]))));
    // The whole part goes to the exponent, 23 bits up; it is -58 at least, so nothing runs over.
    let p = f32::from_bits(p.to_bits().wrapping_add(shifted.to_bits() << 23));
    if small { 0.0 } else { p }
}

/// `sin(x) / x` in powers of x², 0 ≤ x ≤ π/3, relative error 4e-8.
const SIN: [f32; 4] = [
    0.999_999_97,
    -0.166_665_78,
    0.008_329_264,
    -0.000_192_450_87,
];

/// `sin(x)` for 0 ≤ x ≤ π/3 to 2e-7.
#[inline(always)]
pub(crate) fn sin_small(x: f32) -> f32 {
    let z = x * x;
    let c = &SIN;
    x * (c[0] + z * (c[1] + z * (c[2] + z * c[3])))
}

/// `cbrt(x)` for normal x > 0 to a relative 4e-7, as in double precision with one step of the same
/// series, cut later, and a step of its first two terms.
#[inline(always)]
pub(crate) fn cbrt_positive(x: f32) -> f32 {
    let mut y = f32::from_bits(RECIPROCAL - x.to_bits() / 3);
    // |h| is at most 0.103, and 3e-3 after the step of two terms.
    let h = 1.0 - x * (y * y * y);
    y += y * h * (1.0 / 3.0 + h * (2.0 / 9.0));
    let h = 1.0 - x * (y * y * y);
    y += y * h * (1.0 / 3.0 + h * (2.0 / 9.0));
    x * (y * y)
}

/// The constant of double precision brought to this exponent: 4/3 of the bias, less what halves the
/// error of the first guess.
const RECIPROCAL: u32 = 0x54A2_1D2A;

/// `x^(5/12)` for 0.003 ≤ x ≤ 1 to a relative 2e-6: as the cube root, with the twelfth root in the
/// reciprocal, and `x y⁷` in the end.
#[inline(always)]
pub(crate) fn power_5_12(x: f32) -> f32 {
    // A twelfth of the exponent bits, from the upper half of them.
    let mut y = f32::from_bits(RECIPROCAL_12 - (x.to_bits() >> 16) * (65536 / 12));
    let twelfth = |y: f32| {
        let y4 = (y * y) * (y * y);
        x * (y4 * y4 * y4)
    };
    // The series of (1 - h)^(-1/12). |h| is at most 0.35, and 2e-3 after the first step.
    let h = 1.0 - twelfth(y);
    y += y * h * (1.0 / 12.0 + h * (13.0 / 288.0 + h * (325.0 / 10_368.0)));
    let h = 1.0 - twelfth(y);
    y += y * h * (1.0 / 12.0 + h * (13.0 / 288.0));
    let y2 = y * y;
    (x * y) * (y2 * y2 * y2)
}

/// 13/12 of the bias of the exponent, moved to where the error of the first guess is least both ways
/// (by trying).
const RECIPROCAL_12: u32 = 0x44C3_309A;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fast::Real;
    use std::f32::consts::PI;

    #[test]
    fn atan2_holds_its_error_all_round() {
        for i in 0..=7200 {
            let angle = (f64::from(i) / 20.0 - 180.0).to_radians();
            let (y, x) = ((3.7 * angle.sin()) as f32, (3.7 * angle.cos()) as f32);
            let wanted = f64::from(y).atan2(f64::from(x));
            let off = f64::from(Real::atan2(y, x)) - wanted;
            assert!(off.abs() < 5e-7, "{angle} {off}");
        }
    }

    #[test]
    fn exp_negative_holds_its_error() {
        for i in 0..=60_000 {
            let x = -(i as f32) / 1000.0;
            let off = f64::from(exp_negative(x)) - f64::from(x).exp();
            assert!(off.abs() < 4e-7, "{x} {off}");
        }
    }

    #[test]
    fn sin_small_holds_its_error() {
        for i in 0..=1000 {
            let x = i as f32 / 1000.0 * PI / 3.0;
            let off = f64::from(sin_small(x)) - f64::from(x).sin();
            assert!(off.abs() < 2e-7, "{x} {off}");
        }
    }

    #[test]
    fn cbrt_positive_holds_its_error() {
        for i in 1..=400_000 {
            let x = i as f32 * 1e-5;
            let off = f64::from(cbrt_positive(x)) / f64::from(x).cbrt() - 1.0;
            assert!(off.abs() < 4e-7, "{x} {off}");
        }
    }

    #[test]
    fn power_5_12_holds_its_error() {
        for i in 3_000..=1_000_000 {
            let x = i as f32 * 1e-6;
            let off = f64::from(power_5_12(x)) / f64::from(x).powf(5.0 / 12.0) - 1.0;
            assert!(off.abs() < 2e-6, "{x} {off}");
        }
    }
}
