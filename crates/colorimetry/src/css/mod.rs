//! Colours as text: the absolute colours of W3C CSS Color Module Level 4 that carry a measurement.
//!
//! Read and written: `#rgb`, `#rgba`, `#rrggbb`, `#rrggbbaa`; `rgb()` and `rgba()` in both syntaxes;
//! `lab()`, `lch()`, `oklab()`, `oklch()`; `color()` in every predefined space; `none`; percentages;
//! alpha; hues in deg, grad, rad and turn. Not read: names of colours, `hsl()`, `hwb()`, relative
//! colours, `calc()`, what depends on a page.
//!
//! `rgb()` is clamped to 0..1 when read, as the standard asks; components of the other functions are
//! kept outside their range, except that lightness is clamped to its range and chroma to zero or more
//! (sections 9.3 to 9.5 and 5.1, from memory).

mod parse;
mod scan;
mod write;

#[cfg(test)]
mod tests;

pub use parse::CssError;

use crate::lab::{LabD50, LchD50};
use crate::oklab::{Oklab, Oklch};
use crate::rgb::{Encoded, Linear, OpRgb, P3, Rec2020, RgbSpace, Romm, Srgb};
use crate::xyz::{XyzD50, XyzD65};

/// A space that CSS can write a colour in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CssSpace {
    /// `#rrggbb` or `rgb()`: 8-bit sRGB, components 0..1 here.
    Rgb,
    /// `lab()`, CIELAB D50.
    Lab,
    /// `lch()`, CIELAB D50 in polar form.
    Lch,
    /// `oklab()`.
    Oklab,
    /// `oklch()`.
    Oklch,
    /// `color(srgb …)`.
    Srgb,
    /// `color(srgb-linear …)`.
    SrgbLinear,
    /// `color(display-p3 …)`.
    DisplayP3,
    /// `color(a98-rgb …)`, opRGB.
    A98Rgb,
    /// `color(prophoto-rgb …)`, ROMM RGB.
    ProphotoRgb,
    /// `color(rec2020 …)`.
    Rec2020,
    /// `color(xyz-d50 …)`.
    XyzD50,
    /// `color(xyz-d65 …)` or `color(xyz …)`.
    XyzD65,
}

