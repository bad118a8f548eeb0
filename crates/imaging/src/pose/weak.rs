//! What makes a solved pose untrustworthy though its residuals are small.

use nalgebra::{Matrix3, Vector3};
use serde::{Deserialize, Serialize};

use super::doubt::doubt;
use super::free::Free;
use super::hypotheses::Start;
use super::pairs::Pair;
use super::quality::Uncertainty;
use super::solve::{Solved, Task};
use crate::geometry::Point;

/// Kinds of weakness.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WeakKind {
    /// Nearly as many numbers are found as are given.
    FewPoints,
    /// The points lie in a plane and the focal length was found too.
    PlaneWithoutFocal,
    /// The points take up a small part of the picture.
    OneCorner,
    /// Numbers found stand for one another.
    Undetermined,
    /// The focal length is known badly.
    FocalUncertain,
    /// Far from the points the picture is known badly.
    Extrapolated,
    /// Another place fits nearly as well.
    Ambiguous,
    /// Pairs were left out as wrong.
    WrongPairs,
    /// The lens that is given is hardly the photograph's own.
    LensDoubtful,
}

/// One weakness.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Weakness {
    /// Its kind.
    pub kind: WeakKind,
    /// What is so.
    pub text: String,
    /// What to do.
    pub advice: String,
}

/// Spare equations below which residuals say little: with ten, a standard deviation taken from them
/// is itself known to 1/√20, 22 %.
const SPARE: usize = 10;

/// Third to first axis of the spread of the points, below which depth does not fix a focal length.
const FLAT: f64 = 0.05;

/// Share of the picture below which points lie in a corner of it.
const SMALL_SHARE: f64 = 0.1;

/// Relative standard deviation of the focal length above which it is uncertain.
const FOCAL: f64 = 0.01;

/// Standard deviation of the picture, in standard deviations of marking, above which the pose does
/// not hold there.
const CARRIED: f64 = 5.0;

pub(super) fn weaknesses(
    pairs: &[Pair],
    solved: &Solved,
    task: &Task,
    uncertainty: Option<&Uncertainty>,
) -> Vec<Weakness> {
    let right: Vec<&Pair> = solved.right.iter().map(|&i| &pairs[i]).collect();
    let mut found = Vec::new();
    let mut add = |kind: WeakKind, text: String, advice: &str| {
        found.push(Weakness {
            kind,
            text,
            advice: advice.to_owned(),
        });
    };
    if !solved.wrong.is_empty() {
        let names: Vec<&str> = solved
            .wrong
            .iter()
            .map(|&i| pairs[i].name.as_str())
            .collect();
        add(
            WeakKind::WrongPairs,
            format!("left out as wrong: {}", names.join(", ")),
            "Look at these points again: exchanged names, a mark on a neighbouring detail, a typing \
             error.",
        );
    }
    let spare = (2 * right.len()).saturating_sub(task.free.count());
    if spare < SPARE {
        add(
            WeakKind::FewPoints,
            format!(
                "{} pairs give {} numbers and {} are found from them: residuals are small whatever \
                 is marked",
                right.len(),
                2 * right.len(),
                task.free.count()
            ),
            "Mark more points; the values for points left out tell more than the residuals.",
        );
    }
    let flatness = flatness(&right);
    let finds_focal = task.free.focal;
    if finds_focal && flatness < FLAT {
        add(
            WeakKind::PlaneWithoutFocal,
            format!(
                "the points lie nearly in a plane (depth {:.1} % of width): focal length and distance \
                 stand for one another",
                100.0 * flatness
            ),
            "Add points nearer to and further from the camera, or give the lens.",
        );
    }
    let share = share_of_picture(&right, task);
    if share < SMALL_SHARE {
        add(
            WeakKind::OneCorner,
            format!(
                "the points take up {:.1} % of the picture; elsewhere the pose is carried on",
                100.0 * share
            ),
            "Mark points towards all the edges of the object.",
        );
    }
    match uncertainty {
        None => add(
            WeakKind::Undetermined,
            "the points do not fix all the numbers that are found: some stand for one another"
                .to_owned(),
            "Find fewer numbers (--solve), give the lens, or add points in depth.",
        ),
        Some(known) => {
            by_uncertainty(known, solved.refined.lens.focal_px[0], &task.free, &mut add);
        }
    }
    if let Some(rival_m) = solved.rival_m {
        add(
            WeakKind::Ambiguous,
            format!(
                "another place, {:.0} mm away, fits nearly as well",
                1000.0 * rival_m
            ),
            "Add points in depth, off the plane of the others.",
        );
    }
    found.extend(doubt(pairs, solved, task));
    found
}

