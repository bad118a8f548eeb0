//! Fitting a model: linear least squares first, then the smallest mean ΔE00.

use ganosis_colorimetry::{LabD50, delta_e_2000};
use nalgebra::{DMatrix, DVector};

use super::model::{Model, ModelKind};
use super::tone::Tone;
use crate::camera::CameraRgb;

/// One patch as photographed and as measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// What the camera gave.
    pub camera: CameraRgb,
    /// What it is.
    pub target: LabD50,
}

/// Mean ΔE00 of a model over samples.
pub fn mean_delta_e(model: &Model, samples: &[Sample]) -> f64 {
    let sum: f64 = samples.iter().map(|s| error_of(model, s)).sum();
    sum / samples.len() as f64
}

fn error_of(model: &Model, sample: &Sample) -> f64 {
    delta_e_2000(sample.target, model.predict_lab(sample.camera))
}

/// The matrix with the least squared error in XYZ, unweighted. `None` where the samples do not
/// determine it.
pub fn least_squares(
    kind: ModelKind,
    white_balance: [f64; 3],
    tone: Option<Tone>,
    samples: &[Sample],
) -> Option<Model> {
    let mut model = Model {
        kind,
        white_balance,
        tone,
        xyz_d50_of_term: vec![[0.0; 3]; kind.terms()],
    };
    let a = DMatrix::from_fn(samples.len(), kind.terms(), |i, j| {
        model.terms(samples[i].camera)[j]
    });
    let b = DMatrix::from_fn(samples.len(), 3, |i, j| {
        samples[i].target.to_xyz_d50().to_array()[j]
    });
    let svd = a.svd(true, true);
    let largest = svd.singular_values.max();
    // Below this ratio a term is a copy of others to rounding.
    let smallest_used = largest * 1e-10;
    if !largest.is_finite() || svd.rank(smallest_used) < kind.terms() {
        return None;
    }
    let solution = svd.solve(&b, 0.0).ok()?;
    for (term, row) in model.xyz_d50_of_term.iter_mut().enumerate() {
        *row = [0, 1, 2].map(|c| solution[(term, c)]);
    }
    Some(model)
}

/// Below this ΔE00, about what is just noticed, differences count by their squares and above as they
/// are. A smaller value makes the fit pass exactly through some patches, and colours that are not on
/// the chart then come out worse (measured on the cameras of tests/simulated_cameras.rs: mean ΔE00
/// 1.29 at 0.05, 1.26 at 1.5).
const SMOOTHING: f64 = 1.0;

/// Levenberg–Marquardt steps at most, and the gain below which it stops.
const STEPS: usize = 60;
const LEAST_GAIN: f64 = 1e-6;

/// Lowers the mean ΔE00 from `start` by Levenberg–Marquardt over the fourth root of the smoothed
/// squared differences (the sum of their squares is the sum of √(ΔE00² + smoothing²)). Never worse than `start`.
pub fn refine(start: &Model, samples: &[Sample]) -> Model {
    let mut parameters = to_parameters(start);
    let mut residuals = residuals_of(start, &parameters, samples);
    let mut cost = residuals.norm_squared();
    let mut damping = 1e-3;
    for _ in 0..STEPS {
        let jacobian = jacobian_of(start, &parameters, &residuals, samples);
        let normal = jacobian.transpose() * &jacobian;
        let gradient = jacobian.transpose() * &residuals;
        let before = cost;
        for _ in 0..8 {
            let mut damped = normal.clone();
            for i in 0..damped.nrows() {
                damped[(i, i)] += damping * normal[(i, i)].max(1e-12);
            }
            let step = damped.cholesky().map(|c| c.solve(&gradient));
            let trial = step.map(|step| &parameters - step);
            let better = trial.and_then(|trial| {
                let residuals = residuals_of(start, &trial, samples);
                let cost_of_trial = residuals.norm_squared();
                (cost_of_trial < cost).then_some((trial, residuals, cost_of_trial))
            });
            if let Some(found) = better {
                (parameters, residuals, cost) = found;
                damping = (damping * 0.2).max(1e-9);
                break;
            }
            damping *= 5.0;
        }
        if before - cost < LEAST_GAIN * before {
            break;
        }
    }
    let refined = with_parameters(start, &parameters);
    if mean_delta_e(&refined, samples) < mean_delta_e(start, samples) {
        refined
    } else {
        start.clone()
    }
}

fn to_parameters(model: &Model) -> DVector<f64> {
    let matrix = model.xyz_d50_of_term.iter().flatten().copied();
    let tone = model.tone.iter().flat_map(|t| [t.black, t.power]);
    DVector::from_iterator(
        3 * model.xyz_d50_of_term.len() + 2 * usize::from(model.tone.is_some()),
        matrix.chain(tone),
    )
}

fn with_parameters(like: &Model, parameters: &DVector<f64>) -> Model {
    let mut model = like.clone();
    let count = model.xyz_d50_of_term.len();
    for (i, row) in model.xyz_d50_of_term.iter_mut().enumerate() {
        *row = [0, 1, 2].map(|c| parameters[3 * i + c]);
    }
    if let Some(tone) = &mut model.tone {
        // A power outside these bounds is no tone curve of a camera file (common practice).
        tone.black = parameters[3 * count].clamp(-0.2, 0.2);
        tone.power = parameters[3 * count + 1].clamp(0.3, 4.0);
    }
    model
}

fn residuals_of(like: &Model, parameters: &DVector<f64>, samples: &[Sample]) -> DVector<f64> {
    let model = with_parameters(like, parameters);
    DVector::from_iterator(
        samples.len(),
        samples.iter().map(|s| {
            let e = error_of(&model, s);
            (e * e + SMOOTHING * SMOOTHING).sqrt().sqrt()
        }),
    )
}

fn jacobian_of(
    like: &Model,
    parameters: &DVector<f64>,
    residuals: &DVector<f64>,
    samples: &[Sample],
) -> DMatrix<f64> {
    let mut jacobian = DMatrix::zeros(samples.len(), parameters.len());
    let mut moved = parameters.clone();
    for j in 0..parameters.len() {
        // A step of about the square root of the precision of f64.
        let step = 1e-7 * parameters[j].abs().max(0.1);
        moved[j] = parameters[j] + step;
        let there = residuals_of(like, &moved, samples);
        jacobian.set_column(j, &((there - residuals) / step));
        moved[j] = parameters[j];
    }
    jacobian
}