impl CssSpace {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::Rgb,
        Self::Lab,
        Self::Lch,
        Self::Oklab,
        Self::Oklch,
        Self::Srgb,
        Self::SrgbLinear,
        Self::DisplayP3,
        Self::A98Rgb,
        Self::ProphotoRgb,
        Self::Rec2020,
        Self::XyzD50,
        Self::XyzD65,
    ];

    /// The name: that of the function, or that within `color()`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rgb => "rgb",
            Self::Lab => "lab",
            Self::Lch => "lch",
            Self::Oklab => "oklab",
            Self::Oklch => "oklch",
            Self::Srgb => Srgb::CSS_NAME,
            Self::SrgbLinear => "srgb-linear",
            Self::DisplayP3 => P3::CSS_NAME,
            Self::A98Rgb => OpRgb::CSS_NAME,
            Self::ProphotoRgb => Romm::CSS_NAME,
            Self::Rec2020 => Rec2020::CSS_NAME,
            Self::XyzD50 => "xyz-d50",
            Self::XyzD65 => "xyz-d65",
        }
    }

    /// By name; `xyz` is `xyz-d65`.
    pub fn from_name(name: &str) -> Option<Self> {
        let name = name.to_ascii_lowercase();
        if name == "xyz" {
            return Some(Self::XyzD65);
        }
        Self::ALL.into_iter().find(|space| space.name() == name)
    }

    /// Whether it is written `color(name …)`.
    pub const fn is_predefined(self) -> bool {
        !matches!(
            self,
            Self::Rgb | Self::Lab | Self::Lch | Self::Oklab | Self::Oklch
        )
    }

    /// What the components are called.
    pub const fn components(self) -> [&'static str; 3] {
        match self {
            Self::Lab => ["L*", "a*", "b*"],
            Self::Lch => ["L*", "C*", "h"],
            Self::Oklab => ["L", "a", "b"],
            Self::Oklch => ["L", "C", "h"],
            Self::XyzD50 | Self::XyzD65 => ["X", "Y", "Z"],
            _ => ["R", "G", "B"],
        }
    }

    /// The number that 100 % stands for, by component; hues take no percentage.
    const fn hundred_percent(self) -> [Option<f64>; 3] {
        match self {
            Self::Rgb => [Some(255.0); 3],
            Self::Lab => [Some(100.0), Some(125.0), Some(125.0)],
            Self::Lch => [Some(100.0), Some(150.0), None],
            Self::Oklab => [Some(1.0), Some(0.4), Some(0.4)],
            Self::Oklch => [Some(1.0), Some(0.4), None],
            _ => [Some(1.0); 3],
        }
    }

    const fn has_hue(self) -> bool {
        matches!(self, Self::Lch | Self::Oklch)
    }

    /// The components of a colour in this space.
    pub fn from_lab(self, lab: LabD50) -> [f64; 3] {
        fn encoded<S: RgbSpace>(lab: LabD50) -> [f64; 3] {
            lab.to_encoded::<S>().to_array()
        }
        match self {
            Self::Rgb | Self::Srgb => encoded::<Srgb>(lab),
            Self::Lab => lab.to_array(),
            Self::Lch => {
                let LchD50 { l, c, h_deg } = lab.to_lch();
                [l, c, h_deg]
            }
            Self::Oklab => {
                let Oklab { l, a, b } = lab.to_oklab();
                [l, a, b]
            }
            Self::Oklch => {
                let Oklch { l, c, h_deg } = lab.to_oklab().to_oklch();
                [l, c, h_deg]
            }
            Self::SrgbLinear => lab.to_linear::<Srgb>().to_array(),
            Self::DisplayP3 => encoded::<P3>(lab),
            Self::A98Rgb => encoded::<OpRgb>(lab),
            Self::ProphotoRgb => encoded::<Romm>(lab),
            Self::Rec2020 => encoded::<Rec2020>(lab),
            Self::XyzD50 => lab.to_xyz_d50().to_array(),
            Self::XyzD65 => lab.to_xyz_d65().to_array(),
        }
    }

    /// The colour of components in this space.
    pub fn to_lab(self, v: [f64; 3]) -> LabD50 {
        match self {
            Self::Rgb | Self::Srgb => Encoded::<Srgb>::from_array(v).into(),
            Self::Lab => LabD50::from_array(v),
            Self::Lch => LchD50::new(v[0], v[1], v[2]).into(),
            Self::Oklab => Oklab::new(v[0], v[1], v[2]).into(),
            Self::Oklch => Oklch::new(v[0], v[1], v[2]).to_oklab().into(),
            Self::SrgbLinear => Linear::<Srgb>::from_array(v).into(),
            Self::DisplayP3 => Encoded::<P3>::from_array(v).into(),
            Self::A98Rgb => Encoded::<OpRgb>::from_array(v).into(),
            Self::ProphotoRgb => Encoded::<Romm>::from_array(v).into(),
            Self::Rec2020 => Encoded::<Rec2020>::from_array(v).into(),
            Self::XyzD50 => XyzD50::from_array(v).into(),
            Self::XyzD65 => XyzD65::from_array(v).into(),
        }
    }
}

/// A colour as CSS writes it. `None` stands for the word `none`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CssColour {
    /// The space it is written in.
    pub space: CssSpace,
    /// The components: `rgb` and RGB spaces 0..1, L* 0..100, hues in degrees.
    pub components: [Option<f64>; 3],
    /// 0..1; 1 where nothing was written.
    pub alpha: Option<f64>,
}

impl CssColour {
    /// An opaque colour.
    pub fn opaque(space: CssSpace, components: [f64; 3]) -> Self {
        Self {
            space,
            components: components.map(Some),
            alpha: Some(1.0),
        }
    }

    /// A CIELAB colour written in a space of choice.
    pub fn from_lab(lab: LabD50, space: CssSpace) -> Self {
        Self::opaque(space, space.from_lab(lab))
    }

    /// The colour, `none` taken as 0 (section 4.4), alpha left aside.
    pub fn to_lab(&self) -> LabD50 {
        self.space.to_lab(self.components.map(|c| c.unwrap_or(0.0)))
    }

    /// The same colour written in another space; alpha is kept, `none` becomes a number.
    pub fn converted(&self, space: CssSpace) -> Self {
        Self {
            alpha: self.alpha,
            ..Self::from_lab(self.to_lab(), space)
        }
    }
}
