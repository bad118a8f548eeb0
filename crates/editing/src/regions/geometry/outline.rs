//! A triangle on an image, in texels: which rows and columns it touches, and
//! its point nearest to a texel's centre.

use glam::DVec2;

/// A triangle in texels: x to the right, y downwards, whole numbers at the
/// borders between texels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Outline {
    corners: [DVec2; 3],
    size: [u32; 2],
}

/// A stretch of texels in one row, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Span {
    pub(crate) row: u32,
    pub(crate) first: u32,
    pub(crate) last: u32,
}

/// Slack against the rounding of UVs in single precision, in texels: 2⁻²³ of
/// an image 8192 texels wide.
const SLACK: f64 = 1e-3;

impl Outline {
    /// `None` for corners that are not finite, or an image without texels.
    pub(crate) fn new(uvs: [glam::Vec2; 3], size: [u32; 2]) -> Option<Self> {
        let scale = DVec2::new(f64::from(size[0]), f64::from(size[1]));
        let finite = uvs.iter().all(|uv| uv.is_finite());
        (finite && size[0] > 0 && size[1] > 0).then(|| Self {
            corners: uvs.map(|uv| uv.as_dvec2() * scale),
            size,
        })
    }

    pub(crate) fn corners(&self) -> [DVec2; 3] {
        self.corners
    }

    /// Twice the signed area.
    pub(crate) fn cross(&self) -> f64 {
        let [a, b, c] = self.corners;
        (b - a).perp_dot(c - a)
    }

    /// Least and greatest coordinates.
    pub(crate) fn bounds(&self) -> (DVec2, DVec2) {
        let [a, b, c] = self.corners;
        (a.min(b).min(c), a.max(b).max(c))
    }

    /// Texels of which the inner of the triangle holds a part. What lies off
    /// the image belongs to the texels at its edge, as labels are looked up.
    /// `window` bounds what is wanted.
    pub(crate) fn touched(&self, window: (DVec2, DVec2), visit: &mut impl FnMut(Span)) {
        self.rows(window, 0.0, visit);
    }

    /// Texels that the triangle touches, be it at a border only.
    pub(crate) fn touched_or_met(&self, visit: &mut impl FnMut(Span)) {
        self.rows(self.bounds(), SLACK, visit);
    }

    fn rows(&self, window: (DVec2, DVec2), slack: f64, visit: &mut impl FnMut(Span)) {
        let (min, max) = self.bounds();
        let (low, high) = (min.y.max(window.0.y) - slack, max.y.min(window.1.y) + slack);
        if low > high {
            return;
        }
        let Some((first, last)) = inner(low, high, self.size[1]) else {
            return;
        };
        for row in first..=last {
            // Beyond the first and the last row the image goes on for ever.
            let top = match row {
                0 => f64::NEG_INFINITY,
                _ => f64::from(row) - slack,
            };
            let bottom = match row + 1 == self.size[1] {
                true => f64::INFINITY,
                false => f64::from(row + 1) + slack,
            };
            let Some((left, right)) = self.between(top, bottom) else {
                continue;
            };
            let (left, right) = (left.max(window.0.x), right.min(window.1.x));
            if left > right {
                continue;
            }
            if let Some((first, last)) = inner(left - slack, right + slack, self.size[0]) {
                visit(Span { row, first, last });
            }
        }
    }

    /// Least and greatest x of the part between two heights.
    fn between(&self, top: f64, bottom: f64) -> Option<(f64, f64)> {
        let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
        for k in 0..3 {
            let (a, b) = (self.corners[k], self.corners[(k + 1) % 3]);
            let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
            if b.y < top || a.y > bottom {
                continue;
            }
            let slope = if b.y > a.y {
                (b.x - a.x) / (b.y - a.y)
            } else {
                0.0
            };
            let at = |y: f64| (a.x + (y - a.y) * slope).clamp(a.x.min(b.x), a.x.max(b.x));
            let upper = if a.y >= top { a.x } else { at(top) };
            let lower = if b.y <= bottom { b.x } else { at(bottom) };
            left = left.min(upper).min(lower);
            right = right.max(upper).max(lower);
        }
        (left <= right).then_some((left, right))
    }

    /// Weights of the corners at the triangle's point nearest to a texel's
    /// centre, and the squared distance to it: 0 within. The triangle has an area.
    pub(crate) fn nearest(&self, x: u32, y: u32) -> ([f64; 3], f64) {
        let place = DVec2::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        let [a, b, c] = self.corners;
        let whole = self.cross();
        let weights = [
            (b - place).perp_dot(c - place) / whole,
            (c - place).perp_dot(a - place) / whole,
            (a - place).perp_dot(b - place) / whole,
        ];
        // Slack for rounding: a centre on a shared edge is within at least one side.
        if weights.iter().all(|w| *w >= -1e-9) {
            return (weights, 0.0);
        }
        let mut best = ([1.0, 0.0, 0.0], f64::INFINITY);
        for k in 0..3 {
            let (from, along) = (self.corners[k], self.corners[(k + 1) % 3] - self.corners[k]);
            let length = along.length_squared();
            let t = if length > 0.0 {
                ((place - from).dot(along) / length).clamp(0.0, 1.0)
            } else {
                0.0
            };
            let squared = place.distance_squared(from + along * t);
            if squared < best.1 {
                best = ([0.0; 3], squared);
                best.0[k] = 1.0 - t;
                best.0[(k + 1) % 3] = t;
            }
        }
        best
    }
}

