//! What a calibration file holds: the camera model, how it was found, and how far it can be trusted.

use serde::{Deserialize, Serialize};

use crate::characterisation::Characterisation;
use crate::chart::{Evenness, Finding, Summary};
use crate::error::{ImagingError, Result};
use crate::fit::Model;
use crate::photo::{EncodingRecord, Photo};

/// The format written.
pub const FORMAT: &str = "ganosis-calibration/1";

/// A file that something was made from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InputRecord {
    /// Its name.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// One model that was tried.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tried {
    /// Its name.
    pub model: String,
    /// Mean ΔE00 of plain least squares.
    pub least_squares_mean_delta_e_00: f64,
    /// Mean ΔE00 of the fit.
    pub fit_mean_delta_e_00: f64,
    /// Mean ΔE00 of patches left out in turn; the smallest is preferred.
    pub left_out_mean_delta_e_00: f64,
}

/// A characterised camera under one light.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// [`FORMAT`].
    pub format: String,
    /// The photograph of the chart.
    pub photo: InputRecord,
    /// The reference table.
    pub reference: InputRecord,
    /// The variant in the table.
    pub reference_title: String,
    /// Flat field, where one was used. Photographs to correct need one too.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub flat: Option<InputRecord>,
    /// Dark frame, where one was used.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub dark: Option<InputRecord>,
    /// How the photograph's codes stand for light.
    pub encoding: EncodingRecord,
    /// What that was taken from.
    pub encoding_from: String,
    /// Outer corners of the field of patches, clockwise from the first patch, in pixels.
    pub corners_px: [[f64; 2]; 4],
    /// The preferred model.
    pub model: Model,
    /// ΔE00 of the fit.
    pub fit_delta_e_00: Summary,
    /// ΔE00 of patches left out in turn: what to expect of colours that are not on the chart.
    pub left_out_delta_e_00: Summary,
    /// One standard error of the mean of that: what so few patches leave open.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub left_out_standard_error: Option<f64>,
    /// Every model tried.
    pub tried: Vec<Tried>,
    /// Exponent between the light of the greys and their camera values.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tone_exponent: Option<f64>,
    /// Evenness of the light over the chart.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub evenness: Option<Evenness>,
    /// What was found in the photograph.
    pub findings: Vec<Finding>,
}

/// The files a calibration is made from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inputs {
    /// The photograph of the chart.
    pub photo: InputRecord,
    /// The reference table.
    pub reference: InputRecord,
    /// Flat field.
    pub flat: Option<InputRecord>,
    /// Dark frame.
    pub dark: Option<InputRecord>,
}

impl Calibration {
    /// The record of a characterisation of `photo`.
    pub fn of(done: &Characterisation, photo: &Photo, inputs: Inputs) -> Self {
        Self {
            format: FORMAT.to_owned(),
            photo: inputs.photo,
            reference: inputs.reference,
            reference_title: done.reference.title.clone(),
            flat: inputs.flat,
            dark: inputs.dark,
            encoding: photo.encoding.record(),
            encoding_from: photo.encoding_from.clone(),
            corners_px: done.placement.corners_px(&done.reference),
            model: done.preferred().model.clone(),
            fit_delta_e_00: done.assessment.fit,
            left_out_delta_e_00: done.assessment.left_out,
            left_out_standard_error: Some(done.preferred().left_out_standard_error()),
            tried: done
                .tried
                .iter()
                .map(|one| Tried {
                    model: one.title(),
                    least_squares_mean_delta_e_00: one.least_squares_mean,
                    fit_mean_delta_e_00: one.fit_mean(),
                    left_out_mean_delta_e_00: one.left_out_mean(),
                })
                .collect(),
            tone_exponent: done.reading.tone_exponent,
            evenness: done.assessment.evenness,
            findings: done.reading.findings.clone(),
        }
    }

    /// Reads a calibration file.
    pub fn read(text: &str, file: &str) -> Result<Self> {
        let bad = |what: String| {
            ImagingError::new(
                what,
                file,
                "Give a calibration written by “ganosis chart”; make it again if it is damaged.",
            )
        };
        let read: Self =
            serde_json::from_str(text).map_err(|e| bad(format!("this is no calibration: {e}")))?;
        if read.format != FORMAT {
            return Err(bad(format!(
                "its format is “{}”, and {FORMAT} is read",
                read.format
            )));
        }
        let model = &read.model;
        if model.xyz_d50_of_term.len() != model.kind.terms() {
            return Err(bad(format!(
                "model.xyz_d50_of_term has {} rows, a {} has {}",
                model.xyz_d50_of_term.len(),
                model.kind.title(),
                model.kind.terms()
            )));
        }
        // JSON has no NaN, but it has numbers beyond f64.
        let numbers = model
            .xyz_d50_of_term
            .iter()
            .flatten()
            .chain(&model.white_balance);
        if numbers.into_iter().any(|v| !v.is_finite()) {
            return Err(bad("the model holds a number that is not finite".to_owned()));
        }
        Ok(read)
    }
}
