//! Elementary functions without branches or calls, so that loops over them become vector code, in
//! double and in single precision.
//!
//! Each holds its stated error against the functions of `std` (the tests run over its domain).

pub(crate) mod double;
pub(crate) mod single;

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// What the formulas that are compiled in both precisions need of a number.
pub(crate) trait Real:
    Copy
    + PartialOrd
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// The nearest number.
    fn of(value: f64) -> Self;
    /// The square root.
    fn sqrt(self) -> Self;
    /// The larger; the other where one is NaN.
    fn max(self, other: Self) -> Self;
    /// Without its sign.
    fn abs(self) -> Self;
    /// With the sign of another.
    fn copysign(self, sign: Self) -> Self;
    /// The arc tangent of what is at most tan(π/8), sign aside.
    fn arc_tangent_small(self) -> Self;
    /// `exp(self)` of what is not positive.
    fn exp_negative(self) -> Self;
    /// The sine of 0 to π/3.
    fn sin_small(self) -> Self;

    /// The angle of (x, y), not both zero; `self` is y.
    #[inline(always)]
    fn atan2(self, x: Self) -> Self {
        let (y, none) = (self, Self::of(0.0));
        let (ax, ay) = (x.abs(), y.abs());
        let swap = ay > ax;
        let (num, den) = if swap { (ax, ay) } else { (ay, ax) };
        // tan(φ - π/4) = (n - d) / (n + d) brings 0..1 down to |t| ≤ tan(π/8).
        let upper = num > Self::of(TAN_PI_8) * den;
        let t = if upper { num - den } else { num } / if upper { num + den } else { den };
        let base = t.arc_tangent_small() + if upper { Self::of(FRAC_PI_4) } else { none };
        let folded = if swap {
            Self::of(FRAC_PI_2) - base
        } else {
            base
        };
        let angle = if x < none {
            Self::of(PI) - folded
        } else {
            folded
        };
        angle.copysign(y)
    }
}

/// tan(π/8), where the argument of the arc tangent is reduced.
const TAN_PI_8: f64 = 0.414_213_562_373_095_03;

/// The same words for both precisions: methods of the type, or functions of the module.
macro_rules! real {
    ($number:ty, $module:ident) => {
        impl Real for $number {
            #[inline(always)]
            fn of(value: f64) -> Self {
                value as Self
            }
            #[inline(always)]
            fn sqrt(self) -> Self {
                <$number>::sqrt(self)
            }
            #[inline(always)]
            fn max(self, other: Self) -> Self {
                <$number>::max(self, other)
            }
            #[inline(always)]
            fn abs(self) -> Self {
                <$number>::abs(self)
            }
            #[inline(always)]
            fn copysign(self, sign: Self) -> Self {
                <$number>::copysign(self, sign)
            }
            #[inline(always)]
            fn arc_tangent_small(self) -> Self {
                $module::arc_tangent_small(self)
            }
            #[inline(always)]
            fn exp_negative(self) -> Self {
                $module::exp_negative(self)
            }
            #[inline(always)]
            fn sin_small(self) -> Self {
                $module::sin_small(self)
            }
        }
    };
}

real!(f64, double);
real!(f32, single);
