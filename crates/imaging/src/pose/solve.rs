//! A pose from pairs some of which may be wrong: minimal samples are judged by all pairs (P. H. S.
//! Torr, A. Zisserman, "MLESAC", CVIU 78(1), 2000, 138-156), the best are refined over the pairs
//! that agree, and what lies far beyond the spread of the rest is named as wrong.

use super::free::Free;
use super::hypotheses::{Hypothesis, Start, hypotheses};
use super::pairs::Pair;
use super::refine::{Refined, refine};
use super::snoop::{Change, WRONG, change};
use crate::error::{ImagingError, Result};
use crate::geometry::distance;
use crate::lens::{Lens, Projector};

/// How to solve.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// What is known of the lens.
    pub start: Start,
    /// What is found along with the pose.
    pub free: Free,
    /// How well points are marked: one standard deviation along x or y, in pixels.
    pub marked_px: f64,
    /// For drawing samples where pairs are many.
    pub seed: u64,
}

impl Task {
    /// A pixel, or a five-thousandth of the diagonal: what a careful hand does at the screen (common
    /// practice, no source).
    pub fn usual_marking(width_px: usize, height_px: usize) -> f64 {
        ((width_px as f64).hypot(height_px as f64) / 5000.0).max(1.0)
    }
}

/// A solution.
#[derive(Debug, Clone)]
pub struct Solved {
    /// Pose and lens with the least squared distances over the right pairs.
    pub refined: Refined,
    /// Indices of the right pairs, rising.
    pub right: Vec<usize>,
    /// Indices of the wrong pairs, rising.
    pub wrong: Vec<usize>,
    /// Another place that fits nearly as well, in metres between the two, where there is one.
    pub rival_m: Option<f64>,
}

/// Median of the law of Rayleigh for a standard deviation of 1: √(2 ln 2).
const RAYLEIGH_MEDIAN: f64 = 1.177_410_022_515_474_7;

/// Hypotheses refined.
const KEPT: usize = 24;

/// A rival counts if its mean squared distance is within this factor, after allowing for marking.
const RIVAL: f64 = 2.0;

