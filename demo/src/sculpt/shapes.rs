//! Signed distances of simple bodies, in centimetres, negative inside.
//!
//! The formulas are the usual ones of constructive solid geometry by distance; those of the
//! ellipsoid and the flattened shapes are bounds, not exact distances.

use crate::maths::{cos, sin};
use glam::{Mat3, Vec2, Vec3};

/// A body that stretches from `a` to `b` with a radius at each end. The distance is that to
/// the segment less the radius at the nearest point: a close bound for slim cones.
pub(crate) fn taper(p: Vec3, a: Vec3, b: Vec3, radius_a: f32, radius_b: f32) -> (f32, f32) {
    let ab = b - a;
    let t = ((p - a).dot(ab) / ab.length_squared()).clamp(0.0, 1.0);
    (
        p.distance(a + ab * t) - (radius_a + (radius_b - radius_a) * t),
        t,
    )
}

/// An ellipsoid about the origin with half axes `r` (bound by I. Quilez's first-order estimate).
pub(crate) fn ellipsoid(p: Vec3, r: Vec3) -> f32 {
    let k0 = (p / r).length();
    let k1 = (p / (r * r)).length();
    if k1 < 1e-6 {
        -r.min_element()
    } else {
        k0 * (k0 - 1.0) / k1
    }
}

/// Distance of the meeting of two independent conditions (a plate cut by an outline), rounded.
pub(crate) fn meet(a: f32, b: f32, round: f32) -> f32 {
    let (a, b) = (a + round, b + round);
    Vec2::new(a.max(0.0), b.max(0.0)).length() + a.max(b).min(0.0) - round
}

/// Turns a vector by an angle (radians, towards +y from +x) in the plane.
pub(crate) fn turn(p: Vec2, angle: f32) -> Vec2 {
    let (s, c) = (sin(angle), cos(angle));
    Vec2::new(p.x * c - p.y * s, p.x * s + p.y * c)
}

/// A frame whose third axis is `normal` and whose first axis points along `heading` (radians
/// from +x in the xy plane) as nearly as it can. Columns are the axes.
pub(crate) fn frame(normal: Vec3, heading: f32) -> Mat3 {
    let n = normal.normalize();
    let want = Vec3::new(cos(heading), sin(heading), 0.0);
    let x = (want - n * n.dot(want)).normalize();
    Mat3::from_cols(x, n.cross(x), n)
}

/// A point of a cubic curve given by four control points.
pub(crate) fn bezier(c: &[Vec3; 4], t: f32) -> Vec3 {
    let s = 1.0 - t;
    c[0] * (s * s * s) + c[1] * (3.0 * s * s * t) + c[2] * (3.0 * s * t * t) + c[3] * (t * t * t)
}

/// A rope: points in space with a radius at each, and a sphere around it all for early exit.
#[derive(Debug, Clone)]
pub(crate) struct Rope {
    points: Vec<(Vec3, f32)>,
    centre: Vec3,
    reach: f32,
}

impl Rope {
    /// A rope through points with radii.
    pub(crate) fn new(points: Vec<(Vec3, f32)>) -> Self {
        let mut low = Vec3::splat(f32::MAX);
        let mut high = Vec3::splat(f32::MIN);
        for &(p, r) in &points {
            low = low.min(p - r);
            high = high.max(p + r);
        }
        let centre = (low + high) * 0.5;
        let reach = points
            .iter()
            .map(|&(p, r)| p.distance(centre) + r)
            .fold(0.0, f32::max);
        Self {
            points,
            centre,
            reach,
        }
    }

    /// A rope laid through way points (a Catmull-Rom curve), `steps` pieces between two.
    pub(crate) fn through(way: &[(Vec3, f32)], steps: usize) -> Self {
        let at = |i: isize| way[i.clamp(0, way.len() as isize - 1) as usize];
        let mut points = Vec::new();
        for i in 0..way.len() as isize - 1 {
            let (a, b, c, d) = (at(i - 1).0, at(i).0, at(i + 1).0, at(i + 2).0);
            let curve = [b, b + (c - a) / 6.0, c - (d - b) / 6.0, c];
            for j in 0..steps {
                let t = j as f32 / steps as f32;
                let s = t * t * (3.0 - 2.0 * t);
                points.push((bezier(&curve, t), at(i).1 + (at(i + 1).1 - at(i).1) * s));
            }
        }
        points.push(at(way.len() as isize - 1));
        Self::new(points)
    }

    /// Distance, place along (0..1), and nearest point on the axis; the distance alone is right
    /// beyond `near`, where the nearest point is not searched for.
    pub(crate) fn distance(&self, p: Vec3, near: f32) -> (f32, f32, Vec3) {
        let bound = p.distance(self.centre) - self.reach;
        if bound > near {
            return (bound.max(near), 0.0, self.centre);
        }
        let mut best = (f32::MAX, 0.0, self.centre);
        let n = self.points.len() - 1;
        for (i, w) in self.points.windows(2).enumerate() {
            let (d, t) = taper(p, w[0].0, w[1].0, w[0].1, w[1].1);
            if d < best.0 {
                best = (d, (i as f32 + t) / n as f32, w[0].0 + (w[1].0 - w[0].0) * t);
            }
        }
        best
    }

    /// A point on the axis at a place along it (0..1).
    pub(crate) fn point(&self, along: f32) -> Vec3 {
        let f = along.clamp(0.0, 1.0) * (self.points.len() - 1) as f32;
        let i = (f as usize).min(self.points.len() - 2);
        self.points[i].0.lerp(self.points[i + 1].0, f - i as f32)
    }
}
