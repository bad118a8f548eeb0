//! Layers flattened into one picture.

use std::io::Cursor;

use ganosis_audit::decoded::decode;
use ganosis_colorimetry::rgb::{LinearP3, LinearSrgb, RgbSpace as _, Srgb};
use ganosis_dossier::document::ColourSpace;
use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ExtendedColorType, ImageFormat, RgbImage, RgbaImage};

use super::Purpose;
use crate::error::ExportError;

/// Quality of JPEG, 0 to 100. Lossy: about 1 CIEDE2000 on average on photographs.
const JPEG_QUALITY: u8 = 92;

/// An encoded picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Name of its own, without extension.
    pub name: String,
    /// `image/png` or `image/jpeg`.
    pub media_type: &'static str,
    /// The file.
    pub bytes: Vec<u8>,
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
}

impl Picture {
    /// `png` or `jpg`.
    #[must_use]
    pub fn extension(&self) -> &'static str {
        if self.media_type == "image/png" {
            "png"
        } else {
            "jpg"
        }
    }
}

/// Layers laid over one another, bottom first, each by its alpha, over `base`
/// (linear RGB), mixed in linear light.
pub(super) fn flattened(
    name: &str,
    layers: Vec<(Option<&ColourSpace>, DynamicImage)>,
    base: [f32; 4],
    purpose: Purpose,
) -> Result<Picture, ExportError> {
    let wide = |space| matches!(space, Some(&ColourSpace::DisplayP3));
    let sources: Vec<_> = layers
        .into_iter()
        .map(|(space, image)| (image.into_rgba8(), wide(space)))
        .collect();
    let width = sources
        .iter()
        .map(|(image, _)| image.width())
        .max()
        .unwrap_or(1);
    let height = sources
        .iter()
        .map(|(image, _)| image.height())
        .max()
        .unwrap_or(1);
    let [width_px, height_px] = fitted([width, height], purpose.largest_px());
    let same = |image: &RgbaImage| image.dimensions() == (width_px, height_px);
    let mut picture = RgbImage::new(width_px, height_px);
    if let [(image, false)] = sources.as_slice()
        && same(image)
        && image.pixels().all(|pixel| pixel[3] == u8::MAX)
    {
        // Nothing is computed that could move a code value.
        for (to, from) in picture.pixels_mut().zip(image.pixels()) {
            to.0 = [from[0], from[1], from[2]];
        }
    } else {
        let light = light_of_codes();
        for (x, y, pixel) in picture.enumerate_pixels_mut() {
            let mut colour = [base[0], base[1], base[2]].map(f64::from);
            for (image, wide) in &sources {
                let (above, alpha) = averaged(image, [x, y], [width_px, height_px], *wide, &light);
                for channel in 0..3 {
                    colour[channel] = colour[channel] * (1.0 - alpha) + above[channel];
                }
            }
            let [r, g, b] = colour;
            pixel.0 = LinearSrgb::new(r, g, b).encode().to_u8();
        }
    }
    encoded(name, &picture, purpose)
}

/// A picture that came with the mesh.
pub(super) fn own(name: &str, bytes: &[u8], purpose: Purpose) -> Result<Picture, String> {
    let image = decode(bytes)?.into_rgba8();
    let (width, height) = image.dimensions();
    let size = fitted([width, height], purpose.largest_px());
    let light = light_of_codes();
    let mut picture = RgbImage::new(size[0], size[1]);
    for (x, y, pixel) in picture.enumerate_pixels_mut() {
        if size == [width, height] {
            let [r, g, b, _] = image.get_pixel(x, y).0;
            pixel.0 = [r, g, b];
        } else {
            let (colour, alpha) = averaged(&image, [x, y], size, false, &light);
            let [r, g, b] = colour.map(|value| value / alpha.max(f64::MIN_POSITIVE));
            pixel.0 = LinearSrgb::new(r, g, b).encode().to_u8();
        }
    }
    encoded(name, &picture, purpose).map_err(|error| error.to_string())
}