/// Solves.
///
/// # Errors
/// Too few pairs, pairs on one line, or pairs that do not agree.
pub fn solve(pairs: &[Pair], task: &Task) -> Result<Solved> {
    let place = || "the points".to_owned();
    let needed = task.free.pairs_needed();
    if pairs.len() < needed {
        return Err(ImagingError::new(
            format!("{} pairs of points, and {needed} are needed", pairs.len()),
            place(),
            if task.free == Free::NONE {
                "Mark more points, all over the object and in depth."
            } else {
                "Mark more points all over the object and in depth, or give the lens."
            },
        ));
    }
    let [width, height] = task.start.size_px();
    let diagonal = (width as f64).hypot(height as f64);
    // A minimal sample foretells the other points badly, and distortion that is still unknown moves
    // them too.
    let unknown = task.free.distortion() || matches!(task.start, Start::Size { .. });
    let wide = (WRONG * task.marked_px).max(diagonal * if unknown { 0.006 } else { 0.002 });
    let judge = |h: &Hypothesis| judged(&h.lens, &h.pose, pairs, wide);
    let ranked = hypotheses(pairs, &task.start, task.seed, judge);
    let mut found: Vec<(f64, Settled)> = Vec::new();
    for (_, hypothesis) in distinct(&ranked) {
        if let Some(settled) = settle(pairs, task, hypothesis, wide) {
            let refined = &settled.refined;
            let (cost, _) = judged(&refined.lens, &refined.pose, pairs, wide);
            found.push((cost, settled));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut found = found.into_iter().map(|f| f.1);
    let Some(best) = found.next() else {
        return Err(no_agreement(pairs.len(), ranked.is_empty()));
    };
    let rival_m = found.find_map(|other| rival(&best, &other, task.marked_px));
    let is_right = |i: &usize| best.right.contains(i);
    Ok(Solved {
        wrong: (0..pairs.len()).filter(|i| !is_right(i)).collect(),
        refined: best.refined,
        right: best.right,
        rival_m,
    })
}

fn no_agreement(pairs: usize, no_sample: bool) -> ImagingError {
    let (what, advice) = if no_sample {
        (
            "the points fix no place: on the surface or in the photograph they lie on one line"
                .to_owned(),
            "Mark points all over the object and in depth.",
        )
    } else {
        (
            format!("no place is found from which more than half of the {pairs} pairs agree"),
            "Check that the photograph, the points and the lens belong together, that positions \
             count from the top left corner of the pixels as stored, and that the surface is in \
             metres; then look for points that are exchanged.",
        )
    };
    ImagingError::new(what, "the points", advice)
}

/// Squared distances, those above `wide` counted as `wide`, also for points behind the camera; and the
/// share of the pairs that are nearer.
fn judged(lens: &Lens, pose: &super::Pose, pairs: &[Pair], wide: f64) -> (f64, f64) {
    let projector = Projector::new(*lens);
    let off = pairs.iter().map(|pair| off(&projector, pose, pair));
    let (cost, near) = off.fold((0.0, 0_usize), |(cost, near), off| {
        let capped = off.powi(2).min(wide * wide);
        (cost + capped, near + usize::from(off < wide))
    });
    (cost, near as f64 / pairs.len() as f64)
}

fn off(projector: &Projector, pose: &super::Pose, pair: &Pair) -> f64 {
    projector
        .project(pose.camera_of(pair.surface_m))
        .map_or(f64::INFINITY, |there| distance(there, pair.pixel))
}

/// The best, without those that stand where a better one does.
fn distinct(ranked: &[(f64, Hypothesis)]) -> Vec<(f64, Hypothesis)> {
    let mut kept: Vec<(f64, Hypothesis)> = Vec::new();
    for &(cost, hypothesis) in ranked {
        let near = |other: &Hypothesis| {
            let (a, b) = (hypothesis.pose.centre_m(), other.pose.centre_m());
            let far = norm([0, 1, 2].map(|k| a[k] - b[k]));
            let depth = norm(hypothesis.pose.translation_m);
            far < 0.002 * depth
        };
        if !kept.iter().any(|(_, other)| near(other)) {
            kept.push((cost, hypothesis));
        }
        if kept.len() == KEPT {
            break;
        }
    }
    kept
}

fn norm([x, y, z]: [f64; 3]) -> f64 {
    (x * x + y * y + z * z).sqrt()
}

struct Settled {
    refined: Refined,
    right: Vec<usize>,
}

/// Refines over the pairs that agree until they stay the same.
fn settle(pairs: &[Pair], task: &Task, start: Hypothesis, wide: f64) -> Option<Settled> {
    let numbers = task.free.count();
    let within = |lens: &Lens, pose: &super::Pose, limit: f64| -> Vec<usize> {
        let projector = Projector::new(*lens);
        let agrees = |i: &usize| off(&projector, pose, &pairs[*i]) <= limit;
        (0..pairs.len()).filter(agrees).collect()
    };
    let mut right = within(&start.lens, &start.pose, wide);
    let (mut lens, mut pose) = (start.lens, start.pose);
    // A minimal sample is seldom right enough for all at once: first without distortion.
    let first = Free {
        focal: task.free.focal,
        ..Free::NONE
    };
    for round in 0..8 {
        let free = if round == 0 { first } else { task.free };
        let refined = fitted(pairs, &right, &lens, &pose, &free)?;
        (lens, pose) = (refined.lens, refined.pose);
        let limit = if round == 0 {
            wide
        } else {
            WRONG * spread(&refined, numbers).max(task.marked_px)
        };
        let now = within(&lens, &pose, limit);
        if round > 0 && now == right {
            break;
        }
        right = now;
    }
    snooped(pairs, task, right, &lens, &pose)
}

/// Pairs change sides one at a time until none needs to.
fn snooped(
    pairs: &[Pair],
    task: &Task,
    mut right: Vec<usize>,
    lens: &Lens,
    pose: &super::Pose,
) -> Option<Settled> {
    let mut taken_out = Vec::new();
    let mut refined = fitted(pairs, &right, lens, pose, &task.free)?;
    // Every pair can go out once and come in once.
    for _ in 0..2 * pairs.len() {
        match change(pairs, &refined, &right, &task.free, task.marked_px) {
            Some(Change::TakeOut(i)) => {
                right.retain(|&other| other != i);
                taken_out.push(i);
            }
            Some(Change::PutIn(i)) if !taken_out.contains(&i) => {
                right.push(i);
                right.sort_unstable();
            }
            _ => break,
        }
        refined = fitted(pairs, &right, &refined.lens, &refined.pose, &task.free)?;
    }
    Some(Settled { refined, right })
}

/// `None` also where these pairs are too few to speak for themselves.
fn fitted(
    pairs: &[Pair],
    right: &[usize],
    lens: &Lens,
    pose: &super::Pose,
    free: &Free,
) -> Option<Refined> {
    if 2 * right.len() < free.count() + 2 || 2 * right.len() <= pairs.len() {
        return None;
    }
    let chosen: Vec<&Pair> = right.iter().map(|&i| &pairs[i]).collect();
    refine(lens, pose, free, &chosen)
}

/// A standard deviation along x or y that wrong pairs do not widen: by the median, made larger for
/// the numbers fitted.
fn spread(refined: &Refined, numbers: usize) -> f64 {
    let mut off: Vec<f64> = refined
        .residuals_px
        .iter()
        .map(|r| r[0].hypot(r[1]))
        .collect();
    off.sort_by(f64::total_cmp);
    let equations = 2.0 * off.len() as f64;
    let spare = (equations - numbers as f64).max(1.0);
    off[off.len() / 2] / RAYLEIGH_MEDIAN * (equations / spare).sqrt()
}

fn rival(best: &Settled, other: &Settled, marked_px: f64) -> Option<f64> {
    let (a, b) = (best.refined.pose.centre_m(), other.refined.pose.centre_m());
    let far = norm([0, 1, 2].map(|k| a[k] - b[k]));
    let depth = norm(best.refined.pose.translation_m);
    let allowed = |s: &Settled| s.refined.rms_px().powi(2) + marked_px * marked_px;
    // Further than what another start of the same search may differ by.
    let is_other = far > 0.02 * depth && other.right.len() >= best.right.len();
    (is_other && allowed(other) < RIVAL * allowed(best)).then_some(far)
}
