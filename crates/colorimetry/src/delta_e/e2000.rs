//! ΔE00. CIE 142-2001; ISO/CIE 11664-6:2022; G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000
//! Color-Difference Formula: Implementation Notes, Supplementary Test Data, and Mathematical
//! Observations", Color Research and Application 30(1), 2005 (equation numbers below are theirs).
//!
//! The hues never become angles, except once for the rotation term: each hue is kept as a direction,
//! the mean hue is the bisector of the two directions, and the cosines of its multiples follow from
//! the multiple-angle formulas. The result is the same to rounding, without the branches at 0° and
//! 180°, so that the compiler can do several pairs at a time. Two hues exactly opposite have two
//! bisectors; rounding decides, as it does in the formula by angles (pair 14 of the paper).

use crate::fast::Real;
use crate::lab::LabD50;

/// The parametric factors kL, kC, kH and whether lightness is weighted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights2000 {
    /// kL.
    pub kl: f64,
    /// kC.
    pub kc: f64,
    /// kH.
    pub kh: f64,
    /// `true` sets S_L = 1 in place of equation 15, as some tolerance schemes for imaging do.
    pub unit_sl: bool,
}

impl Default for Weights2000 {
    fn default() -> Self {
        Self {
            kl: 1.0,
            kc: 1.0,
            kh: 1.0,
            unit_sl: false,
        }
    }
}

/// ΔE00 with all parametric factors 1. Symmetric.
#[inline]
pub fn delta_e_2000(one: LabD50, two: LabD50) -> f64 {
    let t = terms(one.to_array(), two.to_array());
    combine(&t, 1.0, 1.0, 1.0)
}

/// ΔE00 with parametric factors.
pub fn delta_e_2000_weighted(one: LabD50, two: LabD50, weights: Weights2000) -> f64 {
    let mut t = terms(one.to_array(), two.to_array());
    if weights.unit_sl {
        t.sl = 1.0;
    }
    combine(&t, weights.kl, weights.kc, weights.kh)
}

/// ΔE00 of `N` pairs, components first, in either precision.
#[inline(always)]
pub(crate) fn delta_e_2000_lanes<T: Real, const N: usize>(
    one: &[[T; N]; 3],
    two: &[[T; N]; 3],
) -> [T; N] {
    let mut out = [T::of(0.0); N];
    for i in 0..N {
        let t = terms(
            [one[0][i], one[1][i], one[2][i]],
            [two[0][i], two[1][i], two[2][i]],
        );
        out[i] = combine(&t, T::of(1.0), T::of(1.0), T::of(1.0));
    }
    out
}

struct Terms<T> {
    dl: T,
    dc: T,
    dh: T,
    sl: T,
    sc: T,
    sh: T,
    rt: T,
}

#[inline(always)]
fn combine<T: Real>(t: &Terms<T>, kl: T, kc: T, kh: T) -> T {
    let k = T::of;
    // One division for the three quotients.
    let (sl, sc, sh) = (kl * t.sl, kc * t.sc, kh * t.sh);
    let each = k(1.0) / (sl * sc * sh);
    let l = t.dl * (sc * sh * each);
    let c = t.dc * (sl * sh * each);
    let h = t.dh * (sl * sc * each);
    // Equation 22; rounding can take the sum of equal colours below zero.
    (l * l + c * c + h * h + t.rt * c * h).max(k(0.0)).sqrt()
}

/// `25⁷`, equations 4 and 19.
const POW_25_7: f64 = 6103515625.0;

#[inline(always)]
fn seventh_power_ratio_root<T: Real>(c: T) -> T {
    let k = T::of;
    let c2 = c * c;
    let c7 = c2 * c2 * c2 * c;
    (c7 / (c7 + k(POW_25_7))).sqrt()
}

