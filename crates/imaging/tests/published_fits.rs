//! Least-squares fits against colour-science 0.4.7 (tests/reference/camera_characterisation_examples.json
//! names methods and sources).

#![allow(clippy::unwrap_used, reason = "a test may panic")]

use ganosis_colorimetry::XyzD50;
use ganosis_imaging::CameraRgb;
use ganosis_imaging::fit::{ModelKind, Sample, least_squares};
use serde_json::Value;

fn triples(value: &Value) -> Vec<[f64; 3]> {
    serde_json::from_value(value.clone()).unwrap()
}

#[test]
fn matrix_and_root_polynomial_predict_what_colour_science_predicts() {
    let text = include_str!("../../../tests/reference/camera_characterisation_examples.json");
    let all: Value = serde_json::from_str(text).unwrap();
    let kinds = [
        ("linear_3x3", ModelKind::Matrix),
        ("root_polynomial_degree_2", ModelKind::RootPolynomial),
    ];
    for set in ["simulated24", "package24"] {
        let (camera, target) = (
            triples(&all[set]["camera_rgb"]),
            triples(&all[set]["target"]),
        );
        assert_eq!(camera.len(), 24);
        let samples: Vec<Sample> = camera
            .iter()
            .zip(target)
            .map(|(&rgb, xyz)| Sample {
                camera: CameraRgb(rgb),
                target: XyzD50::from_array(xyz).into(),
            })
            .collect();
        for (name, kind) in kinds {
            let matrix: Vec<Vec<f64>> =
                serde_json::from_value(all[set]["results"][name]["matrix"].clone()).unwrap();
            let ours = least_squares(kind, [1.3, 1.0, 0.7], None, &samples).unwrap();
            for sample in &samples {
                let got = ours.predict(sample.camera).to_array();
                let terms = kind.expand(sample.camera.0);
                for (row, got) in matrix.iter().zip(got) {
                    let wanted: f64 = row.iter().zip(terms).map(|(m, t)| m * t).sum();
                    assert!((got - wanted).abs() < 1e-8, "{set} {name}: {got} {wanted}");
                }
            }
        }
    }
}
