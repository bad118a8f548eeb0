//! Elementary functions without branches or calls, so that loops over them become vector code.
//!
//! Each holds its stated error against the functions of `std` (the tests run over its domain).

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// tan(π/8), where the argument of the arc tangent is reduced.
const TAN_PI_8: f64 = 0.414_213_562_373_095_03;

/// `atan2(y, x)` to 1e-13, (x, y) not both zero.
#[inline(always)]
pub(crate) fn atan2(y: f64, x: f64) -> f64 {
    let (ax, ay) = (x.abs(), y.abs());
    let swap = ay > ax;
    let (num, den) = if swap { (ax, ay) } else { (ay, ax) };
    // tan(φ - π/4) = (n - d) / (n + d) brings 0..1 down to |t| ≤ tan(π/8).
    let upper = num > TAN_PI_8 * den;
    let t = if upper { num - den } else { num } / if upper { num + den } else { den };
    // Taylor series of atan to t³⁵; the next term is below 1e-15 at tan(π/8).
    let z = -t * t;
    let mut p = 1.0 / 35.0;
    p = p * z + 1.0 / 33.0;
    p = p * z + 1.0 / 31.0;
    p = p * z + 1.0 / 29.0;
    p = p * z + 1.0 / 27.0;
    p = p * z + 1.0 / 25.0;
    p = p * z + 1.0 / 23.0;
    p = p * z + 1.0 / 21.0;
    p = p * z + 1.0 / 19.0;
    p = p * z + 1.0 / 17.0;
    p = p * z + 1.0 / 15.0;
    p = p * z + 1.0 / 13.0;
    p = p * z + 1.0 / 11.0;
    p = p * z + 1.0 / 9.0;
    p = p * z + 1.0 / 7.0;
    p = p * z + 1.0 / 5.0;
    p = p * z + 1.0 / 3.0;
    p = p * z + 1.0;
    let base = t * p + if upper { FRAC_PI_4 } else { 0.0 };
    let folded = if swap { FRAC_PI_2 - base } else { base };
    let angle = if x < 0.0 { PI - folded } else { folded };
    angle.copysign(y)
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

/// `cbrt(x)` for normal x > 0 to a relative 2e-15: a first guess from the exponent bits, then two
/// steps of Halley's method and one of Newton's.
#[inline(always)]
pub(crate) fn cbrt_positive(x: f64) -> f64 {
    // One third of the exponent; 0x2A9F… puts the guess within 4 % (2/3 of the bias, less 0.1).
    let guess = f64::from_bits((((x.to_bits() >> 32) as u32 / 3 + 0x2A9F_7893) as u64) << 32);
    let mut y = guess;
    for _ in 0..2 {
        let y3 = y * y * y;
        y *= (y3 + 2.0 * x) / (2.0 * y3 + x);
    }
    y - (y - x / (y * y)) * (1.0 / 3.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn atan2_holds_its_error_all_round() {
        for i in 0..=7200 {
            let angle = (f64::from(i) / 20.0 - 180.0).to_radians();
            let (y, x) = (3.7 * angle.sin(), 3.7 * angle.cos());
            assert!((atan2(y, x) - y.atan2(x)).abs() < 1e-13, "{angle}");
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