fn by_uncertainty(
    known: &Uncertainty,
    focal: f64,
    free: &Free,
    add: &mut impl FnMut(WeakKind, String, &str),
) {
    if let Some(deviation) = known.focal_px
        && deviation > FOCAL * focal
    {
        add(
            WeakKind::FocalUncertain,
            format!(
                "the focal length is known to {:.1} % only (one standard deviation)",
                100.0 * deviation / focal
            ),
            "Add points in depth, or give the lens.",
        );
    }
    if known.worst_in_picture_px > CARRIED * known.marked_px {
        let advice = if free.distortion() {
            "Mark points towards the corners of the picture, or find fewer numbers (--solve)."
        } else {
            "Mark points towards the corners of the picture."
        };
        add(
            WeakKind::Extrapolated,
            format!(
                "somewhere in the picture the pose is known to {:.1} px only, at the points to \
                 {:.1} px (one standard deviation)",
                known.worst_in_picture_px, known.worst_at_points_px
            ),
            advice,
        );
    }
}

/// Third to first axis of the spread of points.
fn flatness(pairs: &[&Pair]) -> f64 {
    let n = pairs.len() as f64;
    let mean: Vector3<f64> = pairs
        .iter()
        .map(|p| Vector3::from(p.surface_m))
        .sum::<Vector3<f64>>()
        / n;
    let spread: Matrix3<f64> = pairs
        .iter()
        .map(|p| Vector3::from(p.surface_m) - mean)
        .map(|v| v * v.transpose())
        .sum();
    let axes = spread.symmetric_eigenvalues();
    (axes.min().max(0.0) / axes.max()).sqrt()
}

/// Area of the convex hull of the points by that of the picture.
fn share_of_picture(pairs: &[&Pair], task: &Task) -> f64 {
    let [w, h] = match task.start {
        Start::Lens(lens) => [lens.width_px, lens.height_px],
        Start::Size {
            width_px,
            height_px,
        } => [width_px, height_px],
    };
    let mut points: Vec<Point> = pairs.iter().map(|p| p.pixel).collect();
    hull_area(&mut points) / (w as f64 * h as f64)
}

/// A. M. Andrew, "Another efficient algorithm for convex hulls in two dimensions", IPL 9(5), 1979.
fn hull_area(points: &mut [Point]) -> f64 {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let turn = |a: Point, b: Point, c: Point| {
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let chain = |points: &mut dyn Iterator<Item = Point>| {
        let mut chain: Vec<Point> = Vec::new();
        for p in points {
            while chain.len() > 1 && turn(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain
    };
    let mut hull = chain(&mut points.iter().copied());
    hull.pop();
    let mut upper = chain(&mut points.iter().rev().copied());
    upper.pop();
    hull.append(&mut upper);
    let next = |i: usize| hull[(i + 1) % hull.len()];
    let doubled: f64 = (0..hull.len())
        .map(|i| hull[i][0] * next(i)[1] - next(i)[0] * hull[i][1])
        .sum();
    doubled.abs() / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hull_of_a_square_with_points_inside_has_its_area() {
        let mut points = vec![
            [0.0, 0.0],
            [2.0, 0.0],
            [1.0, 1.0],
            [2.0, 3.0],
            [0.0, 3.0],
            [1.0, 0.0],
        ];
        assert!((hull_area(&mut points) - 6.0).abs() < 1e-12);
        assert_eq!(hull_area(&mut [[1.0, 1.0], [2.0, 2.0]]), 0.0);
    }
}
