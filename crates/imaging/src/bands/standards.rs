//! Grey standards of known reflectance.

use serde::{Deserialize, Serialize};

use super::arithmetic::each;
use super::image::{BandImage, Unit};
use crate::error::{ImagingError, Result};

/// A standard in the picture.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Standard {
    /// Where it is on the first page: x0 y0 x1 y1 in pixels, x1 and y1 excluded.
    pub at_px: [usize; 4],
    /// Its certified reflectance in this band, in percent. A nominal value is none: sintered
    /// fluoropolymer of nominally 99 % differs by band.
    pub percent: f64,
}

/// Largest reflectance that is believed of a standard, in percent: a glossy one may send more than a
/// perfect diffuser into one direction, by less than this (a choice of ours; it catches 99 written as 990).
const LARGEST_PERCENT: f64 = 150.0;

/// Reflectance of a band from what it measures: percent = gain · value + offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Percent for each unit of the value.
    pub gain: f64,
    /// Percent at value 0; 0 with one standard.
    pub offset: f64,
    /// Largest distance of a standard from the line, in percent; 0 with one or two.
    pub largest_residual: f64,
}

/// The line through the standards: through 0 with one, least squares with more (the empirical line
/// method of remote sensing).
///
/// # Errors
/// A standard is not in the picture, or the values do not tell the standards apart.
pub fn line(image: &BandImage, band: usize, standards: &[Standard]) -> Result<Line> {
    let bad = |what: String| {
        ImagingError::new(
            what,
            image.name.clone(),
            "Give standards of different grey in the picture, neither clipped nor black, with their \
             certified reflectance in percent.",
        )
    };
    let mut pairs = Vec::with_capacity(standards.len());
    for standard in standards {
        if !(standard.percent > 0.0 && standard.percent <= LARGEST_PERCENT) {
            return Err(bad(format!(
                "a reflectance of {} % is none",
                standard.percent
            )));
        }
        pairs.push((image.mean_in(band, standard.at_px)?, standard.percent));
    }
    let n = pairs.len() as f64;
    let (gain, offset) = match pairs.as_slice() {
        [] => return Err(bad("no standard is given".to_owned())),
        [(value, percent)] => (percent / value, 0.0),
        pairs => {
            let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
            let (mv, mp) = (mean(|p| p.0), mean(|p| p.1));
            let across: f64 = pairs.iter().map(|(v, p)| (v - mv) * (p - mp)).sum();
            let along: f64 = pairs.iter().map(|(v, _)| (v - mv).powi(2)).sum();
            let gain = across / along;
            (gain, mp - gain * mv)
        }
    };
    if !(gain.is_finite() && gain > 0.0) {
        return Err(bad("the standards give no reflectance: they are black, all alike, or a lighter one is darker in the picture".to_owned()));
    }
    let residuals = pairs.iter().map(|(v, p)| (gain * v + offset - p).abs());
    Ok(Line {
        gain,
        offset,
        largest_residual: residuals.fold(0.0, f64::max),
    })
}

/// The image in percent of reflectance, and the line of each band. `shown` is the image that shows the
/// standards: the same one, or another of the same light and exposure.
///
/// # Errors
/// As [`line()`]; the two are in different units, or have different bands.
pub fn reflectance(
    name: &str,
    image: &BandImage,
    shown: &BandImage,
    standards: &[Standard],
) -> Result<(BandImage, Vec<Line>)> {
    image.same_unit(shown)?;
    if shown.bands.len() != image.bands.len() {
        return Err(ImagingError::new(
            format!(
                "{} has {} bands, {} has {}: a standard measured in one band says nothing of another",
                image.name,
                image.bands.len(),
                shown.name,
                shown.bands.len()
            ),
            shown.name.clone(),
            "Name one band of the one with more, such as vis.green.",
        ));
    }
    let lines: Vec<Line> = (0..image.bands.len())
        .map(|band| line(shown, band, standards))
        .collect::<Result<_>>()?;
    let out = each(name, Unit::Percent, image, |k, v| {
        (lines[k].gain * f64::from(v) + lines[k].offset) as f32
    });
    Ok((out, lines))
}

/// For each band of a luminescence image, the share of the reflected light that is in it as stray
/// light: the median over standards, which do not luminesce, of one over the other.
///
/// # Errors
/// A standard is not in the picture or is black there.
pub fn stray_shares(
    luminescence: &BandImage,
    reflected: &BandImage,
    at_px: &[[usize; 4]],
) -> Result<Vec<f64>> {
    (0..luminescence.bands.len())
        .map(|band| {
            let other = reflected.band_for(band);
            let mut shares = Vec::with_capacity(at_px.len());
            for at in at_px {
                let light = reflected.mean_in(other, *at)?;
                if light <= 0.0 {
                    return Err(ImagingError::new(
                        "a standard is black in the reflected image",
                        reflected.name.clone(),
                        "Give the place of a lighter standard.",
                    ));
                }
                shares.push(luminescence.mean_in(band, *at)? / light);
            }
            shares.sort_by(f64::total_cmp);
            match shares.len() {
                0 => Err(ImagingError::new(
                    "no standard is given",
                    luminescence.name.clone(),
                    "Give the places of grey standards that do not luminesce.",
                )),
                n if n % 2 == 1 => Ok(shares[n / 2]),
                n => Ok(0.5 * (shares[n / 2 - 1] + shares[n / 2])),
            }
        })
        .collect()
}
