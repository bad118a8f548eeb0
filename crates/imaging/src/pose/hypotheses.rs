//! Places to start from, each by as few pairs as fix one: three for a known lens, four where the
//! focal length is unknown.

use super::Pose;
use super::free::Free;
use super::p3p::p3p;
use super::pairs::Pair;
use super::refine::refine;
use crate::geometry::distance;
use crate::lens::{Lens, Projector};
use crate::random::SplitMix;

/// A lens and a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hypothesis {
    pub(super) lens: Lens,
    pub(super) pose: Pose,
}

/// What is known of the lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Start {
    /// All of it, or nearly.
    Lens(Lens),
    /// The size of the picture alone; the axis goes through its middle.
    Size {
        /// Width in pixels as stored.
        width_px: usize,
        /// Height in pixels as stored.
        height_px: usize,
    },
}

impl Start {
    /// Width and height of the picture in pixels.
    pub(super) fn size_px(&self) -> [usize; 2] {
        match *self {
            Self::Lens(lens) => [lens.width_px, lens.height_px],
            Self::Size {
                width_px,
                height_px,
            } => [width_px, height_px],
        }
    }
}

/// Samples drawn at most. With 40 % wrong pairs four right ones are drawn 13 times in a hundred:
/// missed in 300 draws with a probability of 1e-18.
const SAMPLES_OF_THREE: usize = 1200;
const SAMPLES_OF_FOUR: usize = 300;

/// Focal lengths tried, as shares of the longer side: from a view of 118° to one of 1.4°, each a
/// seventh longer than the one before.
const SHORTEST_FOCAL: f64 = 0.3;
const LONGEST_FOCAL: f64 = 40.0;
const FOCAL_STEP: f64 = 1.15;

/// Samples drawn at least.
const LEAST_SAMPLES: usize = 40;

/// Drawing ends when a sample of right pairs alone would have been missed with this probability, if
/// no more pairs were right than agree with the best so far (M. A. Fischler, R. C. Bolles, CACM
/// 24(6), 1981, 381-395).
const MISSED: f64 = 1e-9;

/// The hypotheses of the samples drawn, with the cost of each, the least first. `judge` says the cost of
/// one, and what share of the pairs agrees with it.
pub(super) fn hypotheses(
    pairs: &[Pair],
    start: &Start,
    seed: u64,
    judge: impl Fn(&Hypothesis) -> (f64, f64),
) -> Vec<(f64, Hypothesis)> {
    let n = pairs.len();
    let mut found = match start {
        Start::Lens(lens) => {
            let projector = Projector::new(*lens);
            let seen: Vec<Option<[f64; 2]>> = pairs
                .iter()
                .map(|p| projector.normalised_of(p.pixel))
                .collect();
            let with_lens = |sample: [usize; 3]| {
                let poses = of_three(pairs, &seen, sample).into_iter();
                poses.map(|pose| Hypothesis { lens: *lens, pose }).collect()
            };
            drawn(samples(n, SAMPLES_OF_THREE, seed), with_lens, judge)
        }
        Start::Size {
            width_px,
            height_px,
        } => {
            let any_lens = |sample| of_four(pairs, *width_px, *height_px, sample);
            drawn(samples(n, SAMPLES_OF_FOUR, seed), any_lens, judge)
        }
    };
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found
}

fn drawn<const K: usize>(
    samples: Vec<[usize; K]>,
    solve: impl Fn([usize; K]) -> Vec<Hypothesis>,
    judge: impl Fn(&Hypothesis) -> (f64, f64),
) -> Vec<(f64, Hypothesis)> {
    let mut found = Vec::new();
    let mut most_agree: f64 = 0.0;
    for (done, sample) in samples.into_iter().enumerate() {
        let all_right = most_agree.powi(K as i32).min(1.0 - 1e-6);
        if done >= LEAST_SAMPLES && done as f64 * (1.0 - all_right).ln() < MISSED.ln() {
            break;
        }
        for hypothesis in solve(sample) {
            let (cost, agree) = judge(&hypothesis);
            most_agree = most_agree.max(agree);
            found.push((cost, hypothesis));
        }
    }
    found
}

