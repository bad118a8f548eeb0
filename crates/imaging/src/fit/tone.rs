//! A tone curve before the matrix, for cameras whose linear file is not quite linear.

use serde::{Deserialize, Serialize};

/// light = max(0, value - black) ^ power, the same in the three channels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Tone {
    /// Stray light or black level, in linear camera values.
    pub black: f64,
    /// Exponent; 1 where the file is linear.
    pub power: f64,
}

impl Tone {
    /// The curve that changes nothing.
    pub const NONE: Self = Self {
        black: 0.0,
        power: 1.0,
    };

    /// Light for a camera value.
    #[inline]
    pub fn apply(self, value: f64) -> f64 {
        (value - self.black).max(0.0).powf(self.power)
    }
}
