//! RGB spaces: linear light and encoded values as separate types.

mod spaces;
mod transfer;

use std::marker::PhantomData;

pub use spaces::{OpRgb, P3, Rec2020, Rec2020Camera, RgbSpace, Romm, SpaceWhite, Srgb};
pub use transfer::{
    decode_gamma_2_4, decode_oprgb, decode_rec2020_camera, decode_romm, decode_srgb,
    encode_gamma_2_4, encode_oprgb, encode_rec2020_camera, encode_romm, encode_srgb,
};

use crate::matrix::apply;
use crate::xyz::{XyzD50, XyzD65};

macro_rules! rgb_triplet {
    ($name:ident, $doc:literal) => {
        #[doc = $doc]
        #[derive(Debug, Clone, Copy, PartialEq, Default)]
        pub struct $name<S> {
            /// Red, 0..1 inside the gamut.
            pub r: f64,
            /// Green, 0..1 inside the gamut.
            pub g: f64,
            /// Blue, 0..1 inside the gamut.
            pub b: f64,
            space: PhantomData<S>,
        }

        impl<S> $name<S> {
            /// From three components, 0..1 inside the gamut.
            #[inline]
            pub const fn new(r: f64, g: f64, b: f64) -> Self {
                Self {
                    r,
                    g,
                    b,
                    space: PhantomData,
                }
            }

            /// From `[r, g, b]`.
            #[inline]
            pub const fn from_array(v: [f64; 3]) -> Self {
                Self::new(v[0], v[1], v[2])
            }

            /// As `[r, g, b]`.
            #[inline]
            pub const fn to_array(self) -> [f64; 3] {
                [self.r, self.g, self.b]
            }

            /// Each component limited to 0..1. This changes hue and lightness: for colours meant to
            /// be defended use [`crate::gamut::map_to_gamut`].
            #[inline]
            pub fn clipped(self) -> Self {
                Self::new(
                    self.r.clamp(0.0, 1.0),
                    self.g.clamp(0.0, 1.0),
                    self.b.clamp(0.0, 1.0),
                )
            }
        }
    };
}

rgb_triplet!(
    Linear,
    "Components proportional to light, in the space `S`."
);
rgb_triplet!(
    Encoded,
    "Components through the transfer function of the space `S`."
);

/// Linear-light sRGB.
pub type LinearSrgb = Linear<Srgb>;

/// Linear-light Display P3.
pub type LinearP3 = Linear<P3>;

impl<S: RgbSpace> Linear<S> {
    /// Tristimulus values, white D65 (adapted by Bradford where the space has another white).
    #[inline]
    pub fn to_xyz_d65(self) -> XyzD65 {
        let v = apply(&S::XYZ_FROM_LINEAR, self.to_array());
        match S::WHITE {
            SpaceWhite::D65 => XyzD65::from_array(v),
            SpaceWhite::D50 => XyzD50::from_array(v).into(),
        }
    }

    /// Tristimulus values, white D50 (adapted by Bradford where the space has another white).
    #[inline]
    pub fn to_xyz_d50(self) -> XyzD50 {
        let v = apply(&S::XYZ_FROM_LINEAR, self.to_array());
        match S::WHITE {
            SpaceWhite::D65 => XyzD65::from_array(v).into(),
            SpaceWhite::D50 => XyzD50::from_array(v),
        }
    }

    /// Through the transfer function; odd symmetry for negative components.
    #[inline]
    pub fn encode(self) -> Encoded<S> {
        Encoded::new(S::encode(self.r), S::encode(self.g), S::encode(self.b))
    }
}

impl<S: RgbSpace> Encoded<S> {
    /// From 8-bit codes.
    pub fn from_u8(code: [u8; 3]) -> Self {
        Self::from_array(code.map(|c| f64::from(c) / 255.0))
    }

    /// From 16-bit codes.
    pub fn from_u16(code: [u16; 3]) -> Self {
        Self::from_array(code.map(|c| f64::from(c) / 65535.0))
    }

    /// The nearest 8-bit codes, limited to 0..255.
    pub fn to_u8(self) -> [u8; 3] {
        // `as` saturates and takes NaN to 0.
        self.to_array().map(|v| (v * 255.0).round() as u8)
    }

    /// The nearest 16-bit codes, limited to 0..65535.
    pub fn to_u16(self) -> [u16; 3] {
        self.to_array().map(|v| (v * 65535.0).round() as u16)
    }

    /// Back to linear light; odd symmetry for negative components.
    #[inline]
    pub fn decode(self) -> Linear<S> {
        Linear::new(S::decode(self.r), S::decode(self.g), S::decode(self.b))
    }
}

impl<S: RgbSpace> From<XyzD65> for Linear<S> {
    #[inline]
    fn from(xyz: XyzD65) -> Self {
        let v = match S::WHITE {
            SpaceWhite::D65 => xyz.to_array(),
            SpaceWhite::D50 => XyzD50::from(xyz).to_array(),
        };
        Self::from_array(apply(&S::LINEAR_FROM_XYZ, v))
    }
}

impl<S: RgbSpace> From<XyzD50> for Linear<S> {
    #[inline]
    fn from(xyz: XyzD50) -> Self {
        let v = match S::WHITE {
            SpaceWhite::D65 => XyzD65::from(xyz).to_array(),
            SpaceWhite::D50 => xyz.to_array(),
        };
        Self::from_array(apply(&S::LINEAR_FROM_XYZ, v))
    }
}

impl<S: RgbSpace> From<Linear<S>> for Encoded<S> {
    #[inline]
    fn from(rgb: Linear<S>) -> Self {
        rgb.encode()
    }
}

impl<S: RgbSpace> From<Encoded<S>> for Linear<S> {
    #[inline]
    fn from(rgb: Encoded<S>) -> Self {
        rgb.decode()
    }
}
