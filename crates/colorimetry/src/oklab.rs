//! Oklab and Oklch. B. Ottosson, "A perceptual color space for image processing", 2020, with the
//! matrices recomputed for the D65 of CSS Color 4 (sample code `XYZ_to_OKLab`, `OKLab_to_XYZ`).
#![expect(
    clippy::excessive_precision,
    reason = "digits as the standard prints them"
)]

use crate::lab::polar;
use crate::matrix::{Matrix3, apply};
use crate::rgb::{Encoded, Linear, RgbSpace};
use crate::xyz::XyzD65;

/// Oklab, white D65. L 0..1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Oklab {
    /// Lightness, 0..1.
    pub l: f64,
    /// Green to red.
    pub a: f64,
    /// Blue to yellow.
    pub b: f64,
}

/// Oklab in polar form; hue 0..360 degrees.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Oklch {
    /// Lightness, 0..1.
    pub l: f64,
    /// Chroma.
    pub c: f64,
    /// Hue in degrees.
    pub h_deg: f64,
}

/// CSS Color 4, `XYZtoLMS`.
pub const LMS_FROM_XYZ: Matrix3 = [
    [0.8190224379967030, 0.3619062600528904, -0.1288737815209879],
    [0.0329836539323885, 0.9292868615863434, 0.0361446663506424],
    [0.0481771893596242, 0.2642395317527308, 0.6335478284694309],
];

/// CSS Color 4, `LMStoXYZ`.
pub const XYZ_FROM_LMS: Matrix3 = [
    [1.2268798758459243, -0.5578149944602171, 0.2813910456659647],
    [-0.0405757452148008, 1.1122868032803170, -0.0717110580655164],
    [-0.0763729366746601, -0.4214933324022432, 1.5869240198367816],
];

/// CSS Color 4, `LMStoOKLab`.
pub const OKLAB_FROM_LMS: Matrix3 = [
    [0.2104542683093140, 0.7936177747023054, -0.0040720430116193],
    [1.9779985324311684, -2.4285922420485799, 0.4505937096174110],
    [0.0259040424655478, 0.7827717124575296, -0.8086757549230774],
];

/// CSS Color 4, `OKLabtoLMS`.
pub const LMS_FROM_OKLAB: Matrix3 = [
    [1.0, 0.3963377773761749, 0.2158037573099136],
    [1.0, -0.1055613458156586, -0.0638541728258133],
    [1.0, -0.0894841775298119, -1.2914855480194092],
];

impl Oklab {
    /// From L, a, b.
    pub const fn new(l: f64, a: f64, b: f64) -> Self {
        Self { l, a, b }
    }

    /// Polar form.
    pub fn to_oklch(self) -> Oklch {
        let (c, h_deg) = polar(self.a, self.b);
        Oklch {
            l: self.l,
            c,
            h_deg,
        }
    }

    /// `ΔE_OK`, the Euclidean distance. CSS Color 4, section 13.
    pub fn distance(self, other: Self) -> f64 {
        let (l, a, b) = (self.l - other.l, self.a - other.a, self.b - other.b);
        (l * l + a * a + b * b).sqrt()
    }
}

impl Oklch {
    /// From L, C, h in degrees.
    pub const fn new(l: f64, c: f64, h_deg: f64) -> Self {
        Self { l, c, h_deg }
    }

    /// Rectangular form.
    pub fn to_oklab(self) -> Oklab {
        let (sin, cos) = self.h_deg.to_radians().sin_cos();
        Oklab::new(self.l, self.c * cos, self.c * sin)
    }
}

impl From<Oklch> for Oklab {
    fn from(lch: Oklch) -> Self {
        lch.to_oklab()
    }
}

impl From<XyzD65> for Oklab {
    fn from(xyz: XyzD65) -> Self {
        let [l, m, s] = apply(&LMS_FROM_XYZ, xyz.to_array());
        let [l, a, b] = apply(&OKLAB_FROM_LMS, [l.cbrt(), m.cbrt(), s.cbrt()]);
        Self::new(l, a, b)
    }
}

impl From<Oklab> for XyzD65 {
    fn from(lab: Oklab) -> Self {
        let [l, m, s] = apply(&LMS_FROM_OKLAB, [lab.l, lab.a, lab.b]);
        Self::from_array(apply(&XYZ_FROM_LMS, [l * l * l, m * m * m, s * s * s]))
    }
}

impl<S: RgbSpace> From<Linear<S>> for Oklab {
    fn from(rgb: Linear<S>) -> Self {
        rgb.to_xyz_d65().into()
    }
}

impl<S: RgbSpace> From<Encoded<S>> for Oklab {
    fn from(rgb: Encoded<S>) -> Self {
        rgb.decode().into()
    }
}
