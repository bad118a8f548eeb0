//! The map once more, from smaller squares, when it is known to a pixel.
//!
//! Bands share most of their edges, and not all: paint that is dark in one and gone in the other leaves an edge
//! beside one that is still there, and squares with both are drawn aside, by less than what tells wrong squares. So
//! squares are small here; each counts by how sure it is, across an edge and along it; and the sum of distances is
//! least and not that of their squares, so that a few that are drawn aside together do not take the map with them.

use nalgebra::{DMatrix, DVector};

use super::edges::Weight;
use super::motion::Kind;
use super::plane::Plane;
use super::tiles::{Squares, Tiles};
use crate::geometry::{Homography, Point, distance};

/// Times that squares are looked for: their shifts are then near 0, where the summit is not drawn aside.
const TIMES: usize = 3;

/// Rounds in which squares are weighed anew; in the last ones a map moves by less than a thousandth of a pixel.
const ROUNDS: usize = 20;

/// A square nearer than this to where the map has it counts no more for that, in pixels (a choice of ours).
const NEAREST: f64 = 0.02;

/// A map with what it was found from.
pub(super) struct Refined {
    pub(super) map: Homography,
    pairs: Vec<[Point; 2]>,
    weights: Vec<Weight>,
}

impl Refined {
    /// The map near `start` of the pictures of one level, with their usual gradients. `None` where fewer than
    /// `least` small squares agree with it to within `radius`.
    pub(super) fn of(
        kind: Kind,
        [fixed, moving]: [&Plane; 2],
        [usual, usual_moving]: [f32; 2],
        start: &Homography,
        radius: f64,
        least: usize,
    ) -> Option<Self> {
        let squares = Squares::small(fixed, usual);
        let mut map = *start;
        let mut last = None;
        for _ in 0..TIMES {
            let Tiles { fine, weights, .. } = squares.shifts(moving, &map, usual_moving);
            let near = fine.into_iter().zip(weights);
            let near = near.filter(|([from, to], _)| distance(map.apply(*from), *to) <= radius);
            let (pairs, weights): (Vec<[Point; 2]>, Vec<Weight>) = near.unzip();
            if pairs.len() < least {
                return None;
            }
            map = nearest(kind, &map, &pairs, &weights)?;
            last = Some(Self {
                map,
                pairs,
                weights,
            });
        }
        last
    }

    /// The map without each group of squares in turn; neighbours go into different groups.
    pub(super) fn without_groups(&self, kind: Kind, groups: usize) -> Option<Vec<Homography>> {
        let without = |group: usize| {
            let all = self.pairs.iter().zip(&self.weights).enumerate();
            let kept = all.filter(|(k, _)| k % groups != group);
            let (pairs, weights): (Vec<[Point; 2]>, Vec<Weight>) =
                kept.map(|(_, (pair, weight))| (*pair, *weight)).unzip();
            nearest(kind, &self.map, &pairs, &weights)
        };
        (0..groups).map(without).collect()
    }
}

/// The map near `start` with the least sum of distances, each by its weight: the least squares, over and over, with
/// weights divided by the distances there were (E. Weiszfeld, "Sur le point pour lequel la somme des distances de n
/// points donnés est minimum", Tôhoku Mathematical Journal 43, 1937).
fn nearest(
    kind: Kind,
    start: &Homography,
    pairs: &[[Point; 2]],
    weights: &[Weight],
) -> Option<Homography> {
    let mut map = *start;
    for _ in 0..ROUNDS {
        let weighed = pairs.iter().zip(weights).map(|([from, to], weight)| {
            let by = distance(map.apply(*from), *to).max(NEAREST);
            weight.map(|w| w / by)
        });
        let weighed: Vec<Weight> = weighed.collect();
        map = least_squares(kind, &map, pairs, &weighed)?;
    }
    Some(map)
}

