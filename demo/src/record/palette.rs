//! Reflectance spectra of the palette: invented curves with the shape that their kind of pigment
//! has, bent until they have exactly the colour that the palette gives.

use anyhow::{Context, Result};
use ganosis_colorimetry::illuminant::lab_d50_of;
use ganosis_colorimetry::spectrum::Spectrum;
use glam::{DMat3, DVec3};
use serde::Deserialize;
use std::fmt::Write;

const FIRST_NM: f64 = 380.0;
const STEP_NM: f64 = 10.0;
/// 380 to 780 nm.
const COUNT: usize = 41;

/// Step of the numerical derivative: far above rounding, far below any curvature.
const DIFFERENCE: f64 = 1e-5;

/// The story's recipe of a curve: what it rests on, and what is added.
#[derive(Debug, Deserialize)]
struct Recipe {
    floor: f64,
    terms: Vec<Term>,
}

#[derive(Debug, Deserialize)]
struct Term {
    kind: Kind,
    at_nm: f64,
    width_nm: f64,
    height: f64,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    /// A logistic step: the absorption edge of reds, yellows and gold.
    Edge,
    /// A bell: the windows of greens and blues.
    Bump,
}

fn wavelength_nm(i: usize) -> f64 {
    FIRST_NM + STEP_NM * i as f64
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-x))
}

fn bell(x: f64) -> f64 {
    libm::exp(-0.5 * x * x)
}

impl Recipe {
    fn at(&self, nm: f64) -> f64 {
        let of = |t: &Term| {
            let x = (nm - t.at_nm) / t.width_nm;
            t.height
                * match t.kind {
                    Kind::Edge => logistic(x),
                    Kind::Bump => bell(x),
                }
        };
        let sum = self.floor + self.terms.iter().map(of).sum::<f64>();
        sum.clamp(0.005, 0.98)
    }

    /// The curve bent by three broad changes: of its short, middle and long waves. They act on
    /// the logit, so that no value leaves 0..1.
    fn bent(&self, by: DVec3) -> Result<Spectrum> {
        let rows: Vec<(usize, f64, f64)> = (0..COUNT)
            .map(|i| {
                let nm = wavelength_nm(i);
                let r = self.at(nm);
                let change = by.x * logistic((490.0 - nm) / 14.0)
                    + by.y * bell((nm - 545.0) / 32.0)
                    + by.z * logistic((nm - 598.0) / 14.0);
                (i, nm, logistic(libm::log(r / (1.0 - r)) + change))
            })
            .collect();
        Ok(Spectrum::from_rows(&rows)?)
    }

    /// Newton's method on CIELAB, with derivatives by differences.
    fn with_colour(&self, lab_d50: [f64; 3]) -> Result<Spectrum> {
        let lab =
            |by| -> Result<DVec3> { Ok(DVec3::from_array(lab_d50_of(&self.bent(by)?).to_array())) };
        let wanted = DVec3::from_array(lab_d50);
        let mut by = DVec3::ZERO;
        for _ in 0..60 {
            let off = lab(by)? - wanted;
            if off.length() < 1e-9 {
                return self.bent(by);
            }
            let slope = |axis: DVec3| -> Result<DVec3> {
                Ok((lab(by + axis * DIFFERENCE)? - lab(by)?) / DIFFERENCE)
            };
            let slopes = DMat3::from_cols(slope(DVec3::X)?, slope(DVec3::Y)?, slope(DVec3::Z)?);
            by -= (slopes.inverse() * off).clamp_length_max(1.0);
        }
        anyhow::bail!("no curve of this shape has the colour {lab_d50:?}: change the recipe")
    }
}

/// The spectrum of a palette entry: its `reflectance` recipe brought to its `lab_d50`.
pub(crate) fn spectrum(entry: &serde_json::Value) -> Result<Spectrum> {
    let id = entry["id"].as_str().unwrap_or_default();
    let recipe: Recipe = serde_json::from_value(entry["reflectance"].clone())
        .with_context(|| format!("story/palette.json, {id}: reflectance is not as expected"))?;
    let lab: [f64; 3] = serde_json::from_value(entry["lab_d50"].clone())
        .with_context(|| format!("story/palette.json, {id}: lab_d50 is not three numbers"))?;
    recipe
        .with_colour(lab)
        .with_context(|| format!("story/palette.json, {id}"))
}

/// As CSV: wavelength in nm, reflectance factor.
pub(crate) fn csv(spectrum: &Spectrum) -> String {
    let mut text = String::from(
        "# Invented reflectance spectrum, not measured on any real paint. 45/0; 1 is the perfect diffuser.\nwavelength_nm,reflectance_factor\n",
    );
    for (i, r) in spectrum.values().iter().enumerate() {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{:.0},{r:.5}", wavelength_nm(i));
    }
    text
}
