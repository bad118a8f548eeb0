//! A few points of an area, spread over all of it.

use ganosis_dossier::document::Anchor;
use glam::DVec3;

use super::sample::Sample;

/// Most points kept. A choice of ours: enough to find the middle.
const MOST: usize = 64;

/// Keeps every n-th point, n doubling as they come.
#[derive(Debug, Clone, Default)]
pub(crate) struct Thin {
    seen: usize,
    /// log2 of n.
    step: u32,
    kept: Vec<(String, [f64; 2], DVec3, DVec3)>,
}

impl Thin {
    pub(crate) fn add(&mut self, sheet: &str, sample: &Sample) {
        if self.seen.is_multiple_of(1 << self.step) {
            if self.kept.len() == MOST {
                let mut keep = false;
                self.kept.retain(|_| {
                    keep = !keep;
                    keep
                });
                self.step += 1;
            }
            let point = (sample.position_m.as_dvec3(), sample.normal.as_dvec3());
            self.kept
                .push((sheet.to_owned(), sample.uv, point.0, point.1));
        }
        self.seen += 1;
    }

    /// The kept point nearest to the mean of all kept.
    pub(crate) fn middle(&self) -> Option<Anchor> {
        let mean = self.kept.iter().map(|k| k.2).sum::<DVec3>() / self.kept.len() as f64;
        let nearest = self.kept.iter().min_by(|a, b| {
            a.2.distance_squared(mean)
                .total_cmp(&b.2.distance_squared(mean))
        })?;
        Some(Anchor {
            sheet: nearest.0.clone(),
            uv: Some(nearest.1),
            position_m: Some(nearest.2.to_array()),
            normal: Some(nearest.3.to_array()),
            ..Anchor::default()
        })
    }
}
