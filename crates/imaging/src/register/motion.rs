//! Maps between two photographs: shift, similarity or perspective, fitted to shifts some of which are
//! wrong.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::geometry::{Homography, Point, distance};
use crate::random::SplitMix;

/// Kinds of map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Along x and y.
    Translation,
    /// And turned and scaled.
    Similarity,
    /// Any map that keeps lines straight.
    Homography,
}

impl Kind {
    /// All, the plainest first.
    pub const ALL: [Self; 3] = [Self::Translation, Self::Similarity, Self::Homography];

    /// How many numbers it has.
    pub fn numbers(self) -> usize {
        match self {
            Self::Translation => 2,
            Self::Similarity => 4,
            Self::Homography => 8,
        }
    }

    /// The map with the least squared distances. `None` for too few pairs.
    pub fn fit(self, pairs: &[[Point; 2]]) -> Option<Homography> {
        if pairs.is_empty() {
            return None;
        }
        match self {
            Self::Translation => {
                let n = pairs.len() as f64;
                let by = [0, 1].map(|k| pairs.iter().map(|[a, b]| b[k] - a[k]).sum::<f64>() / n);
                Some(Homography::from_rows([
                    [1.0, 0.0, by[0]],
                    [0.0, 1.0, by[1]],
                    [0.0, 0.0, 1.0],
                ]))
            }
            Self::Similarity => similarity(pairs),
            Self::Homography => {
                let from: Vec<Point> = pairs.iter().map(|p| p[0]).collect();
                let to: Vec<Point> = pairs.iter().map(|p| p[1]).collect();
                Homography::fit(&from, &to)
            }
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(match self {
            Self::Translation => "translation",
            Self::Similarity => "similarity",
            Self::Homography => "homography",
        })
    }
}

impl FromStr for Kind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let named = Self::ALL.into_iter().find(|kind| kind.to_string() == text);
        named.ok_or_else(|| format!("“{text}” is none of translation, similarity, homography"))
    }
}

/// As complex numbers: to = a · from + b, by linear least squares about the centres.
fn similarity(pairs: &[[Point; 2]]) -> Option<Homography> {
    let n = pairs.len() as f64;
    let centre = |side: usize| [0, 1].map(|k| pairs.iter().map(|p| p[side][k]).sum::<f64>() / n);
    let (c, d) = (centre(0), centre(1));
    let (mut along, mut across, mut spread) = (0.0, 0.0, 0.0);
    for [p, q] in pairs {
        let (x, y) = (p[0] - c[0], p[1] - c[1]);
        let (u, v) = (q[0] - d[0], q[1] - d[1]);
        along += x * u + y * v;
        across += x * v - y * u;
        spread += x * x + y * y;
    }
    let (a, b) = (along / spread, across / spread);
    (spread > 0.0).then(|| {
        Homography::from_rows([
            [a, -b, d[0] - a * c[0] + b * c[1]],
            [b, a, d[1] - b * c[0] - a * c[1]],
            [0.0, 0.0, 1.0],
        ])
    })
}

/// Samples drawn at most: with a quarter of the shifts right, four right ones are drawn once in 256
/// times.
const SAMPLES: usize = 800;

/// Samples drawn at least.
const LEAST_SAMPLES: usize = 30;

/// Drawing ends when a sample of right shifts alone would have been missed with this probability, if
/// no more were right than agree with the best so far.
const MISSED: f64 = 1e-9;

/// A map and the shifts that agree with it.
#[derive(Debug, Clone)]
pub(super) struct Agreed {
    pub(super) map: Homography,
    /// Indices, rising.
    pub(super) right: Vec<usize>,
}

impl Agreed {
    /// Root mean square of the distances of those that agree.
    pub(super) fn rms(&self, pairs: &[[Point; 2]]) -> f64 {
        let squares = self
            .right
            .iter()
            .map(|&i| off(&self.map, &pairs[i]).powi(2));
        (squares.sum::<f64>() / self.right.len().max(1) as f64).sqrt()
    }
}

