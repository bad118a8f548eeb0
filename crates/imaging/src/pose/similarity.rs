//! Scale, turn and shift between two sets of the same points: S. Umeyama, "Least-squares estimation
//! of transformation parameters between two point patterns", IEEE PAMI 13(4), 1991, 376-380 (the
//! same optimum as B. K. P. Horn, JOSA A 4(4), 1987, 629-642).

use nalgebra::{Matrix3, Rotation3, Vector3};
use serde::{Deserialize, Serialize};

use super::Pose;
use super::quality::rms;
use crate::error::{ImagingError, Result};

/// to = scale · rotation · from + translation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Similarity {
    /// Length in the target by length in the source.
    pub scale: f64,
    /// Rows of the rotation.
    pub rotation: [[f64; 3]; 3],
    /// In the unit of the target.
    pub translation: [f64; 3],
}

/// Below this ratio of the second to the first singular value the points lie on a line and do not
/// fix the turn about it: a thousandth of their length.
const LINE: f64 = 1e-3;

/// The similarity with the least squared distances. `None` for fewer than three pairs, points on a
/// line, or numbers that are not finite.
pub fn fit(from: &[[f64; 3]], to: &[[f64; 3]]) -> Option<Similarity> {
    fit_with(from, to, true)
}

/// As [`fit`] with the scale held at 1.
pub(super) fn fit_rigid(from: &[[f64; 3]], to: &[[f64; 3]]) -> Option<Similarity> {
    fit_with(from, to, false)
}

fn fit_with(from: &[[f64; 3]], to: &[[f64; 3]], scaled: bool) -> Option<Similarity> {
    let n = from.len();
    if n < 3 || n != to.len() || from.iter().chain(to).flatten().any(|v| !v.is_finite()) {
        return None;
    }
    let mean = |points: &[[f64; 3]]| {
        let sum: Vector3<f64> = points.iter().map(|&p| Vector3::from(p)).sum();
        sum / n as f64
    };
    let (from_mean, to_mean) = (mean(from), mean(to));
    let mut covariance = Matrix3::zeros();
    let (mut from_spread, mut to_spread) = (Matrix3::zeros(), Matrix3::zeros());
    for (&a, &b) in from.iter().zip(to) {
        let (a, b) = (Vector3::from(a) - from_mean, Vector3::from(b) - to_mean);
        covariance += b * a.transpose();
        from_spread += a * a.transpose();
        to_spread += b * b.transpose();
    }
    if on_a_line(&from_spread) || on_a_line(&to_spread) {
        return None;
    }
    let svd = covariance.svd(true, true);
    let (u, v_t) = (svd.u?, svd.v_t?);
    let mut signs = Vector3::repeat(1.0);
    if u.determinant() * v_t.determinant() < 0.0 {
        signs[svd.singular_values.imin()] = -1.0;
    }
    let rotation = u * Matrix3::from_diagonal(&signs) * v_t;
    let scale = if scaled {
        svd.singular_values.dot(&signs) / from_spread.trace()
    } else {
        1.0
    };
    let translation = to_mean - rotation * from_mean * scale;
    let found = Similarity {
        scale,
        rotation: [0, 1, 2].map(|r| [0, 1, 2].map(|c| rotation[(r, c)])),
        translation: translation.into(),
    };
    (scale.is_finite() && scale > 0.0).then_some(found)
}

fn on_a_line(spread: &Matrix3<f64>) -> bool {
    let mut axes: Vec<f64> = spread.symmetric_eigenvalues().iter().copied().collect();
    axes.sort_by(f64::total_cmp);
    // Squares of lengths. Also true for points that all coincide.
    axes[1] <= axes[2] * LINE * LINE
}

impl Similarity {
    fn matrix(&self) -> Matrix3<f64> {
        Matrix3::from_fn(|r, c| self.rotation[r][c])
    }

    /// Where a point goes.
    pub fn apply(&self, from: [f64; 3]) -> [f64; 3] {
        let turned = self.matrix() * Vector3::from(from) * self.scale;
        (turned + Vector3::from(self.translation)).into()
    }