fn of_three(pairs: &[Pair], seen: &[Option<[f64; 2]>], sample: [usize; 3]) -> Vec<Pose> {
    let [Some(a), Some(b), Some(c)] = sample.map(|i| seen[i]) else {
        return Vec::new();
    };
    p3p([a, b, c], sample.map(|i| pairs[i].surface_m))
}

/// The focal length is searched: for each one three points fix the place, and the fourth says how
/// well it fits; the best two are refined over all four.
fn of_four(
    pairs: &[Pair],
    width_px: usize,
    height_px: usize,
    sample: [usize; 4],
) -> Vec<Hypothesis> {
    let longer = width_px.max(height_px) as f64;
    let mut found: Vec<(f64, Hypothesis)> = Vec::new();
    let [a, b, c, fourth] = sample;
    let mut share = SHORTEST_FOCAL;
    while share < LONGEST_FOCAL {
        let lens = Lens::simple(width_px, height_px, share * longer);
        share *= FOCAL_STEP;
        let undistorted =
            |p: [f64; 2]| [0, 1].map(|k| (p[k] - lens.centre_px[k]) / lens.focal_px[k]);
        let three = [a, b, c];
        let seen = three.map(|i| undistorted(pairs[i].pixel));
        for pose in p3p(seen, three.map(|i| pairs[i].surface_m)) {
            let camera = pose.camera_of(pairs[fourth].surface_m);
            if let Some(there) = lens.project(camera) {
                let off = distance(there, pairs[fourth].pixel);
                found.push((off, Hypothesis { lens, pose }));
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let four: Vec<&Pair> = sample.iter().map(|&i| &pairs[i]).collect();
    let free = Free {
        focal: true,
        ..Free::NONE
    };
    found
        .iter()
        .take(2)
        .filter_map(|(_, h)| refine(&h.lens, &h.pose, &free, &four))
        .map(|r| Hypothesis {
            lens: r.lens,
            pose: r.pose,
        })
        .collect()
}

/// Samples of `K` different numbers below `n`: all of them where they are few, else drawn; in no
/// order.
fn samples<const K: usize>(n: usize, most: usize, seed: u64) -> Vec<[usize; K]> {
    let mut random = SplitMix(seed);
    let mut all = combinations(n, most);
    if n < K || all.len() <= most {
        // R. A. Fisher and F. Yates, 1938.
        for i in (1..all.len()).rev() {
            all.swap(i, random.below(i + 1));
        }
        return all;
    }
    (0..most).map(|_| random.sample(n)).collect()
}

/// Combinations in order; stops soon after `most`.
fn combinations<const K: usize>(n: usize, most: usize) -> Vec<[usize; K]> {
    let mut all = Vec::new();
    let mut next: [usize; K] = std::array::from_fn(|i| i);
    while n >= K && all.len() <= most {
        all.push(next);
        let Some(k) = (0..K).rev().find(|&k| next[k] < n - K + k) else {
            break;
        };
        next[k] += 1;
        for i in k + 1..K {
            next[i] = next[i - 1] + 1;
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_are_listed_and_many_are_drawn_the_same_each_time() {
        assert_eq!(
            combinations::<3>(4, 100),
            [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]]
        );
        assert_eq!(samples::<3>(4, 100, 0).len(), 4);
        assert_eq!(samples::<4>(3, 100, 0).len(), 0);
        let drawn = samples::<4>(60, 50, 7);
        assert_eq!(drawn.len(), 50);
        assert_eq!(drawn, samples::<4>(60, 50, 7));
        assert_ne!(drawn, samples::<4>(60, 50, 8));
        for s in drawn {
            assert!((0..4).all(|i| s[i] < 60 && !s[..i].contains(&s[i])));
        }
    }
}
