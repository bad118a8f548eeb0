//! A pose from pairs, as it is asked for: with a lens or without, with what is to be found or without.

use super::fit::{PoseFit, TriedFree};
use super::free::Free;
use super::hypotheses::Start;
use super::pairs::Pair;
use super::solve::Task;
use crate::error::{ImagingError, Result};
use crate::lens::Lens;

/// What is known before a pose is found.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Width and height of the photograph as stored.
    pub size_px: [usize; 2],
    /// Its lens, where that is calibrated.
    pub lens: Option<Lens>,
    /// What to find besides the pose; `None` for nothing with a lens, and without one for the focal
    /// length and as much of the radial distortion as the points carry.
    pub free: Option<Free>,
    /// How well points are marked, in pixels; `None` for [`Task::usual_marking`].
    pub marked_px: Option<f64>,
}

/// The same samples each time.
const SEED: u64 = 1;

impl Question {
    /// The pose, and what was tried where that was left open.
    ///
    /// # Errors
    /// As [`PoseFit::of`]; or the lens is unknown and is not to be found either.
    pub fn answer(&self, pairs: &[Pair]) -> Result<(PoseFit, Vec<TriedFree>)> {
        let [width_px, height_px] = self.size_px;
        let start = match self.lens {
            Some(lens) => Start::Lens(lens),
            None => Start::Size {
                width_px,
                height_px,
            },
        };
        let usual = Task::usual_marking(width_px, height_px);
        let marked_px = self.marked_px.unwrap_or(usual);
        let free = match (self.free, self.lens) {
            (None, None) => return PoseFit::choosing(pairs, start, marked_px, SEED),
            (Some(free), None) if !free.focal => {
                return Err(ImagingError::new(
                    "without a lens the focal length is to be found",
                    "--solve",
                    "Add focal to the list, or give --lens.",
                ));
            }
            (free, _) => free.unwrap_or(Free::NONE),
        };
        let task = Task {
            start,
            free,
            marked_px,
            seed: SEED,
        };
        Ok((PoseFit::of(pairs, &task)?, Vec::new()))
    }
}