/// One step of C. F. Gauss towards the map with the least squared distances, each by its weight: a map of this kind
/// near the identity, after the one there is. Of the plain kinds it is there at once.
fn least_squares(
    kind: Kind,
    map: &Homography,
    pairs: &[[Point; 2]],
    weights: &[Weight],
) -> Option<Homography> {
    let n = pairs.len() as f64;
    let [cx, cy] = [0, 1].map(|k| pairs.iter().map(|p| p[1][k]).sum::<f64>() / n);
    let spread = pairs.iter().map(|p| distance(p[1], [cx, cy])).sum::<f64>() / n;
    let numbers = kind.numbers();
    let mut normal = DMatrix::zeros(numbers, numbers);
    let mut right = DVector::zeros(numbers);
    for ([from, to], [xx, xy, yy]) in pairs.iter().zip(weights) {
        let here = map.apply(*from);
        let (dx, dy) = ((to[0] - here[0]) / spread, (to[1] - here[1]) / spread);
        let (x, y) = ((here[0] - cx) / spread, (here[1] - cy) / spread);
        let moves = [
            // Along x and y, scaled, turned, …
            [1.0, 0.0],
            [0.0, 1.0],
            [x, y],
            [-y, x],
            // … along x and y by different scales, sheared, and in perspective.
            [x, -y],
            [y, x],
            [x * x, x * y],
            [x * y, y * y],
        ];
        for (i, [u, v]) in moves[..numbers].iter().enumerate() {
            let (along, across) = (u * xx + v * xy, u * xy + v * yy);
            right[i] += along * dx + across * dy;
            for (j, [s, t]) in moves[..numbers].iter().enumerate() {
                normal[(i, j)] += along * s + across * t;
            }
        }
    }
    let by = normal.cholesky()?.solve(&right);
    let part = |i: usize| by.get(i).copied().unwrap_or(0.0);
    let moved = Homography::from_rows([
        [1.0 + part(2) + part(4), part(5) - part(3), part(0)],
        [part(3) + part(5), 1.0 + part(2) - part(4), part(1)],
        [-part(6), -part(7), 1.0],
    ]);
    let scaled = Homography::from_rows([[spread, 0.0, cx], [0.0, spread, cy], [0.0, 0.0, 1.0]]);
    let back = scaled.inverse()?;
    Some(scaled.after(&moved).after(&back).after(map))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(truth: &Homography) -> Vec<[Point; 2]> {
        let at = |i: i32| [f64::from(i % 12) * 40.0, f64::from(i / 12) * 40.0];
        (0..120).map(|i| [at(i), truth.apply(at(i))]).collect()
    }

    /// A quarter of the squares drawn aside alike, and a quarter with edges of one direction, that slid along these.
    #[test]
    fn squares_drawn_aside_do_not_take_the_map_with_them() {
        let maps = [
            [[1.0, 0.0, 0.7], [0.0, 1.0, -0.4], [0.0, 0.0, 1.0]],
            [[1.003, -0.002, 0.7], [0.002, 1.003, -0.4], [0.0, 0.0, 1.0]],
            [
                [1.002, 0.001, 0.3],
                [-0.001, 0.999, 0.2],
                [2e-6, -1e-6, 1.0],
            ],
        ];
        for (kind, rows) in Kind::ALL.into_iter().zip(maps) {
            let truth = Homography::from_rows(rows);
            let mut pairs = grid(&truth);
            let mut weights = vec![[1.0, 0.0, 1.0]; pairs.len()];
            for (i, pair) in pairs.iter_mut().enumerate() {
                match i % 4 {
                    0 => pair[1][1] += 0.8,
                    // An edge along y tells nothing of y.
                    1 => {
                        pair[1][1] -= 0.6;
                        weights[i] = [1.0, 0.0, 0.0];
                    }
                    _ => {}
                }
            }
            let found = nearest(kind, &Homography::identity(), &pairs, &weights).unwrap();
            let off = |p: Point| distance(found.apply(p), truth.apply(p));
            let worst = [[0.0, 0.0], [440.0, 0.0], [440.0, 360.0], [0.0, 360.0]].map(off);
            let worst = worst.into_iter().fold(0.0, f64::max);
            assert!(worst < 0.05, "{kind}: {worst}");
        }
    }
}