    /// A pose before the source as a pose before the target, whose unit is the metre.
    pub fn pose(&self, pose: &Pose) -> Pose {
        let turned = pose.rotation().matrix() * self.matrix().transpose();
        let shift = Vector3::from(pose.translation_m) * self.scale
            - turned * Vector3::from(self.translation);
        Pose::new(&Rotation3::from_matrix_unchecked(turned), shift)
    }
}

/// A similarity and how well it fits points whose target is in metres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SimilarityFit {
    /// The map.
    pub similarity: Similarity,
    /// Distance of each point from where it should be, in millimetres.
    pub residuals_mm: Vec<f64>,
    /// Their root mean square.
    pub rms_mm: f64,
}

impl SimilarityFit {
    /// Fits, with the residuals. `place` names the points in the message.
    ///
    /// # Errors
    /// Fewer than three points, or all on one line.
    pub fn of(from: &[[f64; 3]], to_m: &[[f64; 3]], place: &str) -> Result<Self> {
        let Some(similarity) = fit(from, to_m) else {
            return Err(ImagingError::new(
                format!(
                    "{} known points do not fix scale and axes",
                    from.len().min(to_m.len())
                ),
                place,
                "Give three or more that do not lie on one line, better six all over the object.",
            ));
        };
        let residuals_mm: Vec<f64> = from
            .iter()
            .zip(to_m)
            .map(|(&a, &b)| 1000.0 * (Vector3::from(similarity.apply(a)) - Vector3::from(b)).norm())
            .collect();
        Ok(Self {
            rms_mm: rms(residuals_mm.iter().copied()).unwrap_or(0.0),
            similarity,
            residuals_mm,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The case for which Umeyama 1991 corrects the older solutions: the best orthogonal map mirrors.
    #[test]
    fn a_mirrored_pattern_is_turned_and_not_mirrored() {
        let from = [
            [0.0, 0.0, 0.0],
            [1.0, 0.0, 0.0],
            [0.0, 2.0, 0.0],
            [0.3, 0.4, 1.0],
        ];
        let mirrored = from.map(|[x, y, z]| [-x, y, z]);
        let found = fit(&from, &mirrored).unwrap();
        assert!((found.matrix().determinant() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_known_similarity_is_found_and_carries_poses_along() {
        let truth = Similarity {
            scale: 0.0123,
            rotation: {
                let m = Rotation3::from_euler_angles(0.3, -1.2, 2.0);
                [0, 1, 2].map(|r| [0, 1, 2].map(|c| m[(r, c)]))
            },
            translation: [0.1, -0.2, 0.05],
        };
        let from = [
            [1.0, 2.0, 3.0],
            [-4.0, 0.5, 2.0],
            [3.0, -3.0, 0.0],
            [0.0, 9.0, 1.0],
        ];
        let to = from.map(|p| truth.apply(p));
        let found = SimilarityFit::of(&from, &to, "here").unwrap();
        assert!(found.rms_mm < 1e-10);
        assert!((found.similarity.scale - truth.scale).abs() < 1e-15);

        let pose = Pose::new(
            &Rotation3::from_euler_angles(-0.4, 0.1, 0.7),
            Vector3::new(1.0, -2.0, 30.0),
        );
        let moved = truth.pose(&pose);
        for (a, b) in from.into_iter().zip(to) {
            let (there, here) = (moved.camera_of(b), pose.camera_of(a));
            for k in 0..3 {
                assert!((there[k] - here[k] * truth.scale).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn a_line_two_points_and_no_numbers_fix_nothing() {
        let line = [[0.0, 0.0, 0.0], [1.0, 1.0, 1.0], [2.0, 2.0, 2.0]];
        let good = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];
        assert!(fit(&line, &good).is_none());
        assert!(fit(&good, &line).is_none());
        assert!(fit(&good[..2], &good[..2]).is_none());
        let mut broken = good;
        broken[1][2] = f64::NAN;
        assert!(fit(&good, &broken).is_none());
        assert!(SimilarityFit::of(&line, &line, "here").is_err());
    }
}