/// As large as it may be, with the sides in the same proportion.
fn fitted([width, height]: [u32; 2], largest: u32) -> [u32; 2] {
    let longer = width.max(height).max(1);
    if longer <= largest {
        return [width.max(1), height.max(1)];
    }
    let scale = f64::from(largest) / f64::from(longer);
    [width, height].map(|side| ((f64::from(side) * scale).round() as u32).max(1))
}

fn light_of_codes() -> [f64; 256] {
    std::array::from_fn(|code| Srgb::decode(code as f64 / 255.0))
}

/// Mean of what a pixel of the picture covers of an image: linear sRGB
/// multiplied by alpha, and alpha.
fn averaged(
    image: &RgbaImage,
    [x, y]: [u32; 2],
    [width, height]: [u32; 2],
    wide: bool,
    light: &[f64; 256],
) -> ([f64; 3], f64) {
    let span = |at: u32, of: u32, side: u32| {
        let scale = f64::from(side) / f64::from(of);
        (f64::from(at) * scale, f64::from(at + 1) * scale)
    };
    let (left, right) = span(x, width, image.width());
    let (top, bottom) = span(y, height, image.height());
    let (mut colour, mut alpha, mut area) = ([0.0; 3], 0.0, 0.0);
    for row in (top as u32)..(bottom.ceil() as u32).min(image.height()) {
        let tall = bottom.min(f64::from(row + 1)) - top.max(f64::from(row));
        for column in (left as u32)..(right.ceil() as u32).min(image.width()) {
            let broad = right.min(f64::from(column + 1)) - left.max(f64::from(column));
            let weight = tall * broad;
            let [r, g, b, a] = image.get_pixel(column, row).0;
            let share = weight * f64::from(a) / 255.0;
            for (sum, code) in colour.iter_mut().zip([r, g, b]) {
                *sum += share * light[usize::from(code)];
            }
            alpha += share;
            area += weight;
        }
    }
    let area = area.max(f64::MIN_POSITIVE);
    let [r, g, b] = colour.map(|sum| sum / area);
    if wide {
        let linear: LinearSrgb = LinearP3::new(r, g, b).to_xyz_d65().into();
        return (linear.to_array(), alpha / area);
    }
    ([r, g, b], alpha / area)
}

fn encoded(name: &str, picture: &RgbImage, purpose: Purpose) -> Result<Picture, ExportError> {
    let unusable = |error: image::ImageError| ExportError::Unusable {
        file: name.to_owned(),
        reason: error.to_string(),
    };
    let mut bytes = Vec::new();
    let media_type = if purpose == Purpose::Archive {
        picture
            .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)
            .map_err(unusable)?;
        "image/png"
    } else {
        JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY)
            .encode(
                picture.as_raw(),
                picture.width(),
                picture.height(),
                ExtendedColorType::Rgb8,
            )
            .map_err(unusable)?;
        "image/jpeg"
    };
    Ok(Picture {
        name: name.to_owned(),
        media_type,
        bytes,
        width_px: picture.width(),
        height_px: picture.height(),
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail by panic")]
mod tests {
    use super::*;

    /// By hand: black and white in equal parts are half the light, which is
    /// code 188 (IEC 61966-2-1: 1.055 * 0.5^(1/2.4) - 0.055 = 0.7354).
    #[test]
    fn pictures_are_made_smaller_in_linear_light() {
        let image = RgbaImage::from_fn(2, 1, |x, _| image::Rgba([x as u8 * 255; 4].map(|v| v)));
        let opaque = RgbaImage::from_fn(2, 1, |x, _| {
            let v = image.get_pixel(x, 0)[0];
            image::Rgba([v, v, v, 255])
        });
        let (colour, alpha) = averaged(&opaque, [0, 0], [1, 1], false, &light_of_codes());
        assert_eq!(
            LinearSrgb::new(colour[0], colour[1], colour[2])
                .encode()
                .to_u8(),
            [188; 3]
        );
        assert!((alpha - 1.0).abs() < 1e-12);
        assert_eq!(fitted([4000, 1000], 1024), [1024, 256]);
        assert_eq!(fitted([10, 20], 1024), [10, 20]);
    }
}
