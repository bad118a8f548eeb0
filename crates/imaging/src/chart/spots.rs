//! Even areas of a photograph that may be patches.

use std::collections::VecDeque;

use crate::geometry::Point;
use crate::photo::LinearPhoto;

/// The photograph is searched at this size at most; smaller means quieter and faster.
const SEARCH_PX: usize = 640;

/// An even area with the extent of a parallelogram.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Its centre in the photograph.
    pub centre_px: Point,
    /// The square root of its area.
    pub size_px: f64,
}

/// A small picture of the photograph, in square roots of light (about even to the eye).
struct Small {
    width: usize,
    height: usize,
    scale: f64,
    values: Vec<[f32; 3]>,
}

impl Small {
    fn new(view: &LinearPhoto) -> Self {
        let (w, h) = (view.photo.width_px, view.photo.height_px);
        let step = w.max(h).div_ceil(SEARCH_PX).max(1);
        let (width, height) = (w / step, h / step);
        let n = (step * step) as f64;
        let mut values: Vec<[f32; 3]> = (0..width * height)
            .map(|i| {
                let (x0, y0) = (i % width * step, i / width * step);
                let mut sum = [0.0; 3];
                for y in y0..y0 + step {
                    for x in x0..x0 + step {
                        let v = view.at(x, y).0;
                        for c in 0..3 {
                            sum[c] += v[c];
                        }
                    }
                }
                sum.map(|s| (s / n).max(0.0).sqrt() as f32)
            })
            .collect();
        normalise(&mut values);
        Self {
            width,
            height,
            scale: step as f64,
            values,
        }
    }

    fn difference(&self, a: usize, b: usize) -> f32 {
        largest_difference(self.values[a], self.values[b])
    }
}

fn largest_difference(a: [f32; 3], b: [f32; 3]) -> f32 {
    (0..3).map(|c| (a[c] - b[c]).abs()).fold(0.0, f32::max)
}

/// Brings the 95th percentile to 1, so that thresholds do not depend on exposure.
fn normalise(values: &mut [[f32; 3]]) {
    let mut all: Vec<f32> = values.iter().flatten().copied().collect();
    if all.is_empty() {
        return;
    }
    let at = all.len() * 95 / 100;
    let (_, &mut high, _) = all.select_nth_unstable_by(at, f32::total_cmp);
    if high > 0.0 {
        for v in values.iter_mut().flatten() {
            *v /= high;
        }
    }
}

/// Neighbours that differ by less than this belong together; tried in turn, because quiet dark
/// patches need the small one and noisy photographs the large one.
const JOINS: [f32; 3] = [0.012, 0.025, 0.05];

/// Spots at each threshold.
pub fn spots(view: &LinearPhoto) -> Vec<Vec<Spot>> {
    let small = Small::new(view);
    JOINS
        .iter()
        .map(|&join| at_threshold(&small, join))
        .collect()
}

fn at_threshold(small: &Small, join: f32) -> Vec<Spot> {
    let mut taken = vec![false; small.values.len()];
    let mut out = Vec::new();
    for seed in 0..small.values.len() {
        if !taken[seed] {
            let area = grow(small, seed, join, &mut taken);
            out.extend(spot(small, &area));
        }
    }
    out
}

/// The even area around a seed.
fn grow(small: &Small, seed: usize, join: f32, taken: &mut [bool]) -> Vec<usize> {
    let (w, h) = (small.width, small.height);
    let mut area = Vec::new();
    let mut queue = VecDeque::from([seed]);
    let mut sum = [0.0_f32; 3];
    taken[seed] = true;
    while let Some(at) = queue.pop_front() {
        area.push(at);
        for (s, v) in sum.iter_mut().zip(small.values[at]) {
            *s += v;
        }
        let mean = sum.map(|s| s / area.len() as f32);
        let (x, y) = (at % w, at / w);
        let neighbours = [
            (x > 0).then(|| at - 1),
            (x + 1 < w).then(|| at + 1),
            (y > 0).then(|| at - w),
            (y + 1 < h).then(|| at + w),
        ];
        for next in neighbours.into_iter().flatten() {
            // Also near the mean, or a smooth gradient would join everything.
            let joins = !taken[next]
                && small.difference(at, next) < join
                && largest_difference(small.values[next], mean) < 4.0 * join;
            if joins {
                taken[next] = true;
                queue.push_back(next);
            }
        }
    }
    area
}

/// A patch covers at least this many pixels of the small picture.
const LEAST_AREA: usize = 25;

fn spot(small: &Small, area: &[usize]) -> Option<Spot> {
    let n = area.len() as f64;
    // Six patches or more share a side of the photograph.
    if area.len() < LEAST_AREA || area.len() * 12 > small.values.len() {
        return None;
    }
    let points = area.iter().map(|&i| {
        [
            (i % small.width) as f64 + 0.5,
            (i / small.width) as f64 + 0.5,
        ]
    });
    let centre = [0, 1].map(|k| points.clone().map(|p| p[k]).sum::<f64>() / n);
    let moment = |a: usize, b: usize| {
        points
            .clone()
            .map(|p| (p[a] - centre[a]) * (p[b] - centre[b]))
            .sum::<f64>()
            / n
    };
    let (xx, yy, xy) = (moment(0, 0), moment(1, 1), moment(0, 1));
    let determinant = xx * yy - xy * xy;
    if determinant <= 0.0 {
        return None;
    }
    // A full parallelogram has area = 12 * sqrt(det of its second moments), whatever its shape.
    let fill = n / (12.0 * determinant.sqrt());
    // The long over the short axis squared, from the eigenvalues.
    let (half_trace, root) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
    let elongation = (half_trace + root) / (half_trace - root).max(1e-9);
    let patch_like = (0.8..1.15).contains(&fill) && elongation < 5.0;
    patch_like.then(|| Spot {
        centre_px: centre.map(|v| v * small.scale),
        size_px: n.sqrt() * small.scale,
    })
}