fn off(map: &Homography, [from, to]: &[Point; 2]) -> f64 {
    distance(map.apply(*from), *to)
}

/// The map with which most pairs agree to within `radius`, refitted to them.
pub(super) fn agree(kind: Kind, pairs: &[[Point; 2]], radius: f64, seed: u64) -> Option<Agreed> {
    let mut random = SplitMix(seed);
    let n = pairs.len();
    let mut best: Option<(f64, Homography)> = None;
    let mut most_agree: f64 = 0.0;
    for drawn in 0..SAMPLES {
        let all_right = most_agree.powi(kind.numbers() as i32 / 2).min(1.0 - 1e-6);
        if drawn >= LEAST_SAMPLES && drawn as f64 * (1.0 - all_right).ln() < MISSED.ln() {
            break;
        }
        // A sample for a shift is one pair, for a similarity two, for a homography four.
        let sample: Vec<[Point; 2]> = match kind {
            Kind::Translation if n >= 1 => vec![pairs[random.below(n)]],
            Kind::Similarity if n >= 2 => random.sample::<2>(n).map(|i| pairs[i]).to_vec(),
            Kind::Homography if n >= 4 => random.sample::<4>(n).map(|i| pairs[i]).to_vec(),
            _ => return None,
        };
        let Some(map) = kind.fit(&sample) else {
            continue;
        };
        let mut cost = 0.0;
        let mut near = 0;
        for pair in pairs {
            let share = off(&map, pair) / radius;
            cost += (share * share).min(1.0);
            near += usize::from(share < 1.0);
        }
        most_agree = most_agree.max(near as f64 / n as f64);
        if best.as_ref().is_none_or(|b| cost < b.0) {
            best = Some((cost, map));
        }
    }
    let mut map = best?.1;
    let mut right: Vec<usize> = Vec::new();
    for _ in 0..10 {
        let now: Vec<usize> = (0..n).filter(|&i| off(&map, &pairs[i]) <= radius).collect();
        if now == right {
            break;
        }
        let chosen: Vec<[Point; 2]> = now.iter().map(|&i| pairs[i]).collect();
        let Some(again) = kind.fit(&chosen) else {
            break;
        };
        (map, right) = (again, now);
    }
    (2 * right.len() > kind.numbers()).then_some(Agreed { map, right })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(map: &Homography) -> Vec<[Point; 2]> {
        (0..60)
            .map(|i| [f64::from(i % 10) * 100.0, f64::from(i / 10) * 90.0])
            .map(|p| [p, map.apply(p)])
            .collect()
    }

    #[test]
    fn each_kind_is_found_among_wrong_shifts() {
        let (sin, cos) = 0.01f64.sin_cos();
        let maps = [
            [[1.0, 0.0, 3.25], [0.0, 1.0, -1.5], [0.0, 0.0, 1.0]],
            [
                [1.01 * cos, -sin, 3.0],
                [sin, 1.01 * cos, -7.0],
                [0.0, 0.0, 1.0],
            ],
            [[1.01, 0.002, 3.0], [-0.003, 0.99, -7.0], [1e-6, -2e-6, 1.0]],
        ];
        for (kind, rows) in Kind::ALL.into_iter().zip(maps) {
            let mut truth = Homography::from_rows(rows);
            if kind == Kind::Similarity {
                truth = kind.fit(&grid(&truth)).unwrap();
            }
            let mut pairs = grid(&truth);
            for (i, pair) in pairs.iter_mut().enumerate().filter(|(i, _)| i % 2 == 1) {
                pair[1][0] += 5.0 + (i as f64 * 7.3) % 11.0;
                pair[1][1] -= (i as f64 * 3.1) % 13.0;
            }
            let found = agree(kind, &pairs, 1.0, 1).unwrap();
            let is_right: Vec<usize> = (0..60).step_by(2).collect();
            assert_eq!(found.right, is_right, "{kind}");
            assert!(found.rms(&pairs) < 1e-9);
        }
        assert!(
            agree(
                Kind::Homography,
                &grid(&Homography::identity())[..4],
                1.0,
                1
            )
            .is_none()
        );
    }
}
