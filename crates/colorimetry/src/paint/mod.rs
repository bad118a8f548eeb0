//! Paint as light sees it: Kubelka-Munk layers and mixtures, with the surface reflection of
//! Saunderson. Every function is for one wavelength; apply it to each value of a spectrum.
//!
//! The theory supposes diffuse light, no scattering interface inside and pigments that do not react.
//! A proposed mixture is a starting point for the eye, not a recipe.

mod kubelka_munk;
mod mixture;
mod saunderson;

pub use kubelka_munk::{
    Layer, absorption_ratio_from_reflectance, reflectance_from_absorption_ratio,
    scattering_from_two_backings, scattering_power_from_black_backing,
};
pub use mixture::{MixtureError, glaze_over, mix_reflectance, tint_series};
pub use saunderson::Saunderson;
