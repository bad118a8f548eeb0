//! All that is within a radius of a segment.

use glam::{DVec2, DVec3};

/// Squared sine of a triangle's corner below which its plane is lost in
/// rounding: a millionth of a radian, a choice of ours.
const THIN: f64 = 1e-12;

#[derive(Debug, Clone, Copy)]
pub(crate) struct Capsule {
    from: DVec3,
    along: DVec3,
    radius: f64,
}

impl Capsule {
    pub(crate) fn new([from, to]: [DVec3; 2], radius: f64) -> Self {
        Self {
            from,
            along: to - from,
            radius,
        }
    }

    /// Whether a point lies in it.
    pub(crate) fn holds(&self, point: DVec3) -> bool {
        let length = self.along.length_squared();
        let t = share(self.along.dot(point - self.from), length);
        point.distance_squared(self.from + self.along * t) <= self.radius * self.radius
    }

    /// Whether a segment reaches into it: the distance of two segments
    /// (Ericson, "Real-Time Collision Detection", 2005, section 5.1.9).
    pub(crate) fn meets(&self, [start, end]: [DVec3; 2]) -> bool {
        let (d1, d2) = (self.along, end - start);
        let r = self.from - start;
        let (a, e) = (d1.length_squared(), d2.length_squared());
        let (b, c, f) = (d1.dot(d2), d1.dot(r), d2.dot(r));
        let parallel = a * e - b * b;
        let s = share(b * f - c * e, parallel);
        // The point of the other segment nearest to that, and then back again.
        let t = share(b * s + f, e);
        let s = share(b * t - c, a);
        let apart = (self.from + d1 * s) - (start + d2 * t);
        apart.length_squared() <= self.radius * self.radius
    }

    /// Least and greatest coordinates on the map of what the capsule holds of a
    /// triangle, with corners in space and on the map; `None` if it holds nothing.
    ///
    /// On the triangle's plane a step of length r moves the place on the map by
    /// no more than r times the length of that coordinate's gradient.
    pub(crate) fn window(&self, corners: [DVec3; 3], map: [DVec2; 3]) -> Option<(DVec2, DVec2)> {
        let least = map[0].min(map[1]).min(map[2]);
        let greatest = map[0].max(map[1]).max(map[2]);
        let (p, q) = (corners[1] - corners[0], corners[2] - corners[0]);
        let (pp, pq, qq) = (p.dot(p), p.dot(q), q.dot(q));
        let whole = pp * qq - pq * pq;
        if whole <= THIN * pp * qq {
            // Too thin for a gradient: all of it.
            return Some((least, greatest));
        }
        // Gradients of the weights of the second and third corner.
        let second = (p * qq - q * pq) / whole;
        let third = (q * pp - p * pq) / whole;
        let (u, v) = (map[1] - map[0], map[2] - map[0]);
        let steps = [second * u.x + third * v.x, second * u.y + third * v.y];
        let reach = DVec2::new(steps[0].length(), steps[1].length()) * self.radius;
        let ends = [self.from, self.from + self.along].map(|end| {
            let r = end - corners[0];
            map[0] + DVec2::new(steps[0].dot(r), steps[1].dot(r))
        });
        let low = (ends[0].min(ends[1]) - reach).max(least);
        let high = (ends[0].max(ends[1]) + reach).min(greatest);
        (low.cmple(high).all()).then_some((low, high))
    }
}

/// `part / whole` within 0 and 1; 0 of nothing.
fn share(part: f64, whole: f64) -> f64 {
    if whole > 0.0 {
        (part / whole).clamp(0.0, 1.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_segment_reaches_in_if_one_of_its_points_lies_in() {
        // Points of a lattice; 400 points a segment, so that a distance is
        // found to 3/800 of a unit. Cases nearer to the radius are left out.
        let point = |k: u64| {
            let at = |shift: u64| ((k * 2_654_435_761) >> shift & 7) as f64 * 0.5;
            DVec3::new(at(3), at(9), at(15))
        };
        let (mut inside, mut outside) = (0, 0);
        for k in 0..600 {
            let capsule = Capsule::new([point(4 * k), point(4 * k + 1)], 1.03);
            let ends = [point(4 * k + 2), point(4 * k + 3)];
            let wider = Capsule {
                radius: 1.04,
                ..capsule
            };
            let any = |c: &Capsule| {
                (0..=400).any(|t| c.holds(ends[0].lerp(ends[1], f64::from(t) / 400.0)))
            };
            match (any(&capsule), any(&wider)) {
                (true, _) => {
                    assert!(capsule.meets(ends), "{k}");
                    inside += 1;
                }
                (_, false) => {
                    assert!(!capsule.meets(ends), "{k}");
                    outside += 1;
                }
                _ => {}
            }
        }
        assert!(inside > 50 && outside > 50, "{inside} {outside}");
    }
}