/// Cells of a row of `count` whose inner the stretch from `low` to `high`
/// reaches; a stretch off the row reaches the cell at its end.
fn inner(low: f64, high: f64, count: u32) -> Option<(u32, u32)> {
    let last = count.checked_sub(1)?;
    // Casts saturate: below 0 gives 0.
    let from = (low.floor() as u32).min(last);
    let to = ((high.ceil() - 1.0).max(low.floor()) as u32).min(last);
    Some((from, to))
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::Vec2;

    fn touched(uvs: [Vec2; 3], size: u32) -> Vec<(u32, u32)> {
        let outline = Outline::new(uvs, [size; 2]).unwrap();
        let mut found = Vec::new();
        outline.touched(outline.bounds(), &mut |span| {
            found.extend((span.first..=span.last).map(|x| (x, span.row)));
        });
        found
    }

    /// Area of the part of a triangle within a texel, by 200 × 200 points.
    fn share(uvs: [Vec2; 3], size: u32, x: u32, y: u32) -> usize {
        let [a, b, c] = uvs.map(|uv| uv.as_dvec2() * f64::from(size));
        let sides = [(a, b), (b, c), (c, a)];
        let step = |k: u32, n: u32| f64::from(n) + (f64::from(k) + 0.5) / 200.0;
        let inside = |p: DVec2| {
            let turns = sides.map(|(a, b)| (b - a).perp_dot(p - a));
            turns.iter().all(|t| *t >= 0.0) || turns.iter().all(|t| *t <= 0.0)
        };
        let points = (0..200).flat_map(|i| (0..200).map(move |j| (i, j)));
        points
            .filter(|(i, j)| inside(DVec2::new(step(*i, x), step(*j, y))))
            .count()
    }

    #[test]
    fn a_texel_is_touched_if_any_part_of_the_triangle_lies_in_it() {
        let shapes = [
            [(0.13, 0.21), (0.87, 0.35), (0.4, 0.93)],
            [(0.05, 0.5), (0.95, 0.52), (0.5, 0.54)],
            [(0.51, 0.05), (0.53, 0.95), (0.55, 0.2)],
            [(0.31, 0.31), (0.33, 0.32), (0.32, 0.34)],
            [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75)],
        ];
        for shape in shapes {
            let uvs = shape.map(|(u, v)| Vec2::new(u, v));
            let found = touched(uvs, 8);
            for (x, y) in (0..8).flat_map(|y| (0..8).map(move |x| (x, y))) {
                let (points, is) = (share(uvs, 8, x, y), found.contains(&(x, y)));
                assert!(points == 0 || is, "{uvs:?}: {x} {y} is missed");
                // A corner smaller than the grid of points may be touched and hold
                // none: the sliver is then narrower than 1/200 texel somewhere.
                if is && points == 0 {
                    let outline = Outline::new(uvs, [8; 2]).unwrap();
                    let (_, squared) = outline.nearest(x, y);
                    assert!(squared < 0.51, "{uvs:?}: {x} {y} is far off");
                }
            }
        }
    }

    #[test]
    fn a_triangle_at_the_borders_of_texels_touches_those_inside_only() {
        let uvs = [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75)].map(|(u, v)| Vec2::new(u, v));
        let found = touched(uvs, 4);
        assert_eq!(found, [(1, 1), (2, 1), (1, 2)]);
    }

    #[test]
    fn what_lies_off_the_image_belongs_to_its_edge() {
        let uvs = [(-3.0, 0.4), (-2.0, 0.4), (-2.5, 7.0)].map(|(u, v)| Vec2::new(u, v));
        assert_eq!(touched(uvs, 4), [(0, 1), (0, 2), (0, 3)]);
    }

    #[test]
    fn the_nearest_point_of_a_triangle_is_no_further_than_any_other() {
        let uvs = [(0.2, 0.1), (0.7, 0.4), (0.3, 0.8)].map(|(u, v)| Vec2::new(u, v));
        let outline = Outline::new(uvs, [10; 2]).unwrap();
        let corners = outline.corners();
        for (x, y) in (0..10).flat_map(|y| (0..10).map(move |x| (x, y))) {
            let (weights, squared) = outline.nearest(x, y);
            let place = DVec2::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
            let at = |w: [f64; 3]| corners[0] * w[0] + corners[1] * w[1] + corners[2] * w[2];
            assert!((at(weights).distance_squared(place) - squared).abs() < 1e-9);
            for (i, j) in (0..=50).flat_map(|i| (0..=50 - i).map(move |j| (i, j))) {
                let (v, w) = (f64::from(i) / 50.0, f64::from(j) / 50.0);
                let other = at([1.0 - v - w, v, w]).distance_squared(place);
                assert!(other >= squared - 1e-9);
            }
        }
    }
}
