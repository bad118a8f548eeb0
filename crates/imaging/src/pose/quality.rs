//! How well a solved pose is known: residuals, points left out in turn, and how marking errors carry
//! over to place, lens and picture.

use nalgebra::{DMatrix, Matrix3, Vector3};
use serde::{Deserialize, Serialize};

use super::Pose;
use super::free::Free;
use super::pairs::Pair;
use super::refine::{Refined, refine, slopes};
use super::solve::{Solved, Task};
use crate::geometry::Point;
use crate::lens::Lens;

/// One pair after the fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PairResult {
    /// The pair's name.
    pub name: String,
    /// Seen minus foretold, in pixels; `None` where the fit puts the point behind the camera.
    pub off_px: Option<Point>,
    /// Distance of the surface point from the line of sight, in millimetres.
    pub off_mm: Option<f64>,
    /// Distance in the picture when the pair is left out of the fit, in pixels.
    pub left_out_px: Option<f64>,
    /// Whether it was left out as wrong.
    pub wrong: bool,
}

impl PairResult {
    /// The distance in pixels.
    pub fn distance_px(&self) -> Option<f64> {
        self.off_px.map(|[x, y]| x.hypot(y))
    }
}

/// Standard deviations that follow from the residuals and the arrangement of the points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Uncertainty {
    /// Of a marked point along x or y, in pixels: from the residuals, or as given where that is more.
    pub marked_px: f64,
    /// Of the camera's place along the axes of the surface, in millimetres.
    pub place_mm: [f64; 3],
    /// Of the camera's direction about x, y and z of the camera, in degrees.
    pub turn_deg: [f64; 3],
    /// Of the focal length, where it was found, in pixels.
    pub focal_px: Option<f64>,
    /// The largest anywhere in the picture at the depth of the points, in pixels.
    pub worst_in_picture_px: f64,
    /// The largest at the points themselves, in pixels.
    pub worst_at_points_px: f64,
    /// Names of the numbers found, in the order of `covariance`.
    pub numbers: Vec<String>,
    /// Covariance of the numbers found, row by row, in their units.
    pub covariance: Vec<Vec<f64>>,
}

/// The results for all pairs, in their order.
pub(super) fn pair_results(pairs: &[Pair], solved: &Solved, free: &Free) -> Vec<PairResult> {
    let Refined { lens, pose, .. } = &solved.refined;
    pairs
        .iter()
        .enumerate()
        .map(|(i, pair)| {
            let wrong = solved.wrong.contains(&i);
            let there = lens.project(pose.camera_of(pair.surface_m));
            PairResult {
                name: pair.name.clone(),
                off_px: there.map(|[x, y]| [pair.pixel[0] - x, pair.pixel[1] - y]),
                off_mm: off_mm(lens, pose, pair),
                left_out_px: if wrong {
                    // It was not in the fit.
                    there.map(|t| crate::geometry::distance(t, pair.pixel))
                } else {
                    left_out_px(pairs, solved, free, i)
                },
                wrong,
            }
        })
        .collect()
}

/// The distance of the surface point from the line of sight through the pixel.
fn off_mm(lens: &Lens, pose: &Pose, pair: &Pair) -> Option<f64> {
    let [x, y] = lens.normalised_of(pair.pixel)?;
    let sight = Vector3::new(x, y, 1.0).normalize();
    let camera = Vector3::from(pose.camera_of(pair.surface_m));
    (camera.z > 0.0).then(|| 1000.0 * camera.cross(&sight).norm())
}

fn left_out_px(pairs: &[Pair], solved: &Solved, free: &Free, out: usize) -> Option<f64> {
    let others = solved.right.iter().filter(|&&i| i != out);
    let others: Vec<&Pair> = others.map(|&i| &pairs[i]).collect();
    if 2 * others.len() < free.count() {
        return None;
    }
    let start = &solved.refined;
    let again = refine(&start.lens, &start.pose, free, &others)?;
    let there = again
        .lens
        .project(again.pose.camera_of(pairs[out].surface_m))?;
    Some(crate::geometry::distance(there, pairs[out].pixel))
}

/// Root mean square over what is there; `None` for nothing.
pub(super) fn rms(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (n, sum) = values.fold((0, 0.0), |(n, sum), v| (n + 1, sum + v * v));
    (n > 0).then(|| (sum / f64::from(n)).sqrt())
}

