//! Whether the lens that is given is the photograph's own: with a wrong one residuals grow outwards, as no
//! error of marking does.

use super::free::Free;
use super::hypotheses::Start;
use super::pairs::Pair;
use super::refine::refine;
use super::solve::{Solved, Task, solve};
use super::weak::{WeakKind, Weakness};
use crate::error::ImagingError;

/// What is found in place of the lens that is given: what grows with the distance from the middle, and with
/// its cube.
const RADIAL: Free = Free {
    focal: true,
    k1: true,
    ..Free::NONE
};

/// Chance at which a radial pattern is taken for more than marking: one false doubt in ten thousand poses (a
/// choice of ours).
const CHANCE: f64 = 1e-4;

/// A pattern of less, in pixels r.m.s., does no harm (a choice of ours).
const HARMLESS_PX: f64 = 0.25;

/// Another lens explains more than this one where it leaves fewer wrong pairs by this part of all (a choice of
/// ours: by chance a pair or two change sides).
const MORE_RIGHT: f64 = 0.15;

/// The doubt, where there is one.
pub(super) fn doubt(pairs: &[Pair], solved: &Solved, task: &Task) -> Option<Weakness> {
    let other = with_another(pairs, task)?;
    let given = &solved.refined;
    let gain = other.right.len() as f64 - solved.right.len() as f64;
    let what = if gain >= (MORE_RIGHT * pairs.len() as f64).max(2.0) {
        format!(
            "{} of the {} pairs agree with the lens that is given, {} with one found from them",
            solved.right.len(),
            pairs.len(),
            other.right.len()
        )
    } else {
        let right: Vec<&Pair> = solved.right.iter().map(|&i| &pairs[i]).collect();
        let spare = (2 * right.len()).checked_sub(RADIAL.count() + 1)? + 1;
        let free = refine(&given.lens, &given.pose, &RADIAL, &right)?;
        let part = free.cost / given.cost;
        // The F test of two more numbers: with so many equations to spare its tail has this closed form
        // (N. L. Johnson, S. Kotz, N. Balakrishnan, Continuous Univariate Distributions 2, 1995, chapter 27).
        let chance = part.powf(spare as f64 / 2.0);
        let pattern_px = ((given.cost - free.cost) / right.len() as f64)
            .max(0.0)
            .sqrt();
        // NaN, where all is exact, is no doubt.
        if !(chance < CHANCE && pattern_px > HARMLESS_PX) {
            return None;
        }
        format!(
            "residuals grow outwards: {:.2} px with the lens that is given, {:.2} px with one found from the \
             points",
            given.rms_px(),
            free.rms_px()
        )
    };
    Some(Weakness {
        kind: WeakKind::LensDoubtful,
        text: format!("{what} ({})", found(&other, given.lens.focal_px[0])),
        advice: ADVICE.to_owned(),
    })
}

/// Where no pose is found with the lens that is given, and one is with another.
pub(super) fn no_pose(pairs: &[Pair], task: &Task) -> Option<ImagingError> {
    let other = with_another(pairs, task)?;
    let Start::Lens(lens) = task.start else {
        return None;
    };
    Some(ImagingError::new(
        format!(
            "no place agrees with the lens that is given, and {} of the {} pairs agree with one found from \
             them ({})",
            other.right.len(),
            pairs.len(),
            found(&other, lens.focal_px[0])
        ),
        "the lens",
        ADVICE,
    ))
}

const ADVICE: &str =
    "Check that the lens file is of this camera, lens, focal length and focus, or leave it out.";

fn found(other: &Solved, given_px: f64) -> String {
    let lens = &other.refined.lens;
    format!(
        "focal length {:.0} px instead of {given_px:.0}, k1 {:.4}",
        lens.focal_px[0], lens.distortion.k1
    )
}

/// The same pairs with a lens that is found; `None` where none was given, or they are too few.
fn with_another(pairs: &[Pair], task: &Task) -> Option<Solved> {
    let known = matches!(task.start, Start::Lens(_)) && task.free == Free::NONE;
    if !known || pairs.len() <= RADIAL.pairs_needed() {
        return None;
    }
    let free = Task {
        free: RADIAL,
        ..task.clone()
    };
    solve(pairs, &free).ok()
}
