//! Colour science for Ganosis: from a measured spectrum or CIELAB value to the encoded pixel, each
//! step named after its standard.
//!
//! Conventions: 2° observer unless said; Y and reflectance 0..1 with 1 for the perfect diffuser; L*
//! 0..100; wavelengths in nm; hues in degrees. Colours are typed by their space and white, and
//! conversions between types are exact to rounding. The white points are those of W3C CSS Color
//! Module Level 4 throughout (see [`xyz`]).
//!
//! Left out: appearance models, fluorescence (a reflectance above 1 is carried through as it is) and
//! viewing conditions beyond the adapted white.

pub mod adaptation;
pub mod band_map;
pub mod bulk;
pub mod css;
pub mod decimal;
pub mod delta_e;
mod fast;
pub mod gamut;
pub mod illuminant;
pub mod lab;
pub mod lamp_quality;
pub mod matrix;
pub mod observer;
pub mod oklab;
pub mod paint;
pub mod relight;
pub mod rgb;
pub mod spectrum;
pub mod tone_map;
pub mod weights;
pub mod xyz;

pub use band_map::band_map;
pub use bulk::{
    LabPlanes, LabPlanesMut, delta_e_2000_planes, delta_e_2000_slice, lab_planes_to_srgb8,
    lab_to_srgb8_slice, srgb8_to_lab_planes, srgb8_to_lab_slice,
};
pub use delta_e::{delta_e_94, delta_e_2000, delta_e_ab};
pub use gamut::{Shown, in_gamut, in_gamut_strict, map_to_gamut};
pub use illuminant::{CieIlluminant, Lamp};
pub use lab::{LabD50, LchD50};
pub use observer::Observer;
pub use oklab::{Oklab, Oklch};
pub use rgb::{Encoded, Linear, LinearP3, LinearSrgb, OpRgb, P3, Rec2020, RgbSpace, Romm, Srgb};
pub use spectrum::Spectrum;
pub use tone_map::ToneMap;
pub use xyz::{Chromaticity, XyY, Xyz, XyzD50, XyzD65};
