//! The pose (and what else is free) with the least squared distances in the picture, by
//! Levenberg-Marquardt with the derivatives of the model.

use nalgebra::{DMatrix, DVector, Matrix2x3, Matrix3, Rotation3, UnitQuaternion, Vector2, Vector3};

use super::Pose;
use super::free::{Free, POSE_NUMBERS};
use super::pairs::Pair;
use crate::lens::{Lens, Projector};

/// Steps at most; from a start of a minimal solver ten are usual.
const STEPS: usize = 100;

/// Steps and gains below this share end the search: rounding.
const LEAST_STEP: f64 = 1e-13;

/// Where the search ended.
#[derive(Debug, Clone)]
pub struct Refined {
    /// The lens, with what was free changed.
    pub lens: Lens,
    /// The pose.
    pub pose: Pose,
    /// Seen minus foretold, in pixels, a pair each.
    pub residuals_px: Vec<[f64; 2]>,
    /// JᵀJ at the end, in the order of [`Free::names`].
    pub normal: DMatrix<f64>,
    /// Sum of the squared residuals.
    pub cost: f64,
}

impl Refined {
    /// Root mean square of the distances, in pixels.
    pub fn rms_px(&self) -> f64 {
        (self.cost / self.residuals_px.len() as f64).sqrt()
    }
}

/// Lowers the distances of all `pairs` from the start given. `None` where a point of the start is
/// not before the camera.
pub fn refine(lens: &Lens, pose: &Pose, free: &Free, pairs: &[&Pair]) -> Option<Refined> {
    let mut at = State {
        lens: *lens,
        pose: *pose,
    };
    let (mut residuals, mut cost) = at.residuals(pairs)?;
    let mut damping = 1e-4;
    for _ in 0..STEPS {
        let (normal, gradient) = at.normal_equations(free, pairs, &residuals);
        let mut done = true;
        for _ in 0..12 {
            let mut damped = normal.clone();
            for i in 0..damped.nrows() {
                damped[(i, i)] += damping * normal[(i, i)].max(1e-12);
            }
            let Some(step) = damped.cholesky().map(|c| c.solve(&gradient)) else {
                damping *= 10.0;
                continue;
            };
            // What the step would gain if the model were straight, as a share.
            let promised = step.dot(&gradient) / cost.max(f64::MIN_POSITIVE);
            let trial = at.moved(free, &step);
            if let Some((there, cost_there)) = trial.residuals(pairs)
                && cost_there < cost
            {
                done = promised < LEAST_STEP;
                (at, residuals, cost) = (trial, there, cost_there);
                damping = (damping * 0.1).max(1e-15);
                break;
            }
            if promised < LEAST_STEP {
                break;
            }
            damping *= 10.0;
        }
        if done {
            break;
        }
    }
    let (normal, _) = at.normal_equations(free, pairs, &residuals);
    Some(Refined {
        lens: at.lens,
        pose: at.pose,
        residuals_px: residuals.iter().map(|r| [r.x, r.y]).collect(),
        normal,
        cost,
    })
}

/// Derivatives of the pixel of one surface point by the numbers that are free: two rows.
pub(super) fn slopes(
    lens: &Lens,
    pose: &Pose,
    free: &Free,
    surface_m: [f64; 3],
) -> Option<DMatrix<f64>> {
    let camera = pose.camera_of(surface_m);
    (camera[2] > 0.0).then(|| jacobian(lens, pose, free, camera))
}

fn jacobian(lens: &Lens, pose: &Pose, free: &Free, camera: [f64; 3]) -> DMatrix<f64> {
    let mut out = DMatrix::zeros(2, free.count());
    let [fx, fy] = lens.focal_px;
    let z = camera[2];
    let (x, y) = (camera[0] / z, camera[1] / z);
    let [[a, b], [c, d]] = lens.distortion.jacobian([x, y]);
    let rows = [[fx * a, fx * b], [fy * c, fy * d]];
    let by_point = Matrix2x3::from_fn(|r, k| match k {
        0 | 1 => rows[r][k] / z,
        _ => -(rows[r][0] * x + rows[r][1] * y) / z,
    });
    // A small turn w moves the turned point v by w × v.
    let v = Vector3::from(camera) - Vector3::from(pose.translation_m);
    out.view_mut((0, 0), (2, 3))
        .copy_from(&(by_point * -v.cross_matrix()));
    out.view_mut((0, 3), (2, 3)).copy_from(&by_point);
    let mut column = POSE_NUMBERS;
    let mut put = |values: [f64; 2]| {
        out[(0, column)] = values[0];
        out[(1, column)] = values[1];
        column += 1;
    };
    if free.focal {
        let [dx, dy] = lens.distortion.apply([x, y]);
        put([dx, dy * fy / fx]);
    }
    if free.centre {
        put([1.0, 0.0]);
        put([0.0, 1.0]);
    }
    let r2 = x * x + y * y;
    let l = &lens.distortion;
    let below = 1.0 + r2 * (l.k4 + r2 * (l.k5 + r2 * l.k6));
    for (is_free, power) in [(free.k1, 1), (free.k2, 2), (free.k3, 3)] {
        if is_free {
            let by = r2.powi(power) / below;
            put([fx * x * by, fy * y * by]);
        }
    }
    if free.p {
        put([fx * 2.0 * x * y, fy * (r2 + 2.0 * y * y)]);
        put([fx * (r2 + 2.0 * x * x), fy * 2.0 * x * y]);
    }
    out
}

