//! Weighting factors: tristimulus values of any reflectance on one grid as three sums of products.
//!
//! The factors are those of ASTM E2022 (which makes the tables 5 of ASTM E308): the lamp and the
//! observer at 1 nm, the reflectance interpolated between its readings by the polynomial of Lagrange,
//! what was not measured at the ends added to the end values. No correction for the bandpass of the
//! instrument is made (tables 6 of E308): modern spectrophotometers make it themselves.

use crate::illuminant::Lamp;
use crate::observer::{FIRST_NM, Observer};
use crate::spectrum::{Spectrum, lagrange_terms};
use crate::xyz::Xyz;

/// Factors for one lamp, one observer, one grid. Made once; used without allocation.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    grid_nm: (f64, f64, f64),
    factors: Vec<[f64; 3]>,
    white: Xyz,
}

/// A spectrum on another grid than the weights were made for.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "the spectrum has {found} values, the weights are for {wanted}, {first_nm} to {last_nm} nm: make weights for its grid"
)]
pub struct GridError {
    /// Values given.
    pub found: usize,
    /// Values wanted.
    pub wanted: usize,
    /// First wavelength of the weights.
    pub first_nm: f64,
    /// Last wavelength of the weights.
    pub last_nm: f64,
}

impl Weights {
    /// For spectra on the grid of `like`.
    pub fn new(lamp: &Lamp, observer: Observer, like: &Spectrum) -> Self {
        let (first_nm, last_nm, step_nm) = like.grid_nm();
        let mut factors = vec![[0.0; 3]; like.values().len()];
        let mut sum = [0.0; 3];
        let powers = lamp.powers_1nm();
        for (i, (power, matching)) in powers.iter().zip(observer.matching_1nm()).enumerate() {
            let position = ((FIRST_NM + i) as f64 - first_nm) / step_nm;
            let weight = matching.map(|m| m * power);
            for (index, factor) in lagrange_terms(position, factors.len() - 1) {
                for k in 0..3 {
                    factors[index][k] += factor * weight[k];
                }
            }
            for k in 0..3 {
                sum[k] += weight[k];
            }
        }
        for k in factors.iter_mut().flatten() {
            *k /= sum[1];
        }
        Self {
            grid_nm: (first_nm, last_nm, step_nm),
            factors,
            white: Xyz::from_array(sum.map(|v| v / sum[1])),
        }
    }

    /// `(first, last, step)` of the grid in nm.
    pub fn grid_nm(&self) -> (f64, f64, f64) {
        self.grid_nm
    }

    /// The factors, shortest wavelength first; their sum is [`Weights::white`].
    pub fn factors(&self) -> &[[f64; 3]] {
        &self.factors
    }

    /// The lamp on the perfect diffuser, Y = 1.
    pub fn white(&self) -> Xyz {
        self.white
    }

    /// Whether a spectrum is on this grid.
    pub fn fits(&self, spectrum: &Spectrum) -> bool {
        spectrum.values().len() == self.factors.len() && spectrum.grid_nm() == self.grid_nm
    }

    /// Tristimulus values, Y = 1 for the perfect diffuser.
    pub fn xyz_of(&self, reflectance: &[f64]) -> Result<Xyz, GridError> {
        if reflectance.len() != self.factors.len() {
            return Err(GridError {
                found: reflectance.len(),
                wanted: self.factors.len(),
                first_nm: self.grid_nm.0,
                last_nm: self.grid_nm.1,
            });
        }
        let mut sum = [0.0; 3];
        for (factor, value) in self.factors.iter().zip(reflectance) {
            for k in 0..3 {
                sum[k] += factor[k] * value;
            }
        }
        Ok(Xyz::from_array(sum))
    }
}
