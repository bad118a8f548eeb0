//! Elementary functions without branches or calls, so that loops over them become vector code, in
//! double and in single precision.
//!
//! Each holds its stated error against the functions of `std` (the tests run over its domain).

pub(crate) mod double;
pub(crate) mod single;

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
    /// With the sign of another.
    fn copysign(self, sign: Self) -> Self;
    /// The angle of (x, y), not both zero; `self` is y.
    fn atan2(self, x: Self) -> Self;
    /// `exp(self)` of what is not positive.
    fn exp_negative(self) -> Self;
    /// The sine of 0 to π/3.
    fn sin_small(self) -> Self;
}

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
            fn copysign(self, sign: Self) -> Self {
                <$number>::copysign(self, sign)
            }
            #[inline(always)]
            fn atan2(self, x: Self) -> Self {
                $module::atan2(self, x)
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
