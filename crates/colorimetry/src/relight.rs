//! Seen under another light: what a measured reflectance looks like under a lamp, and which pigments
//! that match in daylight part company there.
//!
//! Only a spectrum can be relit. A CIELAB value does not say what another lamp makes of it.

use crate::adaptation::Method;
use crate::delta_e::delta_e_2000;
use crate::illuminant::{CieIlluminant, Lamp};
use crate::lab::LabD50;
use crate::matrix::{Matrix3, apply, multiply};
use crate::observer::Observer;
use crate::spectrum::Spectrum;
use crate::weights::{GridError, Weights};
use crate::xyz::{WHITE_D50, WHITE_D65, Xyz};

/// What the eye of the person at the display is taken to be used to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Adaptation {
    /// To the lamp: its white is shown as the display's white, as someone sees who has stood in the
    /// room for some minutes. CAT16, complete adaptation, CIE 248:2022.
    #[default]
    ToLamp,
    /// To the display: the lamp's own tint is shown, as beside a display white of D65. Luminance
    /// is that of the perfect diffuser at display white.
    ToDisplay,
}

/// A reflectance as it looks under a lamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Tristimulus values under the lamp, Y = 1 for the perfect diffuser.
    pub xyz: Xyz,
    /// The colour to show, in the CIELAB (D50) that every colour of a palette has.
    pub shown: LabD50,
}

/// One lamp, one observer, one grid of wavelengths: made once, then used without allocation.
#[derive(Debug, Clone, PartialEq)]
pub struct Relighting {
    weights: Weights,
    shown_from_lamp: Matrix3,
}

impl Relighting {
    /// For spectra on the grid of `like`.
    pub fn new(lamp: &Lamp, observer: Observer, adaptation: Adaptation, like: &Spectrum) -> Self {
        let weights = Weights::new(lamp, observer, like);
        let shown_from_lamp = match adaptation {
            Adaptation::ToLamp => Method::Cat16.matrix(weights.white(), WHITE_D50),
            // What is seen beside D65 is brought to D50 as all colours are.
            Adaptation::ToDisplay => Method::Bradford.matrix(WHITE_D65, WHITE_D50),
        };
        Self {
            weights,
            shown_from_lamp,
        }
    }

    /// The weights in use.
    pub fn weights(&self) -> &Weights {
        &self.weights
    }

    /// The lamp's white as it is shown.
    pub fn white(&self) -> LabD50 {
        self.seen(self.weights.white()).shown
    }

    /// From the values of a spectrum on this grid.
    pub fn see(&self, reflectance: &[f64]) -> Result<Seen, GridError> {
        Ok(self.seen(self.weights.xyz_of(reflectance)?))
    }

    fn seen(&self, xyz: Xyz) -> Seen {
        let [x, y, z] = apply(&self.shown_from_lamp, xyz.to_array());
        Seen {
            xyz,
            shown: crate::xyz::XyzD50::new(x, y, z).into(),
        }
    }

    /// As a matrix for the shader: linear light of a display space with white D65, from tristimulus
    /// values under the lamp.
    pub fn linear_from_lamp(&self, linear_from_xyz_d65: &Matrix3) -> Matrix3 {
        let d65 = multiply(&crate::adaptation::XYZ_D65_FROM_D50, &self.shown_from_lamp);
        multiply(linear_from_xyz_d65, &d65)
    }
}

/// One reflectance under one lamp; for many on one grid make a [`Relighting`].
pub fn see_under(
    reflectance: &Spectrum,
    lamp: &Lamp,
    observer: Observer,
    adaptation: Adaptation,
) -> Seen {
    let relighting = Relighting::new(lamp, observer, adaptation, reflectance);
    relighting.seen(lamp.xyz_of(reflectance, observer))
}

/// The light by which pigments are compared, unless another is named.
pub const REFERENCE_LAMP: Lamp = Lamp::Cie(CieIlluminant::D50);

/// Largest ΔE00 under which two colours count as a match.
pub const MATCH_DELTA_E: f64 = 1.0;

/// ΔE00 from which colours that match elsewhere are warned of.
pub const MISMATCH_DELTA_E: f64 = 2.0;

/// Two pigments that match under D50 and differ under another lamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Metamers {
    /// Index of the first.
    pub first: usize,
    /// Index of the second, larger than `first`.
    pub second: usize,
    /// ΔE00 under D50, at most [`MATCH_DELTA_E`].
    pub under_d50: f64,
    /// ΔE00 under the lamp, each eye adapted to it; more than [`MISMATCH_DELTA_E`].
    pub under_lamp: f64,
}

/// Every pair that matches under D50 within 1 ΔE00 and differs by more than 2 under the lamp, the
/// worst first. Adaptation is complete, so that only the difference within the pair counts.
pub fn metamers(spectra: &[&Spectrum], lamp: &Lamp, observer: Observer) -> Vec<Metamers> {
    let colours = |lamp: &Lamp| -> Vec<LabD50> {
        (spectra.iter())
            .map(|s| see_under(s, lamp, observer, Adaptation::ToLamp).shown)
            .collect()
    };
    let (by_day, by_lamp) = (colours(&REFERENCE_LAMP), colours(lamp));
    let mut found = Vec::new();
    for second in 1..spectra.len() {
        for first in 0..second {
            let under_d50 = delta_e_2000(by_day[first], by_day[second]);
            let under_lamp = delta_e_2000(by_lamp[first], by_lamp[second]);
            if under_d50 <= MATCH_DELTA_E && under_lamp > MISMATCH_DELTA_E {
                found.push(Metamers {
                    first,
                    second,
                    under_d50,
                    under_lamp,
                });
            }
        }
    }
    found.sort_by(|a, b| b.under_lamp.total_cmp(&a.under_lamp));
    found
}
