//! Solves a pose and judges it; where the lens is unknown, finds as much of it as the points carry.

use serde::{Deserialize, Serialize};

use super::Pose;
use super::doubt::no_pose;
use super::file::FitSummary;
use super::free::Free;
use super::hypotheses::Start;
use super::pairs::Pair;
use super::quality::{PairResult, Uncertainty, pair_results, rms, uncertainty};
use super::solve::{Task, solve};
use super::weak::{WeakKind, Weakness, weaknesses};
use crate::error::Result;
use crate::lens::Lens;

/// A solved pose with everything that is known about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PoseFit {
    /// The lens, with what was found changed.
    pub lens: Lens,
    /// The pose.
    pub pose: Pose,
    /// What was found along with the pose.
    pub free: Free,
    /// In sum.
    pub summary: FitSummary,
    /// Every pair, in its order.
    pub pairs: Vec<PairResult>,
    /// How well it is known; `None` where the points do not fix it.
    pub uncertainty: Option<Uncertainty>,
    /// What speaks against it.
    pub weaknesses: Vec<Weakness>,
}

/// One choice of what is found, and how it did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TriedFree {
    /// What was found.
    pub free: Free,
    /// Root mean square of the residuals, in pixels.
    pub rms_px: f64,
    /// The same for points left out in turn.
    pub left_out_rms_px: Option<f64>,
    /// Pairs left out as wrong.
    pub wrong_pairs: usize,
}

/// A larger set of numbers is taken only where points left out come nearer by this share: the
/// standard error of such a value is about as large.
const GAIN: f64 = 0.9;

impl PoseFit {
    /// Solves and judges.
    ///
    /// # Errors
    /// As [`solve`].
    pub fn of(pairs: &[Pair], task: &Task) -> Result<Self> {
        let solved = solve(pairs, task).map_err(|e| no_pose(pairs, task).unwrap_or(e))?;
        let results = pair_results(pairs, &solved, &task.free);
        let uncertainty = uncertainty(pairs, &solved, task);
        let right = || results.iter().filter(|r| !r.wrong);
        Ok(Self {
            lens: solved.refined.lens,
            pose: solved.refined.pose,
            free: task.free,
            summary: FitSummary {
                pairs: solved.right.len(),
                wrong_pairs: solved.wrong.len(),
                rms_px: solved.refined.rms_px(),
                rms_mm: rms(right().filter_map(|r| r.off_mm)).unwrap_or(0.0),
                left_out_rms_px: rms(right().filter_map(|r| r.left_out_px)),
            },
            weaknesses: weaknesses(pairs, &solved, task, uncertainty.as_ref()),
            uncertainty,
            pairs: results,
        })
    }

    /// As [`PoseFit::of`] for an unknown lens: the focal length is found, and one or two terms of
    /// radial distortion where points left out in turn come nearer with them. Also what was tried,
    /// the smallest set first.
    ///
    /// # Errors
    /// As [`solve`] with the focal length alone.
    pub fn choosing(
        pairs: &[Pair],
        start: Start,
        marked_px: f64,
        seed: u64,
    ) -> Result<(Self, Vec<TriedFree>)> {
        let focal = Free {
            focal: true,
            ..Free::NONE
        };
        let with_k1 = Free { k1: true, ..focal };
        let with_k2 = Free {
            k2: true,
            ..with_k1
        };
        let task = |free: Free| Task {
            start,
            free,
            marked_px,
            seed,
        };
        let mut best = Self::of(pairs, &task(focal))?;
        let mut tried = vec![best.tried()];
        for free in [with_k1, with_k2] {
            // Twice as many equations as numbers, or the gain is chance.
            if pairs.len() < free.count() {
                break;
            }
            let Ok(next) = Self::of(pairs, &task(free)) else {
                continue;
            };
            tried.push(next.tried());
            let is_better = match (next.summary.left_out_rms_px, best.summary.left_out_rms_px) {
                (Some(a), Some(b)) => a < GAIN * b,
                _ => false,
            };
            let fixed = !next.has(WeakKind::Undetermined);
            let fewer_wrong = next.summary.wrong_pairs < best.summary.wrong_pairs;
            let as_many = next.summary.wrong_pairs == best.summary.wrong_pairs;
            if fixed && (fewer_wrong || as_many && is_better) {
                best = next;
            }
        }
        Ok((best, tried))
    }

    fn tried(&self) -> TriedFree {
        TriedFree {
            free: self.free,
            rms_px: self.summary.rms_px,
            left_out_rms_px: self.summary.left_out_rms_px,
            wrong_pairs: self.summary.wrong_pairs,
        }
    }

    /// Whether it has this weakness.
    pub fn has(&self, kind: WeakKind) -> bool {
        self.weaknesses.iter().any(|w| w.kind == kind)
    }
}
