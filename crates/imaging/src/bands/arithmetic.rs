//! Sums, ratios and corrections, pixel by pixel.

use std::borrow::Cow;

use rayon::prelude::*;

use super::image::{Band, BandImage, Unit};
use crate::error::{ImagingError, Result};

/// A divisor this small, relative to one, is nothing: the quotient is not there (a choice
/// of ours: a ten-thousandth of a code of 16 bits).
const NOTHING: f32 = 1e-9;

/// Applies `of` to the pixels of two images, band by band; an image of one band goes with each band
/// of the other.
fn both(
    name: &str,
    unit: Unit,
    a: &BandImage,
    b: &BandImage,
    of: impl Fn(f32, f32) -> f32 + Sync,
) -> Result<BandImage> {
    a.same_pixels(b)?;
    let count = a.bands.len().max(b.bands.len());
    for image in [a, b] {
        if image.bands.len() != 1 && image.bands.len() != count {
            return Err(ImagingError::new(
                format!(
                    "{} has {} bands, {} has {}",
                    a.name,
                    a.bands.len(),
                    b.name,
                    b.bands.len()
                ),
                name,
                "Name one band of the one with more, such as vis.green.",
            ));
        }
    }
    let bands = (0..count).map(|k| {
        let (first, second) = (&a.bands[a.band_for(k)], &b.bands[b.band_for(k)]);
        let named = if a.bands.len() >= b.bands.len() {
            first
        } else {
            second
        };
        let pairs = first.values.par_iter().zip(&second.values);
        Band {
            name: named.name.clone(),
            values: pairs.map(|(x, y)| of(*x, *y)).collect(),
        }
    });
    let mut out = a.like(name, unit, bands.collect());
    out.ultraviolet |= b.ultraviolet;
    Ok(out)
}

/// Applies `of` to each value; `of` is given the number of the band.
pub(crate) fn each(
    name: &str,
    unit: Unit,
    image: &BandImage,
    of: impl Fn(usize, f32) -> f32 + Sync,
) -> BandImage {
    let bands = image.bands.iter().enumerate().map(|(k, band)| Band {
        name: band.name.clone(),
        values: band.values.par_iter().map(|v| of(k, *v)).collect(),
    });
    image.like(name, unit, bands.collect())
}

fn quotient(a: f32, b: f32) -> f32 {
    if b.abs() > NOTHING { a / b } else { f32::NAN }
}

/// Flat field with dark frame: (S - D) / (R - D), times the mean of R - D so that the level stays
/// (J. Dyer, G. Verri, J. Cupitt, "Multispectral imaging in reflectance and photo-induced
/// luminescence modes", British Museum, 2013, appendix 1 of chapter 1; EMVA 1288 release 4.0).
pub fn flat_field(
    name: &str,
    image: &BandImage,
    flat: &BandImage,
    dark: Option<&BandImage>,
) -> Result<BandImage> {
    image.same_unit(flat)?;
    let (light, level) = match dark {
        None => (Cow::Borrowed(image), Cow::Borrowed(flat)),
        Some(dark) => (
            Cow::Owned(difference(name, image, dark)?),
            Cow::Owned(difference(&flat.name, flat, dark)?),
        ),
    };
    let mut out = both(name, image.unit.clone(), &light, &level, quotient)?;
    for (k, band) in out.bands.iter_mut().enumerate() {
        let of = &level.bands[level.band_for(k)];
        let mean = mean(&of.values).unwrap_or(1.0) as f32;
        band.values.par_iter_mut().for_each(|v| *v *= mean);
    }
    Ok(out)
}

/// Mean of the values that are there.
pub(crate) fn mean(values: &[f32]) -> Option<f64> {
    let (sum, count) = values
        .iter()
        .filter(|v| v.is_finite())
        .fold((0.0, 0_usize), |(s, n), v| (s + f64::from(*v), n + 1));
    (count > 0).then(|| sum / count as f64)
}

/// a - b, in their unit: also an image without the light that was there with the lamp off, at the same
/// exposure. Values below 0 stay, since they tell the noise.
pub fn difference(name: &str, a: &BandImage, b: &BandImage) -> Result<BandImage> {
    a.same_unit(b)?;
    both(name, a.unit.clone(), a, b, |x, y| x - y)
}

/// a / b.
pub fn ratio(name: &str, a: &BandImage, b: &BandImage) -> Result<BandImage> {
    a.same_unit(b)?;
    both(name, Unit::Dimensionless, a, b, quotient)
}

