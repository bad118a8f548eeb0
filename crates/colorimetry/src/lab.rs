//! CIE 1976 L*a*b* and its polar form. CIE 15:2018, section 8.2.1; ISO/CIE 11664-4.

use crate::oklab::Oklab;
use crate::rgb::{Encoded, Linear, P3, RgbSpace, Srgb};
use crate::xyz::{WHITE_D50, Xyz, XyzD50, XyzD65};

/// `(6/29)³`, where the cube root gives way to a straight line.
pub const EPSILON: f64 = 216.0 / 24389.0;

/// `(29/3)³`, the slope of that line times 116.
pub const KAPPA: f64 = 24389.0 / 27.0;

/// CIELAB relative to the white D50 of CSS Color 4. L* 0..100.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LabD50 {
    /// L*, 0 black, 100 the perfect diffuser.
    pub l: f64,
    /// a*, red positive.
    pub a: f64,
    /// b*, yellow positive.
    pub b: f64,
}

/// CIELAB in polar form, white D50. The hue is 0..360 degrees, 0 for neutral colours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LchD50 {
    /// L*.
    pub l: f64,
    /// C*ab.
    pub c: f64,
    /// h_ab in degrees.
    pub h_deg: f64,
}

#[inline]
fn f(t: f64) -> f64 {
    if t > EPSILON {
        t.cbrt()
    } else {
        (KAPPA * t + 16.0) / 116.0
    }
}

#[inline]
fn f_inverse(t: f64) -> f64 {
    let cube = t * t * t;
    if cube > EPSILON {
        cube
    } else {
        (116.0 * t - 16.0) / KAPPA
    }
}

/// `[L*, a*, b*]` of tristimulus values relative to any white.
#[inline]
pub fn lab_from_xyz(xyz: Xyz, white: Xyz) -> [f64; 3] {
    let (x, y, z) = (f(xyz.x / white.x), f(xyz.y / white.y), f(xyz.z / white.z));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// The inverse of [`lab_from_xyz`].
#[inline]
pub fn xyz_from_lab(lab: [f64; 3], white: Xyz) -> Xyz {
    let y = (lab[0] + 16.0) / 116.0;
    let x = y + lab[1] / 500.0;
    let z = y - lab[2] / 200.0;
    Xyz::new(
        f_inverse(x) * white.x,
        f_inverse(y) * white.y,
        f_inverse(z) * white.z,
    )
}

/// `(C, h)` of rectangular coordinates, the hue in 0..360 degrees, 0 for neutral.
#[inline]
pub(crate) fn polar(a: f64, b: f64) -> (f64, f64) {
    let c = a.hypot(b);
    if c == 0.0 {
        return (0.0, 0.0);
    }
    let h_deg = b.atan2(a).to_degrees();
    (c, if h_deg < 0.0 { h_deg + 360.0 } else { h_deg })
}

impl LabD50 {
    /// From L*, a*, b*.
    #[inline]
    pub const fn new(l: f64, a: f64, b: f64) -> Self {
        Self { l, a, b }
    }

    /// From `[L*, a*, b*]`.
    #[inline]
    pub const fn from_array(v: [f64; 3]) -> Self {
        Self::new(v[0], v[1], v[2])
    }

    /// As `[L*, a*, b*]`.
    #[inline]
    pub const fn to_array(self) -> [f64; 3] {
        [self.l, self.a, self.b]
    }

    /// Polar form.
    pub fn to_lch(self) -> LchD50 {
        let (c, h_deg) = polar(self.a, self.b);
        LchD50 {
            l: self.l,
            c,
            h_deg,
        }
    }

    /// Tristimulus values.
    #[inline]
    pub fn to_xyz_d50(self) -> XyzD50 {
        let v = xyz_from_lab(self.to_array(), WHITE_D50);
        XyzD50::new(v.x, v.y, v.z)
    }

    /// Tristimulus values adapted to D65 (Bradford).
    #[inline]
    pub fn to_xyz_d65(self) -> XyzD65 {
        self.to_xyz_d50().into()
    }

    /// Oklab.
    pub fn to_oklab(self) -> Oklab {
        self.to_xyz_d65().into()
    }

    /// Linear light in an RGB space; components outside 0..1 are kept.
    #[inline]
    pub fn to_linear<S: RgbSpace>(self) -> Linear<S> {
        Linear::from(self.to_xyz_d50())
    }

    /// Encoded components in an RGB space; values outside 0..1 are kept.
    pub fn to_encoded<S: RgbSpace>(self) -> Encoded<S> {
        self.to_linear::<S>().encode()
    }

    /// Encoded sRGB; values outside 0..1 are kept.
    pub fn to_srgb(self) -> Encoded<Srgb> {
        self.to_encoded()
    }

    /// Encoded Display P3; values outside 0..1 are kept.
    pub fn to_p3(self) -> Encoded<P3> {
        self.to_encoded()
    }
}

impl LchD50 {
    /// From L*, C*, h in degrees.
    pub const fn new(l: f64, c: f64, h_deg: f64) -> Self {
        Self { l, c, h_deg }
    }

    /// Rectangular form.
    pub fn to_lab(self) -> LabD50 {
        let (sin, cos) = self.h_deg.to_radians().sin_cos();
        LabD50::new(self.l, self.c * cos, self.c * sin)
    }
}

impl From<XyzD50> for LabD50 {
    #[inline]
    fn from(xyz: XyzD50) -> Self {
        Self::from_array(lab_from_xyz(xyz.untyped(), WHITE_D50))
    }
}

impl From<XyzD65> for LabD50 {
    #[inline]
    fn from(xyz: XyzD65) -> Self {
        XyzD50::from(xyz).into()
    }
}

impl From<LchD50> for LabD50 {
    fn from(lch: LchD50) -> Self {
        lch.to_lab()
    }
}

impl From<Oklab> for LabD50 {
    fn from(oklab: Oklab) -> Self {
        XyzD65::from(oklab).into()
    }
}

impl<S: RgbSpace> From<Linear<S>> for LabD50 {
    #[inline]
    fn from(rgb: Linear<S>) -> Self {
        rgb.to_xyz_d50().into()
    }
}

impl<S: RgbSpace> From<Encoded<S>> for LabD50 {
    #[inline]
    fn from(rgb: Encoded<S>) -> Self {
        rgb.decode().into()
    }
}
