//! The models: what is computed from three camera values.

use ganosis_colorimetry::{LabD50, XyzD50};
use serde::{Deserialize, Serialize};

use super::tone::Tone;
use crate::camera::CameraRgb;

/// Which terms a model has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ModelKind {
    /// R, G, B: a 3 × 3 matrix.
    Matrix,
    /// R, G, B, √RG, √GB, √RB: root polynomial of degree 2, independent of exposure. G. D. Finlayson,
    /// M. Mackiewicz, A. Hurlbert, "Color Correction Using Root-Polynomial Regression", IEEE
    /// Transactions on Image Processing 24(5), 2015, equation 6.
    RootPolynomial,
}

impl ModelKind {
    /// How many terms.
    pub const fn terms(self) -> usize {
        match self {
            Self::Matrix => 3,
            Self::RootPolynomial => 6,
        }
    }

    /// The name for people.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Matrix => "3×3 matrix",
            Self::RootPolynomial => "root polynomial, degree 2",
        }
    }

    /// The terms; those after the first [`ModelKind::terms`] are 0.
    #[inline]
    pub fn expand(self, [r, g, b]: [f64; 3]) -> [f64; 6] {
        match self {
            Self::Matrix => [r, g, b, 0.0, 0.0, 0.0],
            Self::RootPolynomial => {
                // A product below 0 (noise around black) has no root.
                let root = |v: f64| v.max(0.0).sqrt();
                [r, g, b, root(r * g), root(g * b), root(r * b)]
            }
        }
    }
}

/// A characterised camera: white balance, tone curve where asked, and the matrix over the terms.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Model {
    /// Which terms.
    pub kind: ModelKind,
    /// Gains that make a grey equal in the three channels; green is 1.
    pub white_balance: [f64; 3],
    /// The tone curve, applied after the gains.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tone: Option<Tone>,
    /// X, Y and Z (D50) of each term.
    pub xyz_d50_of_term: Vec<[f64; 3]>,
}

impl Model {
    /// Tristimulus values for camera values.
    #[inline]
    pub fn predict(&self, camera: CameraRgb) -> XyzD50 {
        let terms = self.terms(camera);
        let mut xyz = [0.0; 3];
        for (term, row) in terms.iter().zip(&self.xyz_d50_of_term) {
            for (out, weight) in xyz.iter_mut().zip(row) {
                *out += term * weight;
            }
        }
        XyzD50::from_array(xyz)
    }

    /// CIELAB for camera values.
    pub fn predict_lab(&self, camera: CameraRgb) -> LabD50 {
        self.predict(camera).into()
    }

    /// The terms after gains and tone curve.
    #[inline]
    pub fn terms(&self, camera: CameraRgb) -> [f64; 6] {
        let mut rgb = camera.scaled(self.white_balance).0;
        if let Some(tone) = self.tone {
            rgb = rgb.map(|v| tone.apply(v));
        }
        self.kind.expand(rgb)
    }
}
