//! Principal components over registered bands, and the angle to a reference spectrum.

use nalgebra::{DMatrix, SymmetricEigen};
use rayon::prelude::*;

use super::image::{Band, BandImage, Unit};
use crate::error::{ImagingError, Result};

/// What the components are.
#[derive(Debug, Clone, PartialEq)]
pub struct Components {
    /// The components, strongest first, named `pc1`, `pc2` …
    pub image: BandImage,
    /// Mean of each band, which was taken off.
    pub means: Vec<f64>,
    /// What each band was divided by: 1, or its standard deviation.
    pub scales: Vec<f64>,
    /// For each component the weight of each band; of unit length, the largest positive.
    pub loadings: Vec<Vec<f64>>,
    /// Variance of each component (with n - 1).
    pub variances: Vec<f64>,
    /// Share of all variance, 0..1.
    pub explained: Vec<f64>,
}

/// Principal components of all bands of an image over the pixels where all are there: eigenvectors of
/// the covariance matrix, or with `standardised` of the correlation matrix (for bands of different
/// spread). I. T. Jolliffe, "Principal Component Analysis", 2nd ed., 2002, sections 1.1 and 2.3.
///
/// # Errors
/// There are fewer than two bands or pixels, or a band is the same everywhere.
pub fn principal_components(
    name: &str,
    image: &BandImage,
    standardised: bool,
) -> Result<Components> {
    let n = image.bands.len();
    let bad = |what: String| {
        ImagingError::new(
            what,
            name,
            "Give two or more registered bands that differ over the picture.",
        )
    };
    if n < 2 {
        return Err(bad(format!("principal components of {n} band")));
    }
    let values = |i: usize| image.bands.iter().map(move |b| f64::from(b.values[i]));
    let there = |i: &usize| values(*i).all(f64::is_finite);
    let pixels = image.pixels();
    let sums = |of: &(dyn Fn(usize, &mut [f64]) + Sync), length: usize| -> Vec<f64> {
        (0..pixels)
            .into_par_iter()
            .filter(there)
            .fold(
                || vec![0.0; length],
                |mut sums, i| {
                    of(i, &mut sums);
                    sums
                },
            )
            .reduce(
                || vec![0.0; length],
                |a, b| a.iter().zip(&b).map(|(x, y)| x + y).collect(),
            )
    };
    let first = sums(
        &|i, sums| {
            sums[n] += 1.0;
            sums.iter_mut().zip(values(i)).for_each(|(s, v)| *s += v);
        },
        n + 1,
    );
    let count = first[n];
    if count < 2.0 {
        return Err(bad("fewer than two pixels have all bands".to_owned()));
    }
    let means: Vec<f64> = first[..n].iter().map(|s| s / count).collect();
    let products = sums(
        &|i, sums| {
            for (a, x) in values(i).enumerate() {
                for (b, y) in values(i).enumerate() {
                    sums[a * n + b] += (x - means[a]) * (y - means[b]);
                }
            }
        },
        n * n,
    );
    let covariance = DMatrix::from_fn(n, n, |a, b| products[a * n + b] / (count - 1.0));
    let scales: Vec<f64> = (0..n)
        .map(|k| {
            if standardised {
                covariance[(k, k)].sqrt()
            } else {
                1.0
            }
        })
        .collect();
    if let Some(k) = (0..n).find(|&k| covariance[(k, k)] <= 0.0) {
        let band = &image.bands[k].name;
        return Err(bad(format!("the band “{band}” is the same everywhere")));
    }
    let scaled = DMatrix::from_fn(n, n, |a, b| covariance[(a, b)] / scales[a] / scales[b]);
    let eigen = SymmetricEigen::new(scaled);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    let loadings: Vec<Vec<f64>> = order
        .iter()
        .map(|&k| {
            let column: Vec<f64> = eigen.eigenvectors.column(k).iter().copied().collect();
            let largest = column
                .iter()
                .copied()
                .fold(0.0, |m: f64, v| if v.abs() > m.abs() { v } else { m });
            column.iter().map(|v| v * largest.signum()).collect()
        })
        .collect();
    let variances: Vec<f64> = order
        .iter()
        .map(|&k| eigen.eigenvalues[k].max(0.0))
        .collect();
    let all: f64 = variances.iter().sum();
    let bands = loadings.iter().enumerate().map(|(k, weights)| Band {
        name: format!("pc{}", k + 1),
        values: (0..pixels)
            .into_par_iter()
            .map(|i| {
                let parts = values(i).zip(weights).enumerate();
                parts
                    .map(|(b, (v, w))| (v - means[b]) / scales[b] * w)
                    .sum::<f64>() as f32
            })
            .collect(),
    });
    let unit = if standardised {
        Unit::Dimensionless
    } else {
        image.unit.clone()
    };
    Ok(Components {
        image: image.like(name, unit, bands.collect()),
        means,
        scales,
        explained: variances.iter().map(|v| v / all).collect(),
        loadings,
        variances,
    })
}

/// The angle between each pixel's values and a reference, in degrees: the same for a pixel lit more
/// or less (F. A. Kruse and others, "The spectral image processing system (SIPS)", Remote Sensing of
/// Environment 44, 1993, 145-163). Not there where a pixel is black.
///
/// # Errors
/// The reference has another number of values than the image bands, or is all 0.
pub fn spectral_angle(name: &str, image: &BandImage, reference: &[f64]) -> Result<BandImage> {
    let length = |values: &mut dyn Iterator<Item = f64>| values.map(|v| v * v).sum::<f64>().sqrt();
    let size = length(&mut reference.iter().copied());
    if reference.len() != image.bands.len()
        || reference.len() < 2
        || !(size > 0.0 && size.is_finite())
    {
        return Err(ImagingError::new(
            format!(
                "the reference has {} values, the image {} bands",
                reference.len(),
                image.bands.len()
            ),
            name,
            "Give one value a band, two or more, not all 0.",
        ));
    }
    let values = |i: usize| image.bands.iter().map(move |b| f64::from(b.values[i]));
    let angle = |i: usize| {
        let product: f64 = values(i).zip(reference).map(|(v, r)| v * r).sum();
        let own = length(&mut values(i));
        (product / (own * size))
            .clamp(-1.0, 1.0)
            .acos()
            .to_degrees() as f32
    };
    let band = Band {
        name: "angle".to_owned(),
        values: (0..image.pixels()).into_par_iter().map(angle).collect(),
    };
    Ok(image.like(name, Unit::Degrees, vec![band]))
}
