//! How photographs are weighed against one another.

use serde::Serialize;

/// Parameters of the mixing. All are choices of this project, made on simulated photographs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Mix {
    /// Angle from the normal beyond which a photograph counts only where there is no other, degrees.
    pub steepest_deg: f32,
    /// Part of the light by which a photograph may differ from the median of three or more before
    /// it counts less.
    pub tolerance: f32,
    /// Light that is added before such a part is taken: noise in the dark is no outlier.
    pub dark: f32,
    /// Exponents of the weights for the fine, the blurred and the most blurred light.
    pub exponents: [i32; 3],
    /// A blurred photograph's detail counts no less than this against the sharpest.
    pub least_sharpness: f32,
    /// Detail, as mean deviation relative to the light, below which photographs count as equally sharp.
    pub hardly_any_detail: f32,
    /// How far clipped light is believed where another photograph is not clipped.
    pub clipped_trust: f32,
}

impl Default for Mix {
    fn default() -> Self {
        Self {
            steepest_deg: 80.0,
            tolerance: 0.1,
            dark: 0.02,
            exponents: [16, 4, 1],
            least_sharpness: 0.5,
            hardly_any_detail: 0.02,
            clipped_trust: 0.01,
        }
    }
}

impl Mix {
    /// What is asked for each texel, made ready.
    pub(crate) fn angles(&self) -> Angles {
        Angles {
            least: self.steepest_deg.to_radians().cos(),
        }
    }
}

/// Weights of angles.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Angles {
    /// Cosine of the steepest.
    least: f32,
}

impl Angles {
    /// Weight of an angle by its cosine: 1 from the front, 0 at the steepest angle and beyond (where
    /// a trace is left, so that a texel that nothing else sees is not empty).
    #[inline]
    pub(crate) fn of_cosine(self, cosine: f32) -> f32 {
        const TRACE: f32 = 1e-4;
        let t = ((cosine - self.least) / (1.0 - self.least)).clamp(0.0, 1.0);
        t * t + TRACE
    }
}
