//! In double precision.

/// `atan(t) / t` in powers of t², 0 ≤ t ≤ tan(π/8): interpolation at the Chebyshev nodes, degree 9,
/// relative error 2e-15 (computed with NumPy).
const ATAN: [f64; 10] = [
    0.9999999999999994,
    -0.3333333333322433,
    0.19999999978845706,
    -0.1428571268902675,
    0.1111104969407783,
    -0.09089544498688583,
    0.07673682760612088,
    -0.06506848952171564,
    0.05027495423112116,
    -0.025352302405247766,
];

/// The arc tangent of |t| ≤ tan(π/8), which keeps `atan2` within 1e-13.
#[inline(always)]
pub(crate) fn arc_tangent_small(t: f64) -> f64 {
    // In powers of z and z² apart, so that two chains run side by side.
    let z = t * t;
    let zz = z * z;
    let c = &ATAN;
    let even = c[0] + zz * (c[2] + zz * (c[4] + zz * (c[6] + zz * c[8])));
    let odd = c[1] + zz * (c[3] + zz * (c[5] + zz * (c[7] + zz * c[9])));
    t * (even + z * odd)
}

/// `exp(x)` for x ≤ 0 to 1e-14 absolute: `exp(x/64)` by its series, then six squarings. Below
/// x = -40 the result is below 1e-17 and zero is returned.
#[inline(always)]
pub(crate) fn exp_negative(x: f64) -> f64 {
    let small = x < -40.0;
    let v = if small { 0.0 } else { x * (1.0 / 64.0) };
    // |v| ≤ 0.625: the term after v¹² is below 4e-13 at the far end, where the result itself is
    // below 1e-17, and far below rounding where the result counts.
    let mut p = 1.0 / 479_001_600.0;
    p = p * v + 1.0 / 39_916_800.0;
    p = p * v + 1.0 / 3_628_800.0;
    p = p * v + 1.0 / 362_880.0;
    p = p * v + 1.0 / 40_320.0;
    p = p * v + 1.0 / 5_040.0;
    p = p * v + 1.0 / 720.0;
    p = p * v + 1.0 / 120.0;
    p = p * v + 1.0 / 24.0;
    p = p * v + 1.0 / 6.0;
    p = p * v + 0.5;
    p = p * v + 1.0;
    p = p * v + 1.0;
    for _ in 0..6 {
        p *= p;
    }
    if small { 0.0 } else { p }
}

/// `sin(x)` for 0 ≤ x ≤ π/3 to 1e-15: the Taylor series to x¹⁷.
#[inline(always)]
pub(crate) fn sin_small(x: f64) -> f64 {
    let z = -x * x;
    let mut p = 1.0 / 355_687_428_096_000.0;
    p = p * z + 1.0 / 1_307_674_368_000.0;
    p = p * z + 1.0 / 6_227_020_800.0;
    p = p * z + 1.0 / 39_916_800.0;
    p = p * z + 1.0 / 362_880.0;
    p = p * z + 1.0 / 5_040.0;
    p = p * z + 1.0 / 120.0;
    p = p * z + 1.0 / 6.0;
    p = p * z + 1.0;
    x * p
}

/// `cbrt(x)` for normal x > 0 to a relative 2e-15, without a division: a first guess of the reciprocal
/// from the exponent bits, two steps of the series of `(1 - h)^(-1/3)` with `h = 1 - x y³`, and
/// `x y²` in the end.
#[inline(always)]
pub(crate) fn cbrt_positive(x: f64) -> f64 {
    // Minus one third of the exponent; the constant (4/3 of the bias, less what halves the error)
    // puts the guess within 4 %.
    let mut y = f64::from_bits(((RECIPROCAL - (x.to_bits() >> 32) as u32 / 3) as u64) << 32);
    // |h| is at most 0.103, and 4e-6 after the first step.
    let h = 1.0 - x * (y * y * y);
    y += y * h * (1.0 / 3.0 + h * (2.0 / 9.0 + h * (14.0 / 81.0 + h * (35.0 / 243.0))));
    let h = 1.0 - x * (y * y * y);
    y += y * h * (1.0 / 3.0 + h * (2.0 / 9.0));
    x * (y * y)
}

/// See [`cbrt_positive`].
const RECIPROCAL: u32 = 0x553E_E800;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fast::Real;
    use std::f64::consts::PI;

    #[test]
    fn atan2_holds_its_error_all_round() {
        for i in 0..=7200 {
            let angle = (f64::from(i) / 20.0 - 180.0).to_radians();
            let (y, x) = (3.7 * angle.sin(), 3.7 * angle.cos());
            assert!((Real::atan2(y, x) - y.atan2(x)).abs() < 1e-13, "{angle}");
        }
    }

    #[test]
    fn exp_negative_holds_its_error() {
        for i in 0..=6000 {
            let x = -f64::from(i) / 100.0;
            assert!((exp_negative(x) - x.exp()).abs() < 1e-14, "{x}");
        }
    }

    #[test]
    fn sin_small_holds_its_error() {
        for i in 0..=1000 {
            let x = f64::from(i) / 1000.0 * PI / 3.0;
            assert!((sin_small(x) - x.sin()).abs() < 1e-15, "{x}");
        }
    }

    #[test]
    fn cbrt_positive_holds_its_error() {
        for i in 1..=40_000 {
            let x = f64::from(i) * 1e-4;
            assert!((cbrt_positive(x) / x.cbrt() - 1.0).abs() < 2e-15, "{x}");
        }
    }
}
