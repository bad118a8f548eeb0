//! Mixtures by the single-constant theory, and glazes.
//!
//! Single constant: pigments share the scattering of the mixture, so that K/S adds by concentration
//! (D. R. Duncan, "The colour of pigment mixtures", Proc. Phys. Soc. 52, 1940). Right for tints with
//! much white; for dark mixtures K and S must be known apart (see [`super::Layer`]).

use super::kubelka_munk::{
    Layer, absorption_ratio_from_reflectance, reflectance_from_absorption_ratio,
};

/// Why a mixture could not be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MixtureError {
    /// Slices disagree.
    #[error(
        "{spectra} spectra for {concentrations} concentrations, or spectra of unequal length: give one concentration a spectrum, and resample the spectra to one grid"
    )]
    Lengths {
        /// Spectra given.
        spectra: usize,
        /// Concentrations given.
        concentrations: usize,
    },
    /// The spectra of a glaze disagree.
    #[error(
        "absorption has {absorption} values, scattering {scattering}, the ground {ground}, the result {out}: resample all to one grid"
    )]
    Grids {
        /// Values of K.
        absorption: usize,
        /// Values of S.
        scattering: usize,
        /// Values of the ground.
        ground: usize,
        /// Values asked for.
        out: usize,
    },
    /// The concentrations cannot be shares.
    #[error("concentrations must be zero or more with a sum above zero: found {found}")]
    Concentration {
        /// The offending value or sum.
        found: f64,
    },
    /// A reflectance is impossible for an opaque paint.
    #[error(
        "reflectance {found} of spectrum {spectrum}, value {index}, is not within 0..1: is it in percent, or taken with a fluorescent sample?"
    )]
    Reflectance {
        /// Which spectrum, from 0.
        spectrum: usize,
        /// Which value, from 0.
        index: usize,
        /// The value.
        found: f64,
    },
}

/// The reflectance of an opaque mixture; concentrations are normalised to a sum of 1.
pub fn mix_reflectance(
    spectra: &[&[f64]],
    concentrations: &[f64],
    out: &mut [f64],
) -> Result<(), MixtureError> {
    let matching = spectra.iter().all(|s| s.len() == out.len());
    if spectra.len() != concentrations.len() || !matching {
        return Err(MixtureError::Lengths {
            spectra: spectra.len(),
            concentrations: concentrations.len(),
        });
    }
    let sum: f64 = concentrations.iter().sum();
    let bad = concentrations
        .iter()
        .copied()
        .find(|c| !(c.is_finite() && *c >= 0.0));
    if bad.is_some() || sum <= 0.0 {
        return Err(MixtureError::Concentration {
            found: bad.unwrap_or(sum),
        });
    }
    for (spectrum, values) in spectra.iter().enumerate() {
        let outside = values.iter().position(|r| !(0.0..=1.0).contains(r));
        if let Some(index) = outside {
            return Err(MixtureError::Reflectance {
                spectrum,
                index,
                found: values[index],
            });
        }
    }
    for (i, out) in out.iter_mut().enumerate() {
        let mut ratio = 0.0;
        for (values, share) in spectra.iter().zip(concentrations) {
            if *share > 0.0 {
                ratio += share / sum * absorption_ratio_from_reflectance(values[i]);
            }
        }
        *out = reflectance_from_absorption_ratio(ratio);
    }
    Ok(())
}

/// A pigment with `steps` equal steps of white: `out[k]` holds the mixture with the white's share
/// `k / (steps - 1)`, from the pure pigment to pure white.
pub fn tint_series(
    pigment: &[f64],
    white: &[f64],
    steps: usize,
) -> Result<Vec<Vec<f64>>, MixtureError> {
    let last = steps.saturating_sub(1).max(1) as f64;
    (0..steps)
        .map(|k| {
            let share = k as f64 / last;
            let mut out = vec![0.0; pigment.len()];
            mix_reflectance(&[pigment, white], &[1.0 - share, share], &mut out)?;
            Ok(out)
        })
        .collect()
}

/// A glaze over a ground: each value of `out` is that of the layer with this wavelength's K and S.
pub fn glaze_over(
    absorption: &[f64],
    scattering: &[f64],
    thickness: f64,
    ground: &[f64],
    out: &mut [f64],
) -> Result<(), MixtureError> {
    let n = out.len();
    if absorption.len() != n || scattering.len() != n || ground.len() != n {
        return Err(MixtureError::Grids {
            absorption: absorption.len(),
            scattering: scattering.len(),
            ground: ground.len(),
            out: n,
        });
    }
    for (i, out) in out.iter_mut().enumerate() {
        let layer = Layer {
            absorption: absorption[i],
            scattering: scattering[i],
            thickness,
        };
        *out = layer.reflectance_over(ground[i]);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_glaze_on_another_grid_is_refused_with_the_counts() {
        let mut out = [0.0; 3];
        let error = glaze_over(&[0.1; 3], &[0.2; 3], 1.0, &[0.8; 4], &mut out);
        let text = error.expect_err("four values of ground").to_string();
        assert!(
            text.contains("the ground 4") && text.contains("scattering 3"),
            "{text}"
        );
        assert_eq!(out, [0.0; 3]);
    }
}
