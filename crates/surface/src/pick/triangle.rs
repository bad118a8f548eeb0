//! One triangle: where a ray meets it, and its point nearest to a place.

use glam::{DVec3, Vec3};

/// A ray prepared for the watertight test of Woop, Benthin and Wald,
/// "Watertight Ray/Triangle Intersection", Journal of Computer Graphics
/// Techniques 2(1), 2013: no ray slips between two triangles that share an edge.
#[derive(Debug)]
pub(crate) struct Ray {
    origin: DVec3,
    inverse: DVec3,
    axes: [usize; 3],
    shear: DVec3,
}

impl Ray {
    /// `direction` is a unit vector.
    pub(crate) fn new(origin: DVec3, direction: DVec3) -> Self {
        let z = direction.abs().max_position();
        let (mut x, mut y) = ((z + 1) % 3, (z + 2) % 3);
        if direction[z] < 0.0 {
            std::mem::swap(&mut x, &mut y);
        }
        let shear = DVec3::new(
            direction[x] / direction[z],
            direction[y] / direction[z],
            1.0 / direction[z],
        );
        Self {
            origin,
            inverse: direction.recip(),
            axes: [x, y, z],
            shear,
        }
    }

    /// Distance at which the ray enters a box (0 from within), or `None` if it misses.
    pub(crate) fn enters(&self, (min, max): (DVec3, DVec3)) -> Option<f64> {
        let (mut near, mut far) = (0.0_f64, f64::INFINITY);
        for axis in 0..3 {
            let a = (min[axis] - self.origin[axis]) * self.inverse[axis];
            let b = (max[axis] - self.origin[axis]) * self.inverse[axis];
            // `f64::max` and `min` pass over NaN (0 × ∞: the ray lies in the plane).
            near = near.max(a.min(b));
            far = far.min(a.max(b));
        }
        // Slack for the rounding of the two products.
        (near <= far * (1.0 + 1e-12)).then_some(near)
    }

    /// Distance and corner weights where the ray meets a triangle, from either side.
    pub(crate) fn meets(&self, corners: [Vec3; 3]) -> Option<(f64, [f64; 3])> {
        let [x, y, z] = self.axes;
        let p = corners.map(|c| {
            let c = c.as_dvec3() - self.origin;
            DVec3::new(
                c[x] - self.shear.x * c[z],
                c[y] - self.shear.y * c[z],
                self.shear.z * c[z],
            )
        });
        let edge = |a: DVec3, b: DVec3| a.x * b.y - a.y * b.x;
        let (u, v, w) = (edge(p[2], p[1]), edge(p[0], p[2]), edge(p[1], p[0]));
        if (u < 0.0 || v < 0.0 || w < 0.0) && (u > 0.0 || v > 0.0 || w > 0.0) {
            return None;
        }
        let sum = u + v + w;
        if sum == 0.0 {
            return None;
        }
        let distance = (u * p[0].z + v * p[1].z + w * p[2].z) / sum;
        (distance >= 0.0 && distance.is_finite()).then(|| (distance, [u / sum, v / sum, w / sum]))
    }
}

/// Squared distance and corner weights of the triangle's point nearest to `place`,
/// by Voronoi regions (Ericson, "Real-Time Collision Detection", 2005, section 5.1.5).
pub(crate) fn nearest(corners: [Vec3; 3], place: DVec3) -> (f64, [f64; 3]) {
    let [a, b, c] = corners.map(|v| v.as_dvec3());
    let weights = nearest_weights(a, b, c, place);
    let point = a * weights[0] + b * weights[1] + c * weights[2];
    (point.distance_squared(place), weights)
}

fn nearest_weights(a: DVec3, b: DVec3, c: DVec3, place: DVec3) -> [f64; 3] {
    let (ab, ac) = (b - a, c - a);
    let (d1, d2) = (ab.dot(place - a), ac.dot(place - a));
    if d1 <= 0.0 && d2 <= 0.0 {
        return [1.0, 0.0, 0.0];
    }
    let (d3, d4) = (ab.dot(place - b), ac.dot(place - b));
    if d3 >= 0.0 && d4 <= d3 {
        return [0.0, 1.0, 0.0];
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        let t = ratio(d1, d1 - d3);
        return [1.0 - t, t, 0.0];
    }
    let (d5, d6) = (ab.dot(place - c), ac.dot(place - c));
    if d6 >= 0.0 && d5 <= d6 {
        return [0.0, 0.0, 1.0];
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        let t = ratio(d2, d2 - d6);
        return [1.0 - t, 0.0, t];
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 - d3 >= 0.0 && d5 - d6 >= 0.0 {
        let t = ratio(d4 - d3, (d4 - d3) + (d5 - d6));
        return [0.0, 1.0 - t, t];
    }
    let sum = va + vb + vc;
    let (v, w) = (ratio(vb, sum), ratio(vc, sum));
    [1.0 - v - w, v, w]
}

fn ratio(part: f64, whole: f64) -> f64 {
    if whole == 0.0 { 0.0 } else { part / whole }
}
