//! What a lossy tile costs in colour, by whatever difference the caller measures with.

use crate::index::Loss;

/// Steps of the count (CIEDE2000).
const STEP: f64 = 0.01;
/// Differences from here on are one class.
const MOST: usize = 10_000;

/// Counts differences.
#[derive(Debug)]
pub(crate) struct Count {
    classes: Vec<u64>,
    sum: f64,
    texels: u64,
}

impl Default for Count {
    fn default() -> Self {
        Self {
            classes: vec![0; MOST + 1],
            sum: 0.0,
            texels: 0,
        }
    }
}

impl Count {
    pub(crate) fn add(&mut self, difference: f64) {
        self.sum += difference;
        self.texels += 1;
        self.classes[((difference / STEP) as usize).min(MOST)] += 1;
    }

    /// Mean, and the 99th percentile by nearest rank, rounded up to a step.
    pub(crate) fn loss(&self) -> Option<Loss> {
        if self.texels == 0 {
            return None;
        }
        let rank = self.texels.div_ceil(100) * 99;
        let mut seen = 0;
        let class = self.classes.iter().position(|n| {
            seen += n;
            seen >= rank.min(self.texels)
        });
        Some(Loss {
            mean: self.sum / self.texels as f64,
            percentile_99: (class.unwrap_or(MOST) + 1) as f64 * STEP,
            texels: self.texels,
        })
    }
}