struct State {
    lens: Lens,
    pose: Pose,
}

impl State {
    fn residuals(&self, pairs: &[&Pair]) -> Option<(Vec<Vector2<f64>>, f64)> {
        let projector = Projector::new(self.lens);
        let mut cost = 0.0;
        let mut residuals = Vec::with_capacity(pairs.len());
        for pair in pairs {
            let there = projector.project(self.pose.camera_of(pair.surface_m))?;
            let off = Vector2::from(pair.pixel) - Vector2::from(there);
            cost += off.norm_squared();
            residuals.push(off);
        }
        cost.is_finite().then_some((residuals, cost))
    }

    fn normal_equations(
        &self,
        free: &Free,
        pairs: &[&Pair],
        residuals: &[Vector2<f64>],
    ) -> (DMatrix<f64>, DVector<f64>) {
        let n = free.count();
        let mut normal = DMatrix::zeros(n, n);
        let mut gradient = DVector::zeros(n);
        for (pair, off) in pairs.iter().zip(residuals) {
            let camera = self.pose.camera_of(pair.surface_m);
            let j = jacobian(&self.lens, &self.pose, free, camera);
            normal += j.transpose() * &j;
            gradient += j.transpose() * off;
        }
        (normal, gradient)
    }

    fn moved(&self, free: &Free, step: &DVector<f64>) -> Self {
        let turn = Rotation3::new(Vector3::new(step[0], step[1], step[2]));
        let shift = Vector3::new(step[3], step[4], step[5]);
        // By way of a quaternion, which keeps rounding from growing into scale.
        let turned = UnitQuaternion::from_rotation_matrix(&(turn * self.pose.rotation()));
        let pose = Pose::new(
            &turned.to_rotation_matrix(),
            Vector3::from(self.pose.translation_m) + shift,
        );
        let mut lens = self.lens;
        let mut rest = step.iter().skip(POSE_NUMBERS).copied();
        let mut next = |is_free: bool| {
            if is_free {
                rest.next().unwrap_or(0.0)
            } else {
                0.0
            }
        };
        let more = next(free.focal);
        // A focal length stays one; a step through zero is cut.
        let by = (1.0 + more / lens.focal_px[0]).clamp(0.5, 2.0);
        lens.focal_px = lens.focal_px.map(|f| f * by);
        lens.centre_px[0] += next(free.centre);
        lens.centre_px[1] += next(free.centre);
        lens.distortion.k1 += next(free.k1);
        lens.distortion.k2 += next(free.k2);
        lens.distortion.k3 += next(free.k3);
        lens.distortion.p1 += next(free.p);
        lens.distortion.p2 += next(free.p);
        Self { lens, pose }
    }
}

/// The turn of a matrix as an axis times an angle, in radians.
pub fn turn_of(pose: &Pose) -> [f64; 3] {
    let m: Matrix3<f64> = *pose.rotation().matrix();
    Rotation3::from_matrix_unchecked(m).scaled_axis().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lens::Distortion;

    #[test]
    fn derivatives_are_the_slopes_of_the_projection() {
        let lens = Lens {
            focal_px: [4100.0, 4103.5],
            distortion: Distortion {
                k1: -0.12,
                k2: 0.095,
                k3: -0.03,
                p1: 0.0006,
                p2: -0.0011,
                k4: 0.02,
                ..Distortion::default()
            },
            ..Lens::simple(6000, 4000, 1.0)
        };
        let pose = Pose::new(
            &Rotation3::from_euler_angles(0.3, -0.2, 1.0),
            Vector3::new(0.02, -0.03, 1.1),
        );
        let free: Free = "focal,centre,k1,k2,k3,p".parse().unwrap();
        let at = State { lens, pose };
        for point in [[0.2, -0.1, 0.05], [-0.15, 0.2, -0.08]] {
            let slopes = slopes(&lens, &pose, &free, point).unwrap();
            for (k, name) in free.names().into_iter().enumerate() {
                let step = if name.ends_with("px") { 1e-3 } else { 1e-6 };
                let pixel = |by: f64| {
                    let mut change = DVector::zeros(free.count());
                    change[k] = by;
                    let moved = at.moved(&free, &change);
                    let camera = moved.pose.camera_of(point);
                    Vector2::from(moved.lens.project(camera).unwrap())
                };
                let slope = (pixel(step) - pixel(-step)) / (2.0 * step);
                let off = (slope - slopes.column(k)).norm();
                assert!(off < 1e-6 * slope.norm().max(1.0), "{name}: {off}");
            }
        }
    }
}
