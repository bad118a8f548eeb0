//! Which model to prefer: the one that predicts a patch it has not seen.

use ganosis_colorimetry::delta_e_2000;
use rayon::prelude::*;

use super::model::{Model, ModelKind};
use super::solve::{Sample, least_squares, mean_delta_e, refine};
use super::tone::Tone;
use crate::error::{ImagingError, Result};

/// What to fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Gains that make a grey equal in the three channels.
    pub white_balance: [f64; 3],
    /// Also try each model with a tone curve.
    pub tone: bool,
}

/// A fitted model and how far it can be trusted.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The model, fitted to all samples.
    pub model: Model,
    /// Mean ΔE00 of the least-squares start.
    pub least_squares_mean: f64,
    /// ΔE00 of each sample under the model.
    pub fit_errors: Vec<f64>,
    /// ΔE00 of each sample under the model fitted to all the others.
    pub left_out_errors: Vec<f64>,
}

impl Candidate {
    /// The name for people.
    pub fn title(&self) -> String {
        let tone = if self.model.tone.is_some() {
            " with tone curve"
        } else {
            ""
        };
        format!("{}{tone}", self.model.kind.title())
    }

    /// Mean ΔE00 of the fit.
    pub fn fit_mean(&self) -> f64 {
        mean(&self.fit_errors)
    }

    /// Mean ΔE00 of patches left out in turn.
    pub fn left_out_mean(&self) -> f64 {
        mean(&self.left_out_errors)
    }

    /// One standard error of that mean: what so few patches leave open about other colours. Of the
    /// errors as if they were independent, which errors of models that share all samples but one
    /// nearly are; an unbiased estimate does not exist (Y. Bengio, Y. Grandvalet, "No Unbiased
    /// Estimator of the Variance of K-Fold Cross-Validation", Journal of Machine Learning Research 5,
    /// 2004).
    pub fn left_out_standard_error(&self) -> f64 {
        let (n, mean) = (self.left_out_errors.len() as f64, self.left_out_mean());
        let squares = self.left_out_errors.iter().map(|e| (e - mean).powi(2));
        (squares.sum::<f64>() / (n - 1.0) / n).sqrt()
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Fits every model that the number of samples carries, the preferred first: the smallest mean error
/// of the patches left out, whatever the errors of the fit are.
pub fn characterise(samples: &[Sample], options: &Options) -> Result<Vec<Candidate>> {
    let mut candidates = Vec::new();
    for tone in [None, Some(Tone::NONE)] {
        if tone.is_some() && !options.tone {
            continue;
        }
        for kind in [ModelKind::Matrix, ModelKind::RootPolynomial] {
            candidates.extend(candidate(kind, tone, samples, options));
        }
    }
    if candidates.is_empty() {
        return Err(ImagingError::new(
            format!(
                "{} usable patches do not determine a camera model",
                samples.len()
            ),
            "fit",
            "Use a chart with at least 6 different colours, none clipped or black.",
        ));
    }
    candidates.sort_by(|a, b| a.left_out_mean().total_cmp(&b.left_out_mean()));
    Ok(candidates)
}

fn candidate(
    kind: ModelKind,
    tone: Option<Tone>,
    samples: &[Sample],
    options: &Options,
) -> Option<Candidate> {
    // Two patches to spare a term, or leaving one out says nothing (common practice, no source).
    if samples.len() < 2 * kind.terms() {
        return None;
    }
    let start = least_squares(kind, options.white_balance, tone, samples)?;
    let model = refine(&start, samples);
    let left_out_errors: Option<Vec<f64>> = (0..samples.len())
        .into_par_iter()
        .map(|i| {
            let mut others = samples.to_vec();
            let one = others.remove(i);
            let start = least_squares(kind, options.white_balance, tone, &others)?;
            let seen = refine(&start, &others).predict_lab(one.camera);
            Some(delta_e_2000(one.target, seen))
        })
        .collect();
    let fit_errors = samples
        .iter()
        .map(|s| delta_e_2000(s.target, model.predict_lab(s.camera)))
        .collect();
    Some(Candidate {
        least_squares_mean: mean_delta_e(&start, samples),
        fit_errors,
        left_out_errors: left_out_errors?,
        model,
    })
}
