//! How well readings and a reference belong together.

use ganosis_colorimetry::LabD50;

use crate::camera::CameraRgb;
use crate::fit::{ModelKind, Sample, least_squares, mean_delta_e};

/// Mean ΔE00 that a 3 × 3 matrix by least squares leaves; blind to exposure and to the colour of the
/// light. `None` where there is nothing to fit.
pub fn match_error(camera: &[CameraRgb], reference: &[LabD50]) -> Option<f64> {
    let samples: Vec<Sample> = camera
        .iter()
        .zip(reference)
        .map(|(&camera, &target)| Sample { camera, target })
        .collect();
    let model = least_squares(ModelKind::Matrix, [1.0; 3], None, &samples)?;
    let error = mean_delta_e(&model, &samples);
    error.is_finite().then_some(error)
}