#[inline(always)]
fn terms<T: Real>(one: [T; 3], two: [T; 3]) -> Terms<T> {
    let k = T::of;
    let [l1, a1, b1] = one;
    let [l2, a2, b2] = two;
    // Equations 2 to 6.
    let c_mean = k(0.5) * ((a1 * a1 + b1 * b1).sqrt() + (a2 * a2 + b2 * b2).sqrt());
    let g = k(0.5) * (k(1.0) - seventh_power_ratio_root(c_mean));
    let (a1, a2) = ((k(1.0) + g) * a1, (k(1.0) + g) * a2);
    let c1 = (a1 * a1 + b1 * b1).sqrt();
    let c2 = (a2 * a2 + b2 * b2).sqrt();
    let cm = k(0.5) * (c1 + c2);
    let (dh, cos, sin) = hue_difference_and_mean([a1, b1, c1], [a2, b2, c2]);
    // Equation 15: the four cosines by the multiple-angle formulas.
    let (cos2, sin2) = (k(2.0) * cos * cos - k(1.0), k(2.0) * cos * sin);
    let (cos3, sin3) = (cos2 * cos - sin2 * sin, sin2 * cos + cos2 * sin);
    let (cos4, sin4) = (k(2.0) * cos2 * cos2 - k(1.0), k(2.0) * cos2 * sin2);
    let t = k(1.0) - k(0.17) * (k(COS_30) * cos + k(SIN_30) * sin)
        + k(0.24) * cos2
        + k(0.32) * (k(COS_6) * cos3 - k(SIN_6) * sin3)
        - k(0.20) * (k(COS_63) * cos4 + k(SIN_63) * sin4);
    // Equations 16 to 21.
    let l50 = k(0.5) * (l1 + l2) - k(50.0);
    let l50 = l50 * l50;
    let rotation = k(2.0) * seventh_power_ratio_root(cm);
    Terms {
        dl: l2 - l1,
        dc: c2 - c1,
        dh,
        sl: k(1.0) + k(0.015) * l50 / (k(20.0) + l50).sqrt(),
        sc: k(1.0) + k(0.045) * cm,
        sh: k(1.0) + k(0.015) * cm * t,
        rt: -sin_two_delta_theta(cos, sin) * rotation,
    }
}

const COS_30: f64 = 0.866_025_403_784_438_6;
const SIN_30: f64 = 0.5;
const COS_6: f64 = 0.994_521_895_368_273_3;
const SIN_6: f64 = 0.104_528_463_267_653_47;
const COS_63: f64 = 0.453_990_499_739_546_8;
const SIN_63: f64 = 0.891_006_524_188_367_9;

/// ΔH' (equations 10, 11) and the direction of the mean hue (equation 14) of `[a', b', C']`.
#[inline(always)]
fn hue_difference_and_mean<T: Real>(one: [T; 3], two: [T; 3]) -> (T, T, T) {
    let k = T::of;
    let [a1, b1, c1] = one;
    let [a2, b2, c2] = two;
    let dot = a1 * a2 + b1 * b2;
    let cross = a1 * b2 - b1 * a2;
    let c12 = c1 * c2;
    // (2 sqrt(C1 C2) sin(Δh/2))² = 2 (C1 C2 - dot); for acute angles cross² / (C1 C2 + dot) says
    // the same without cancellation.
    let acute = dot > k(0.0);
    let half = if acute {
        cross * cross / (c12 + dot)
    } else {
        c12 - dot
    };
    let dh = (k(2.0) * half.max(k(0.0))).sqrt().copysign(cross);
    // Bisector: the sum of the unit vectors, or for obtuse angles the perpendicular of their
    // difference, on the side that the turn from one to two passes through. Both scaled by C1 C2.
    let (sum_x, sum_y) = (a1 * c2 + a2 * c1, b1 * c2 + b2 * c1);
    let (perp_x, perp_y) = (b2 * c1 - b1 * c2, a1 * c2 - a2 * c1);
    // Exactly opposite hues: (h1 + h2)/2 of angles in 0..360 is 90° past the one below 180°.
    let upper = b1 > k(0.0) || (b1 == k(0.0) && a1 > k(0.0));
    let turn = if cross != k(0.0) {
        cross
    } else if upper {
        k(1.0)
    } else {
        -k(1.0)
    };
    let side = k(1.0).copysign(turn);
    // A neutral colour has no hue: the mean is the other's.
    let neutral = c12 == k(0.0);
    let x = if neutral {
        a1 + a2
    } else if acute {
        sum_x
    } else {
        perp_x * side
    };
    let y = if neutral {
        b1 + b2
    } else if acute {
        sum_y
    } else {
        perp_y * side
    };
    let length = (x * x + y * y).sqrt();
    let none = length == k(0.0);
    let scale = k(1.0) / if none { k(1.0) } else { length };
    (dh, if none { k(1.0) } else { x * scale }, y * scale)
}

const COS_275: f64 = 0.087_155_742_747_658_17;
const SIN_275: f64 = -0.996_194_698_091_745_5;

/// `sin(2 Δθ)`, `Δθ = 30° exp(-((h̄ - 275°)/25°)²)`: equation 18. Within the quadrant 0°..90°, a
/// distance of 185° or more, the exponential is below 1e-23 and the result is zero.
#[inline(always)]
fn sin_two_delta_theta<T: Real>(cos: T, sin: T) -> T {
    let k = T::of;
    let first_quadrant = cos > k(0.0) && sin >= k(0.0);
    // The mean hue turned back by 275°.
    let x = cos * k(COS_275) + sin * k(SIN_275);
    let y = sin * k(COS_275) - cos * k(SIN_275);
    let d = y.atan2(x) * k(180.0 / (25.0 * std::f64::consts::PI));
    let theta = k(std::f64::consts::PI / 3.0) * (-d * d).exp_negative();
    let value = theta.sin_small();
    if first_quadrant { k(0.0) } else { value }
}
