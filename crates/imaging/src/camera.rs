//! The camera's own colour.

use serde::{Deserialize, Serialize};

/// Linear camera values, 0..1 with 1 at the largest code, in the camera's own primaries.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct CameraRgb(pub [f64; 3]);

impl CameraRgb {
    /// Each channel times its gain.
    pub fn scaled(self, gains: [f64; 3]) -> Self {
        let [r, g, b] = self.0;
        Self([r * gains[0], g * gains[1], b * gains[2]])
    }

    /// The largest channel.
    pub fn largest(self) -> f64 {
        self.0.into_iter().fold(f64::NEG_INFINITY, f64::max)
    }
}