/// (a - b) / (a + b), within -1..1 for values that are not negative.
pub fn normalised_difference(name: &str, a: &BandImage, b: &BandImage) -> Result<BandImage> {
    a.same_unit(b)?;
    both(name, Unit::Dimensionless, a, b, |x, y| {
        quotient(x - y, x + y)
    })
}

/// A luminescence image without the stray light of its lamp: L - s · R for each band, s from
/// standards that do not luminesce ([`super::standards::stray_shares`]). For UVL, R is the VIS
/// image; for VIL it is the IRR image (Dyer, Verri, Cupitt 2013, chapter 3, in words; G. Verri, "The
/// spatially resolved characterisation of Egyptian blue, Han blue and Han purple by photo-induced
/// luminescence digital imaging", Analytical and Bioanalytical Chemistry 394, 2009). Values below 0
/// stay.
pub fn without_stray(
    name: &str,
    luminescence: &BandImage,
    reflected: &BandImage,
    shares: &[f64],
) -> Result<BandImage> {
    luminescence.same_pixels(reflected)?;
    if shares.len() != luminescence.bands.len() || !shares.iter().all(|s| s.is_finite()) {
        return Err(ImagingError::new(
            format!(
                "{} shares of stray light are given for {} bands, or one is no number",
                shares.len(),
                luminescence.bands.len()
            ),
            name,
            "Give one share a band of the luminescence image, in the order of the bands.",
        ));
    }
    if reflected.bands.len() != 1 && reflected.bands.len() != shares.len() {
        return Err(ImagingError::new(
            format!(
                "{} has {} bands, {} has {}",
                luminescence.name,
                shares.len(),
                reflected.name,
                reflected.bands.len()
            ),
            name,
            "Name one band of the reflected image, such as vis.green.",
        ));
    }
    let bands = luminescence.bands.iter().zip(shares).enumerate();
    let bands = bands.map(|(k, (band, share))| {
        let other = &reflected.bands[reflected.band_for(k)];
        let pairs = band.values.par_iter().zip(&other.values);
        Band {
            name: band.name.clone(),
            values: pairs.map(|(l, r)| l - *share as f32 * r).collect(),
        }
    });
    let mut out = luminescence.like(name, luminescence.unit.clone(), bands.collect());
    out.ultraviolet |= reflected.ultraviolet;
    Ok(out)
}

/// Each band divided by the sensor's relative sensitivity in it.
pub fn without_sensor(name: &str, image: &BandImage, sensitivities: &[f64]) -> Result<BandImage> {
    if sensitivities.len() != image.bands.len()
        || sensitivities.iter().any(|s| *s <= 0.0 || !s.is_finite())
    {
        return Err(ImagingError::new(
            format!(
                "{} sensitivities are given for {} bands, or one is not above 0",
                sensitivities.len(),
                image.bands.len()
            ),
            name,
            "Give one number above 0 a band, in the order of the bands, such as sensor = [0.8, 1.0, 0.6].",
        ));
    }
    Ok(each(name, image.unit.clone(), image, |k, v| {
        v / sensitivities[k] as f32
    }))
}

/// False colour in the trade's arrangement: infrared is shown red, red is shown green, green is shown
/// blue, blue is left out. All three in one unit, registered, scaled to the same standards.
pub fn infrared_false_colour(
    name: &str,
    infrared: &BandImage,
    red: &BandImage,
    green: &BandImage,
) -> Result<BandImage> {
    stacked(name, &[("red", infrared), ("green", red), ("blue", green)])
}

/// False colour with ultraviolet: green is shown red, blue is shown green, ultraviolet is shown blue.
pub fn ultraviolet_false_colour(
    name: &str,
    green: &BandImage,
    blue: &BandImage,
    ultraviolet: &BandImage,
) -> Result<BandImage> {
    stacked(
        name,
        &[("red", green), ("green", blue), ("blue", ultraviolet)],
    )
}

/// Single bands as the bands of one image, under these names.
pub fn stacked(name: &str, parts: &[(&str, &BandImage)]) -> Result<BandImage> {
    let Some((_, first)) = parts.first() else {
        return Err(ImagingError::new(
            "no band is given",
            name,
            "Name one or more.",
        ));
    };
    let mut bands = Vec::with_capacity(parts.len());
    for (band, image) in parts {
        first.same_pixels(image)?;
        first.same_unit(image)?;
        bands.push(Band {
            name: (*band).to_owned(),
            values: image.single()?.values.clone(),
        });
    }
    let mut out = first.like(name, first.unit.clone(), bands);
    out.ultraviolet = parts.iter().any(|(_, image)| image.ultraviolet);
    Ok(out)
}
