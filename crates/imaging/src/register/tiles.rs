//! Shifts of small squares all over the picture.

use rayon::prelude::*;

use super::edges::{Edges, Weight, correlate};
use super::fft::Fft;
use super::plane::Plane;
use crate::geometry::{Homography, Point};

/// Squares along the longer side at most (a choice of ours).
const ALONG: usize = 20;

/// A peak of the correlation this many standard deviations high counts. Of the 1089 shifts of a
/// square of 64 the highest by chance is 3.1, and one square in ten has one above 3.8.
const PEAK: f32 = 4.5;

/// A square needs this share of the edges of the best tenth of squares (a choice of ours).
const LEAST_EDGES: f32 = 0.2;

/// What was found at the squares.
#[derive(Debug, Clone, Default)]
pub(super) struct Tiles {
    /// Centres in the fixed picture and where they are in the moving one.
    pub(super) pairs: Vec<[Point; 2]>,
    /// The same by finer summits.
    pub(super) fine: Vec<[Point; 2]>,
    /// How sure each of the finer ones is, in the fixed picture.
    pub(super) weights: Vec<Weight>,
    /// The mean correlation of these.
    pub(super) correlation: f64,
    /// Squares with edges enough, those without a peak included.
    pub(super) tried: usize,
    /// Area of the shifts looked at, in square pixels.
    pub(super) searched_px2: f64,
    /// Share of the squares that would cover what they cover without overlapping: those that overlap show
    /// the same edges, and do not tell anything twice.
    pub(super) independent: f64,
}

/// The squares of the fixed picture, made ready once for all maps.
pub(super) struct Squares {
    side: usize,
    step: usize,
    fft: Fft,
    squares: Vec<Square>,
}

/// A square that was found again.
struct Shown {
    pair: [Point; 2],
    fine: [Point; 2],
    weight: Weight,
    correlation: f64,
}

struct Square {
    corner: [isize; 2],
    /// Transformed.
    edges: Edges,
    energy: f32,
}

impl Squares {
    /// All over the picture, whose usual gradient is `usual`.
    pub(super) fn of(fixed: &Plane, usual: f32) -> Self {
        let least = fixed.width_px.min(fixed.height_px);
        let side: usize = if least >= 128 { 64 } else { 32 };
        Self::laid(fixed, usual, side, ALONG)
    }

    /// Smaller ones, and more of them, for where it is known what lies over what: in a small one edges that only
    /// one band has are seldom together with those that both have. Half as large as the others, twice as many each way
    /// (a choice of ours, made on simulated photographs).
    pub(super) fn small(fixed: &Plane, usual: f32) -> Self {
        Self::laid(fixed, usual, 32, 2 * ALONG)
    }

    fn laid(fixed: &Plane, usual: f32, side: usize, along: usize) -> Self {
        let fft = Fft::new(side);
        let step = (fixed.width_px.max(fixed.height_px) / along).max(side / 2);
        let corners: Vec<[isize; 2]> = (0..=(fixed.height_px - side) / step)
            .flat_map(|row| {
                (0..=(fixed.width_px - side) / step)
                    .map(move |column| [(column * step) as isize, (row * step) as isize])
            })
            .collect();
        let squares = corners
            .into_par_iter()
            .map(|corner| {
                let [x, y] = corner;
                let window = fixed.window(x, y, side, &Homography::identity());
                let edges = Edges::of(&window, usual);
                Square {
                    corner,
                    energy: edges.energy(),
                    edges: edges.transformed(&fft),
                }
            })
            .collect();
        Self {
            side,
            step,
            fft,
            squares,
        }
    }

    fn centre(&self, [x, y]: [isize; 2]) -> Point {
        let half = self.side as f64 / 2.0;
        [x as f64 + half, y as f64 + half]
    }

    /// Looks for each square around where `map` takes it in `moving`, whose usual gradient is `usual`.
    pub(super) fn shifts(&self, moving: &Plane, map: &Homography, usual: f32) -> Tiles {
        let side = self.side;
        let reach = (side / 4) as isize;
        let is_held = |s: &&Square| moving.holds(map.apply(self.centre(s.corner)));
        let squares: Vec<&Square> = self.squares.iter().filter(is_held).collect();
        let mut energies: Vec<f32> = squares.iter().map(|s| s.energy).collect();
        energies.sort_by(f32::total_cmp);
        let high = energies
            .get(energies.len() * 9 / 10)
            .copied()
            .unwrap_or(0.0);
        let found: Vec<Option<Shown>> = squares
            .into_par_iter()
            .filter(|s| s.energy > LEAST_EDGES * high)
            .map(|square| {
                let [x, y] = square.corner;
                let there = Edges::of(&moving.window(x, y, side, map), usual);
                let energies = [square.energy, there.energy()];
                let there = there.transformed(&self.fft);
                let shift = correlate(&square.edges, &there, energies, reach, &self.fft)?;
                let from = self.centre(square.corner);
                let to = |by: Point| map.apply([from[0] + by[0], from[1] + by[1]]);
                let (fine, weight) = shift.fine;
                (shift.deviations > PEAK).then(|| Shown {
                    pair: [from, to(shift.by)],
                    fine: [from, to(fine)],
                    weight,
                    correlation: f64::from(shift.correlation),
                })
            })
            .collect();
        let tried = found.len();
        let clear: Vec<Shown> = found.into_iter().flatten().collect();
        let n = clear.len().max(1) as f64;
        Tiles {
            correlation: clear.iter().map(|one| one.correlation).sum::<f64>() / n,
            pairs: clear.iter().map(|one| one.pair).collect(),
            fine: clear.iter().map(|one| one.fine).collect(),
            weights: clear.iter().map(|one| one.weight).collect(),
            tried,
            searched_px2: (2 * reach + 1).pow(2) as f64,
            independent: (self.step as f64 / side as f64).min(1.0).powi(2),
        }
    }
}