/// `None` where the numbers found hang together so that they have no single optimum.
pub(super) fn uncertainty(pairs: &[Pair], solved: &Solved, task: &Task) -> Option<Uncertainty> {
    let refined = &solved.refined;
    let free = &task.free;
    let spare = (2 * solved.right.len()).checked_sub(free.count())?;
    let variance = if spare > 0 {
        refined.cost / spare as f64
    } else {
        0.0
    };
    // Few points can fit by chance better than they were marked.
    let few = spare < 10;
    let marked_px = if few {
        variance.sqrt().max(task.marked_px)
    } else {
        variance.sqrt()
    };
    let covariance = inverse_of(&refined.normal)? * (marked_px * marked_px);
    let deviation = |k: usize| covariance[(k, k)].max(0.0).sqrt();
    let focal = free.focal.then(|| deviation(super::free::POSE_NUMBERS));
    let at = |surface_m: [f64; 3]| {
        let j = slopes(&refined.lens, &refined.pose, free, surface_m)?;
        let c = &j * &covariance * j.transpose();
        Some((c[(0, 0)] + c[(1, 1)]).max(0.0).sqrt())
    };
    let worst =
        |points: &mut dyn Iterator<Item = [f64; 3]>| points.filter_map(at).fold(0.0, f64::max);
    let right = || solved.right.iter().map(|&i| &pairs[i]);
    Some(Uncertainty {
        marked_px,
        place_mm: place_mm(&refined.pose, &covariance),
        turn_deg: [0, 1, 2].map(|k| deviation(k).to_degrees()),
        focal_px: focal,
        worst_in_picture_px: worst(&mut grid(refined, right()).into_iter()),
        worst_at_points_px: worst(&mut right().map(|p| p.surface_m)),
        numbers: free.names().into_iter().map(str::to_owned).collect(),
        covariance: covariance
            .row_iter()
            .map(|row| row.iter().copied().collect())
            .collect(),
    })
}

/// The inverse of a symmetric matrix whose numbers have different units.
pub(super) fn inverse_of(normal: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let n = normal.nrows();
    let scale: Vec<f64> = (0..n).map(|i| normal[(i, i)].sqrt()).collect();
    if scale.iter().any(|&s| s.is_nan() || s <= 0.0) {
        return None;
    }
    let scaled = DMatrix::from_fn(n, n, |i, j| normal[(i, j)] / (scale[i] * scale[j]));
    // Below 1e-13 the smallest axis is rounding.
    let smallest = scaled.clone().symmetric_eigenvalues().min();
    if smallest < 1e-13 {
        return None;
    }
    let inverse = scaled.cholesky()?.inverse();
    Some(DMatrix::from_fn(n, n, |i, j| {
        inverse[(i, j)] / (scale[i] * scale[j])
    }))
}

/// The camera stands at c = -Rᵀ t. With R' = exp(w) R and t' = t + d a small turn w and shift d move
/// it by Rᵀ (w × t) - Rᵀ d.
fn place_mm(pose: &Pose, covariance: &DMatrix<f64>) -> [f64; 3] {
    let back = pose.rotation().matrix().transpose();
    let by_turn: Matrix3<f64> = -(back * Vector3::from(pose.translation_m).cross_matrix());
    let mut j = DMatrix::zeros(3, covariance.nrows());
    j.view_mut((0, 0), (3, 3)).copy_from(&by_turn);
    j.view_mut((0, 3), (3, 3)).copy_from(&-back);
    let c = &j * covariance * j.transpose();
    [0, 1, 2].map(|k| 1000.0 * c[(k, k)].max(0.0).sqrt())
}

/// Points of the surface's side of the picture: a grid of five by five pixels at the mean depth of
/// the points.
fn grid<'a>(refined: &Refined, pairs: impl Iterator<Item = &'a Pair>) -> Vec<[f64; 3]> {
    let depths: Vec<f64> = pairs
        .map(|p| refined.pose.camera_of(p.surface_m)[2])
        .collect();
    let depth = depths.iter().sum::<f64>() / depths.len().max(1) as f64;
    let centre = refined.pose.centre_m();
    let lens = &refined.lens;
    let pixel = |i: usize| {
        let share = |k: usize, px: usize| k as f64 / 4.0 * px as f64;
        [share(i % 5, lens.width_px), share(i / 5, lens.height_px)]
    };
    (0..25)
        .filter_map(|i| lens.normalised_of(pixel(i)))
        .map(|seen| {
            let ray = refined.pose.ray(seen);
            [0, 1, 2].map(|k| centre[k] + depth * ray[k])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;

    #[test]
    fn the_place_moves_as_its_derivatives_say() {
        let pose = Pose::new(
            &Rotation3::from_euler_angles(0.5, -0.3, 1.2),
            Vector3::new(0.1, -0.2, 1.4),
        );
        for k in 0..6 {
            let mut covariance = DMatrix::zeros(6, 6);
            covariance[(k, k)] = 1.0;
            let step = 1e-6;
            let mut by = [0.0; 6];
            by[k] = step;
            let turn = Rotation3::new(Vector3::new(by[0], by[1], by[2]));
            let moved = Pose::new(
                &(turn * pose.rotation()),
                Vector3::from(pose.translation_m) + Vector3::new(by[3], by[4], by[5]),
            );
            let (a, b) = (moved.centre_m(), pose.centre_m());
            for (axis, mm) in place_mm(&pose, &covariance).into_iter().enumerate() {
                let slope = (a[axis] - b[axis]).abs() / step * 1000.0;
                assert!((slope - mm).abs() < 2e-3, "{k} {axis}: {slope} {mm}");
            }
        }
    }
}
