//! Regions from values: by a threshold, or by gathering like pixels.

use rayon::prelude::*;

use super::image::BandImage;
use crate::error::{ImagingError, Result};
use crate::random::SplitMix;

/// Pixels from which groups are found; all pixels are then assigned. A group of a thousandth of the picture
/// still has a hundred of them (a choice of ours).
const MOST_SAMPLED: usize = 100_000;

/// Rounds after which groups that still move are taken as they are: several times what photographs of
/// paint need (a choice of ours).
const MOST_ROUNDS: usize = 200;

/// A number for each pixel; 0 is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Labels {
    /// As of the image they were made from.
    pub pages_px: Vec<(usize, usize)>,
    /// Page after page, row by row.
    pub numbers: Vec<u16>,
    /// Whether ultraviolet light was used to make the image.
    pub ultraviolet: bool,
}

impl Labels {
    /// Pixels of each number from 0 on.
    pub fn counts(&self) -> Vec<usize> {
        let most = self.numbers.iter().copied().max().unwrap_or(0);
        let mut counts = vec![0; usize::from(most) + 1];
        for number in &self.numbers {
            counts[usize::from(*number)] += 1;
        }
        counts
    }

    /// Area of each number from 0 on, in cm², by the area in m² that each pixel covers on the surface
    /// ([`crate::drape::mesh::Mesh::texel_areas`]).
    ///
    /// # Errors
    /// The areas are of other pixels.
    pub fn areas_cm2(&self, texel_m2: &[f32]) -> Result<Vec<f64>> {
        if texel_m2.len() != self.numbers.len() {
            return Err(ImagingError::new(
                format!(
                    "the areas are of {} texels, the regions of {}",
                    texel_m2.len(),
                    self.numbers.len()
                ),
                "region",
                "Use layers of one size.",
            ));
        }
        let most = self.numbers.iter().copied().max().unwrap_or(0);
        let mut areas = vec![0.0; usize::from(most) + 1];
        for (number, m2) in self.numbers.iter().zip(texel_m2) {
            areas[usize::from(*number)] += f64::from(*m2) * 1e4;
        }
        Ok(areas)
    }
}

/// 1 where the value is at least `least` and at most `most`, else 0.
///
/// # Errors
/// The image has several bands.
pub fn threshold(image: &BandImage, least: f64, most: f64) -> Result<Labels> {
    let within = |v: &f32| (least..=most).contains(&f64::from(*v));
    Ok(Labels {
        pages_px: image.pages_px.clone(),
        numbers: image
            .single()?
            .values
            .par_iter()
            .map(|v| u16::from(within(v)))
            .collect(),
        ultraviolet: image.ultraviolet,
    })
}

/// Groups of like pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Groups {
    /// 1 for the largest group, 2 for the next …; 0 where a band is missing.
    pub labels: Labels,
    /// Middle of each group, in the order of the numbers.
    pub middles: Vec<Vec<f64>>,
}

/// Gathers pixels into `count` groups by the distance of their values (S. P. Lloyd, "Least squares
/// quantization in PCM", IEEE Transactions on Information Theory 28, 1982), from starts spread as D.
/// Arthur and S. Vassilvitskii, "k-means++: the advantages of careful seeding", SODA 2007. `seed`
/// makes it repeatable.
///
/// # Errors
/// Fewer pixels are there than groups are wanted, or fewer than two or more than 255 are wanted.
pub fn gather(image: &BandImage, count: usize, seed: u64) -> Result<Groups> {
    let values =
        |i: usize| -> Vec<f64> { image.bands.iter().map(|b| f64::from(b.values[i])).collect() };
    let is_there = |i: &usize| image.bands.iter().all(|b| b.values[*i].is_finite());
    let there = (0..image.pixels()).filter(is_there).count();
    if !(2..=255).contains(&count) || there < count {
        return Err(ImagingError::new(
            format!("{count} groups are wanted of {there} pixels"),
            image.name.clone(),
            "Ask for 2 to 255 groups, fewer than there are pixels.",
        ));
    }
    let step = there.div_ceil(MOST_SAMPLED);
    let sample: Vec<Vec<f64>> = (0..image.pixels())
        .filter(is_there)
        .step_by(step)
        .map(values)
        .collect();
    let mut middles = starts(&sample, count, seed);
    for _ in 0..MOST_ROUNDS {
        let mut sums = vec![vec![0.0; image.bands.len()]; middles.len()];
        let mut counts = vec![0.0; middles.len()];
        for pixel in &sample {
            let own = nearest(&middles, pixel).0;
            counts[own] += 1.0;
            sums[own].iter_mut().zip(pixel).for_each(|(s, v)| *s += v);
        }
        let mut moved = false;
        for ((middle, sum), count) in middles.iter_mut().zip(sums).zip(counts) {
            if count > 0.0 {
                let next: Vec<f64> = sum.iter().map(|s| s / count).collect();
                moved |= next != *middle;
                *middle = next;
            }
        }
        if !moved {
            break;
        }
    }
    let own: Vec<usize> = (0..image.pixels())
        .into_par_iter()
        .map(|i| {
            if is_there(&i) {
                1 + nearest(&middles, &values(i)).0
            } else {
                0
            }
        })
        .collect();
    let mut sizes = vec![0_usize; middles.len()];
    own.iter()
        .filter(|o| **o > 0)
        .for_each(|o| sizes[o - 1] += 1);
    let mut order: Vec<usize> = (0..middles.len()).collect();
    order.sort_by_key(|&k| std::cmp::Reverse(sizes[k]));
    let mut number_of = vec![0_u16; middles.len() + 1];
    for (place, &k) in order.iter().enumerate() {
        number_of[k + 1] = place as u16 + 1;
    }
    Ok(Groups {
        labels: Labels {
            pages_px: image.pages_px.clone(),
            numbers: own.iter().map(|&o| number_of[o]).collect(),
            ultraviolet: image.ultraviolet,
        },
        middles: order.iter().map(|&k| middles[k].clone()).collect(),
    })
}

fn distance(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum()
}

fn nearest(middles: &[Vec<f64>], pixel: &[f64]) -> (usize, f64) {
    let all = middles.iter().map(|m| distance(m, pixel)).enumerate();
    all.fold(
        (0, f64::INFINITY),
        |best, one| if one.1 < best.1 { one } else { best },
    )
}

fn starts(sample: &[Vec<f64>], count: usize, seed: u64) -> Vec<Vec<f64>> {
    let mut random = SplitMix(seed);
    let mut middles = vec![sample[random.below(sample.len())].clone()];
    // Square of the distance to the nearest middle so far.
    let mut off = vec![f64::INFINITY; sample.len()];
    while let Some(last) = middles.last().filter(|_| middles.len() < count) {
        off.iter_mut()
            .zip(sample)
            .for_each(|(off, pixel)| *off = off.min(distance(last, pixel)));
        let mut left = random.unit() * off.iter().sum::<f64>();
        let next = off.iter().position(|o| {
            left -= o;
            left < 0.0
        });
        middles.push(sample[next.unwrap_or(sample.len() - 1)].clone());
    }
    middles
}
