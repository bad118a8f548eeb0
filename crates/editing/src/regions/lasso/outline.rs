//! The line of the lasso.

use glam::DVec2;

/// Most strips that the heights are divided into.
const MOST_STRIPS: f64 = 4096.0;

/// A polygon, its sides sorted into strips of equal height.
pub(crate) struct Line {
    min: DVec2,
    max: DVec2,
    strip_px: f64,
    strips: Vec<Vec<[DVec2; 2]>>,
}

impl Line {
    /// `None` without three corners, all of them finite.
    pub(crate) fn new(polygon: &[[f64; 2]]) -> Option<Self> {
        let corners: Vec<DVec2> = polygon.iter().map(|c| DVec2::from_array(*c)).collect();
        if corners.len() < 3 || !corners.iter().all(|c| c.is_finite()) {
            return None;
        }
        let (min, max) = corners
            .iter()
            .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(min, max), c| {
                (min.min(*c), max.max(*c))
            });
        let count = (max.y - min.y).ceil().clamp(1.0, MOST_STRIPS);
        let mut line = Self {
            min,
            max,
            strip_px: (max.y - min.y) / count,
            strips: vec![Vec::new(); count as usize],
        };
        for k in 0..corners.len() {
            let side = [corners[k], corners[(k + 1) % corners.len()]];
            let [from, to] = [side[0].y.min(side[1].y), side[0].y.max(side[1].y)];
            let range = line.strip(from)..=line.strip(to);
            line.strips[range].iter_mut().for_each(|s| s.push(side));
        }
        Some(line)
    }

    fn strip(&self, y: f64) -> usize {
        // Casts saturate, and not a number gives 0.
        (((y - self.min.y) / self.strip_px) as usize).min(self.strips.len() - 1)
    }

    pub(crate) fn bounds(&self) -> (DVec2, DVec2) {
        (self.min, self.max)
    }

    /// Whether a point lies within, by the number of sides to its right.
    pub(crate) fn holds(&self, point: DVec2) -> bool {
        if !self.may_hold(&[point]) {
            return false;
        }
        let sides = self.strips[self.strip(point.y)].iter();
        let crossed = sides.filter(|[a, b]| {
            (a.y > point.y) != (b.y > point.y)
                && point.x < a.x + (b.x - a.x) * (point.y - a.y) / (b.y - a.y)
        });
        crossed.count() % 2 == 1
    }

    /// False if the box around the points lies wholly outside.
    pub(crate) fn may_hold(&self, points: &[DVec2]) -> bool {
        let box_of = |of: fn(DVec2, DVec2) -> DVec2| points.iter().copied().reduce(of);
        let (Some(low), Some(high)) = (box_of(DVec2::min), box_of(DVec2::max)) else {
            return false;
        };
        low.cmple(self.max).all() && high.cmpge(self.min).all()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_star_is_filled_even_and_odd() {
        // A pentagram: its points are within, its middle is not.
        let corner = |k: u32| {
            let angle = f64::from(k * 2 % 5) * std::f64::consts::TAU / 5.0;
            [50.0 + 40.0 * angle.sin(), 50.0 - 40.0 * angle.cos()]
        };
        let line = Line::new(&[0, 1, 2, 3, 4].map(corner)).unwrap();
        for k in 0..5 {
            let angle = f64::from(k) * std::f64::consts::TAU / 5.0;
            let along = DVec2::new(angle.sin(), -angle.cos());
            assert!(line.holds(DVec2::splat(50.0) + along * 30.0));
            assert!(!line.holds(DVec2::splat(50.0) + along * 10.0));
            assert!(!line.holds(DVec2::splat(50.0) - along * 30.0));
        }
        assert!(Line::new(&[[0.0, 0.0], [1.0, 1.0]]).is_none());
        assert!(Line::new(&[[0.0, f64::NAN]; 3]).is_none());
        let flat = Line::new(&[[0.0, 1.0], [4.0, 1.0], [9.0, 1.0]]).unwrap();
        assert!(!flat.holds(DVec2::new(2.0, 1.0)));
    }
}
