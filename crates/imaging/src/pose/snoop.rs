//! Which pairs are wrong, by how far each lies from what the others foretell: W. Baarda, "A testing
//! procedure for use in geodetic networks", Netherlands Geodetic Commission, 1968, with the spread
//! taken from the other pairs.

use nalgebra::{DMatrix, Matrix2, Vector2};

use super::free::Free;
use super::pairs::Pair;
use super::quality::inverse_of;
use super::refine::{Refined, slopes};
use crate::geometry::distance;

/// A distance above this many standard deviations is wrong: by the law of Rayleigh one right pair in
/// 3000 is.
pub(super) const WRONG: f64 = 4.0;

/// What to change about a set of right pairs.
pub(super) enum Change {
    /// This pair, one of the right ones, is wrong.
    TakeOut(usize),
    /// This pair agrees after all.
    PutIn(usize),
}

/// The pair that most needs to change sides, if any. `right` are the pairs fitted, in the order of
/// the residuals.
pub(super) fn change(
    pairs: &[Pair],
    refined: &Refined,
    right: &[usize],
    free: &Free,
    marked_px: f64,
) -> Option<Change> {
    let inverse = inverse_of(&refined.normal)?;
    let spare = (2 * right.len()).checked_sub(free.count())?;
    let carried = |pair: &Pair| -> Option<Matrix2<f64>> {
        let j: DMatrix<f64> = slopes(&refined.lens, &refined.pose, free, pair.surface_m)?;
        let c = &j * &inverse * j.transpose();
        Some(Matrix2::new(c[(0, 0)], c[(0, 1)], c[(1, 0)], c[(1, 1)]))
    };
    let least = marked_px * marked_px;
    let mut worst: Option<(f64, usize)> = None;
    for (&i, &off) in right.iter().zip(&refined.residuals_px) {
        let off = Vector2::from(off);
        // The distance from the fit without it, and what the others then leave.
        let Some(without) = (Matrix2::identity() - carried(&pairs[i])?).try_inverse() else {
            continue;
        };
        let squared = (off.transpose() * without * off).x;
        let left = (refined.cost - squared).max(0.0) / (spare.saturating_sub(2).max(1)) as f64;
        let deviations = (squared / left.max(least)).sqrt();
        if worst.is_none_or(|(most, _)| deviations > most) {
            worst = Some((deviations, i));
        }
    }
    if let Some((deviations, i)) = worst
        && deviations > WRONG
    {
        return Some(Change::TakeOut(i));
    }
    let variance = (refined.cost / spare.max(1) as f64).max(least);
    (0..pairs.len())
        .filter(|i| right.binary_search(i).is_err())
        .find(|&i| {
            let camera = refined.pose.camera_of(pairs[i].surface_m);
            let (Some(there), Some(carried)) = (refined.lens.project(camera), carried(&pairs[i]))
            else {
                return false;
            };
            let off = Vector2::from(pairs[i].pixel) - Vector2::from(there);
            let spread = (Matrix2::identity() + carried) * variance;
            // A point that would agree only because nothing is known there says nothing.
            let near = distance(pairs[i].pixel, there) < 3.0 * WRONG * variance.sqrt();
            let squared = spread.try_inverse().map(|s| (off.transpose() * s * off).x);
            near && squared.is_some_and(|s| s < WRONG * WRONG)
        })
        .map(Change::PutIn)
}
