//! The plane of the chart in the photograph: homographies.

use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// A point in an image or on a chart.
pub type Point = [f64; 2];

/// A perspective map between two planes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography {
    to_from: Matrix3<f64>,
}

impl Homography {
    /// The map that takes each point of `from` to the one of `to`, by linear least squares for four
    /// or more pairs (R. Hartley, A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed.,
    /// section 4.1, inhomogeneous solution). `None` for fewer pairs or points on one line.
    pub fn fit(from: &[Point], to: &[Point]) -> Option<Self> {
        if from.len() < 4 || from.len() != to.len() {
            return None;
        }
        let (from_scale, to_scale) = (Normaliser::of(from)?, Normaliser::of(to)?);
        let mut a = DMatrix::zeros(2 * from.len(), 8);
        let mut b = DVector::zeros(2 * from.len());
        for (i, (&p, &q)) in from.iter().zip(to).enumerate() {
            let ([x, y], [u, v]) = (from_scale.apply(p), to_scale.apply(q));
            let rows = [
                [x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y],
                [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y],
            ];
            for (k, (row, right)) in rows.into_iter().zip([u, v]).enumerate() {
                for (j, value) in row.into_iter().enumerate() {
                    a[(2 * i + k, j)] = value;
                }
                b[2 * i + k] = right;
            }
        }
        let svd = a.svd(true, true);
        // Points on one line leave the system without full rank.
        if svd.rank(1e-9) < 8 {
            return None;
        }
        let h = svd.solve(&b, 0.0).ok()?;
        let inner = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        let to_from = to_scale.matrix().try_inverse()? * inner * from_scale.matrix();
        Some(Self { to_from })
    }

    /// The map of a matrix, row by row; it acts on (x, y, 1) and is divided by the third.
    pub fn from_rows(rows: [[f64; 3]; 3]) -> Self {
        let to_from = Matrix3::from_fn(|r, c| rows[r][c]);
        Self { to_from }
    }

    /// The matrix row by row, with 1 in the last corner where that is not 0.
    pub fn rows(&self) -> [[f64; 3]; 3] {
        let last = self.to_from[(2, 2)];
        let by = if last == 0.0 { 1.0 } else { last };
        [0, 1, 2].map(|r| [0, 1, 2].map(|c| self.to_from[(r, c)] / by))
    }

    /// The map that leaves everything where it is.
    pub fn identity() -> Self {
        Self::from_rows([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    }

    /// First `first`, then this.
    pub fn after(&self, first: &Self) -> Self {
        Self {
            to_from: self.to_from * first.to_from,
        }
    }

    /// The same map where both planes are measured in a unit `factor` times as large.
    pub fn in_unit(&self, factor: f64) -> Self {
        let [a, b, c] = self.rows();
        Self::from_rows([
            [a[0], a[1], a[2] / factor],
            [b[0], b[1], b[2] / factor],
            [c[0] * factor, c[1] * factor, c[2]],
        ])
    }

    /// Where a point goes.
    pub fn apply(&self, p: Point) -> Point {
        let v = self.to_from * Vector3::new(p[0], p[1], 1.0);
        [v.x / v.z, v.y / v.z]
    }

    /// The map back.
    pub fn inverse(&self) -> Option<Self> {
        let to_from = self.to_from.try_inverse()?;
        Some(Self { to_from })
    }
}

/// Moves points to their centre and unit mean distance, which keeps the equations well conditioned.
struct Normaliser {
    centre: Point,
    scale: f64,
}

impl Normaliser {
    fn of(points: &[Point]) -> Option<Self> {
        let n = points.len() as f64;
        let centre = [0, 1].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / n);
        let mean = points.iter().map(|&p| distance(p, centre)).sum::<f64>() / n;
        let usable = mean.is_finite() && mean > 0.0;
        usable.then(|| Self {
            centre,
            scale: 1.0 / mean,
        })
    }

    fn apply(&self, p: Point) -> Point {
        [0, 1].map(|k| (p[k] - self.centre[k]) * self.scale)
    }

    fn matrix(&self) -> Matrix3<f64> {
        let (s, [x, y]) = (self.scale, self.centre);
        Matrix3::new(s, 0.0, -s * x, 0.0, s, -s * y, 0.0, 0.0, 1.0)
    }
}

/// The distance of two points.
pub fn distance(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_corners_are_met_exactly_and_the_way_back_returns() {
        let from = [[0.0, 0.0], [6.0, 0.0], [6.0, 4.0], [0.0, 4.0]];
        let to = [[100.0, 90.0], [710.0, 120.0], [690.0, 530.0], [80.0, 480.0]];
        let map = Homography::fit(&from, &to).unwrap();
        let back = map.inverse().unwrap();
        for (p, q) in from.into_iter().zip(to) {
            assert!(distance(map.apply(p), q) < 1e-9);
            assert!(distance(back.apply(q), p) < 1e-12);
        }
    }

    #[test]
    fn points_on_a_line_make_no_map() {
        let line = [[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0]];
        let to = [[0.0, 0.0], [6.0, 0.0], [6.0, 4.0], [0.0, 4.0]];
        assert!(Homography::fit(&line, &to).is_none());
    }
}
