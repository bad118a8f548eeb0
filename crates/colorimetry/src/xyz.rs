//! CIE tristimulus values and chromaticity.
//!
//! `Y = 1` is the perfect diffuser throughout. The two white points are those of W3C CSS Color
//! Module Level 4, computed from their chromaticities to four decimals: D50 (0.3457, 0.3585) and
//! D65 (0.3127, 0.3290). ICC (0.9642, 1, 0.8249) and ASTM E308 (0.96422, 1, 0.82521) round D50
//! differently; this crate keeps the one white for the whole chain.

use crate::adaptation::{XYZ_D50_FROM_D65, XYZ_D65_FROM_D50};
use crate::matrix::apply;

/// Tristimulus values whose white is given by the context (a lamp, a camera).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Xyz {
    /// X.
    pub x: f64,
    /// Y, 1 for the perfect diffuser.
    pub y: f64,
    /// Z.
    pub z: f64,
}

impl Xyz {
    /// From the three values.
    pub const fn new(x: f64, y: f64, z: f64) -> Self {
        Self { x, y, z }
    }

    /// As `[x, y, z]`.
    pub const fn to_array(self) -> [f64; 3] {
        [self.x, self.y, self.z]
    }

    /// From `[x, y, z]`.
    pub const fn from_array(v: [f64; 3]) -> Self {
        Self::new(v[0], v[1], v[2])
    }

    /// Chromaticity and luminance; black has no chromaticity and gives that of `white`.
    pub fn to_xyy(self, white: Xyz) -> XyY {
        let sum = self.x + self.y + self.z;
        if sum == 0.0 {
            let Chromaticity { x, y } = white.chromaticity();
            return XyY {
                x,
                y,
                luminance: 0.0,
            };
        }
        XyY {
            x: self.x / sum,
            y: self.y / sum,
            luminance: self.y,
        }
    }

    /// `(X, Y) / (X + Y + Z)`; NaN for black.
    pub fn chromaticity(self) -> Chromaticity {
        let sum = self.x + self.y + self.z;
        Chromaticity {
            x: self.x / sum,
            y: self.y / sum,
        }
    }

    /// Scaled so that Y = 1.
    pub fn normalised(self) -> Self {
        Self::new(self.x / self.y, 1.0, self.z / self.y)
    }
}

/// CIE 1931 chromaticity coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chromaticity {
    /// x.
    pub x: f64,
    /// y.
    pub y: f64,
}

impl Chromaticity {
    /// From x and y.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Tristimulus values at Y = 1.
    pub const fn to_xyz(self) -> Xyz {
        Xyz::new(self.x / self.y, 1.0, (1.0 - self.x - self.y) / self.y)
    }

    /// CIE 1960 (u, v): `4x / (-2x + 12y + 3)`, `6y / (-2x + 12y + 3)`. CIE 15:2018, section 9.
    pub fn to_uv_1960(self) -> [f64; 2] {
        let d = -2.0 * self.x + 12.0 * self.y + 3.0;
        [4.0 * self.x / d, 6.0 * self.y / d]
    }

    /// The inverse of [`Chromaticity::to_uv_1960`].
    pub fn from_uv_1960(uv: [f64; 2]) -> Self {
        let d = 2.0 * uv[0] - 8.0 * uv[1] + 4.0;
        Self::new(3.0 * uv[0] / d, 2.0 * uv[1] / d)
    }
}

/// Chromaticity and luminance factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct XyY {
    /// x.
    pub x: f64,
    /// y.
    pub y: f64,
    /// Y, 1 for the perfect diffuser.
    pub luminance: f64,
}

impl XyY {
    /// Tristimulus values; y = 0 gives black.
    pub fn to_xyz(self) -> Xyz {
        if self.y == 0.0 {
            return Xyz::default();
        }
        let k = self.luminance / self.y;
        Xyz::new(self.x * k, self.luminance, (1.0 - self.x - self.y) * k)
    }
}

/// D50 as CSS Color 4 has it: from xy (0.3457, 0.3585).
pub const WHITE_D50: Xyz = Chromaticity::new(0.3457, 0.3585).to_xyz();

/// D65 as CSS Color 4 has it: from xy (0.3127, 0.3290).
pub const WHITE_D65: Xyz = Chromaticity::new(0.3127, 0.3290).to_xyz();

macro_rules! typed_xyz {
    ($name:ident, $doc:literal, $white:expr) => {
        #[doc = $doc]
        #[derive(Debug, Clone, Copy, PartialEq, Default)]
        pub struct $name {
            /// X.
            pub x: f64,
            /// Y, 1 for the perfect diffuser.
            pub y: f64,
            /// Z.
            pub z: f64,
        }

        impl $name {
            /// The white point of the space.
            pub const WHITE: Self = Self::new($white.x, $white.y, $white.z);

            /// From the three values.
            #[inline]
            pub const fn new(x: f64, y: f64, z: f64) -> Self {
                Self { x, y, z }
            }

            /// As `[x, y, z]`.
            #[inline]
            pub const fn to_array(self) -> [f64; 3] {
                [self.x, self.y, self.z]
            }

            /// From `[x, y, z]`.
            #[inline]
            pub const fn from_array(v: [f64; 3]) -> Self {
                Self::new(v[0], v[1], v[2])
            }

            /// The same numbers without the promise about the white.
            pub const fn untyped(self) -> Xyz {
                Xyz::new(self.x, self.y, self.z)
            }
        }
    };
}

typed_xyz!(
    XyzD50,
    "Tristimulus values relative to the white D50.",
    WHITE_D50
);
typed_xyz!(
    XyzD65,
    "Tristimulus values relative to the white D65.",
    WHITE_D65
);

impl From<XyzD65> for XyzD50 {
    /// Bradford adaptation, as CSS Color 4.
    #[inline]
    fn from(xyz: XyzD65) -> Self {
        Self::from_array(apply(&XYZ_D50_FROM_D65, xyz.to_array()))
    }
}

impl From<XyzD50> for XyzD65 {
    /// Bradford adaptation, as CSS Color 4.
    #[inline]
    fn from(xyz: XyzD50) -> Self {
        Self::from_array(apply(&XYZ_D65_FROM_D50, xyz.to_array()))
    }
}
