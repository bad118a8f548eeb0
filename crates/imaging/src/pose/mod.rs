//! Where a photograph was taken from: the camera's place before the surface.

mod ask;
mod by_layer;
pub mod colmap;
mod doubt;
mod file;
mod fit;
mod free;
mod hypotheses;
mod known;
mod lens_file;
mod p3p;
mod pairs;
mod quality;
mod refine;
pub mod similarity;
mod snoop;
mod solve;
mod table;
mod weak;

use nalgebra::{Matrix3, Rotation3, Vector3};
use serde::{Deserialize, Serialize};

use crate::error::{ImagingError, Result};

pub use ask::Question;
pub use by_layer::{Agreement, LaidLayer, agree_with_layer};
pub use file::{FORMAT, FitSummary, PosedPhoto, Poses, SurfaceProjector};
pub use fit::{PoseFit, TriedFree};
pub use free::Free;
pub use hypotheses::Start;
pub use known::{Known, bring_to_surface, read_known};
pub use lens_file::read_lens;
pub use p3p::p3p;
pub use pairs::{COLUMNS, Pair, read_pairs, write_pairs};
pub use quality::{PairResult, Uncertainty};
pub use refine::{Refined, refine, turn_of};
pub use solve::{Solved, Task, solve};
pub use weak::{WeakKind, Weakness};

/// How far a rotation read from a file may be from one, per element: numbers written with six digits.
const ROTATION_TOLERANCE: f64 = 1e-5;

/// A camera's place: camera = rotation · surface + translation. Surface coordinates are those of the
/// surface (metres, +Y up); camera coordinates x right, y down, z forward, in metres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pose {
    /// Rows of the rotation from the surface to the camera.
    pub rotation: [[f64; 3]; 3],
    /// The surface's origin in camera space, in metres.
    pub translation_m: [f64; 3],
}

impl Pose {
    /// From a rotation and a translation.
    pub fn new(rotation: &Rotation3<f64>, translation_m: Vector3<f64>) -> Self {
        let m = rotation.matrix();
        Self {
            rotation: [0, 1, 2].map(|r| [0, 1, 2].map(|c| m[(r, c)])),
            translation_m: translation_m.into(),
        }
    }

    /// The rotation.
    pub fn rotation(&self) -> Rotation3<f64> {
        Rotation3::from_matrix_unchecked(self.matrix())
    }

    fn matrix(&self) -> Matrix3<f64> {
        Matrix3::from_fn(|r, c| self.rotation[r][c])
    }

    /// A point of the surface in camera space, in metres.
    pub fn camera_of(&self, surface_m: [f64; 3]) -> [f64; 3] {
        let [a, b, c] = self
            .rotation
            .map(|row| row[0] * surface_m[0] + row[1] * surface_m[1] + row[2] * surface_m[2]);
        let [x, y, z] = self.translation_m;
        [a + x, b + y, c + z]
    }

    /// Where the camera stands, in surface coordinates, in metres.
    pub fn centre_m(&self) -> [f64; 3] {
        (-(self.matrix().transpose() * Vector3::from(self.translation_m))).into()
    }

    /// A direction of camera space in surface coordinates.
    pub fn surface_direction(&self, camera: [f64; 3]) -> [f64; 3] {
        (self.matrix().transpose() * Vector3::from(camera)).into()
    }

    /// The direction of a normalised image point, in surface coordinates, not of unit length.
    pub fn ray(&self, normalised: [f64; 2]) -> [f64; 3] {
        self.surface_direction([normalised[0], normalised[1], 1.0])
    }

    /// An error if the numbers are none of a pose. `place` says where they were read.
    pub fn check(&self, place: &str) -> Result<()> {
        let finite = self.rotation.iter().flatten().chain(&self.translation_m);
        if finite.into_iter().any(|v| !v.is_finite()) {
            return Err(ImagingError::new(
                "the pose holds a number that is not finite",
                place,
                "Write plain decimal numbers.",
            ));
        }
        let m = self.matrix();
        let off = (m * m.transpose() - Matrix3::identity()).abs().max();
        if off > ROTATION_TOLERANCE || m.determinant() < 0.0 {
            return Err(ImagingError::new(
                "the rotation of the pose is none: its rows are not at right angles, of length 1 \
                 and right-handed",
                place,
                "Give the rotation from the surface to the camera, without scale or mirroring.",
            ));
        }
        Ok(())
    }
}
