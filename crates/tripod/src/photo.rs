//! The photograph: read, and made ready to be looked at.

use std::io::Cursor;

use ganosis_colorimetry::rgb::encode_srgb;
use ganosis_imaging::photo::About;
use ganosis_imaging::register::Plane;
use ganosis_imaging::{Encoding, Photo};

use crate::{Tripod, TripodError};

/// Linear photographs are brightened for looking until this share of the pixels is no lighter than
/// [`LIGHT`]: few highlights are to decide (choices of ours).
const SHARE: f64 = 0.995;
const LIGHT: f32 = 0.9;

/// The longer side of the picture that agreement is sought in: less than the command's, since a browser
/// lends one core (a choice of ours).
const SOUGHT_PX: usize = 1536;

/// What is kept of a photograph.
pub(crate) struct Held {
    pub(crate) about: About,
    /// Its light, at a size of its own.
    pub(crate) plane: Plane,
    /// Pixels of the photograph along a pixel of that.
    pub(crate) level_px: f64,
}

/// A photograph as it is shown: pixels as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// Of the file.
    pub width_px: usize,
    /// Of the file.
    pub height_px: usize,
    /// Pixels of the file along a pixel shown.
    pub shrunk: usize,
    /// Width of what is shown.
    pub shown_width: usize,
    /// Height of what is shown.
    pub shown_height: usize,
    /// Encoded sRGB, opaque.
    pub rgba: Vec<u8>,
    /// Bits a sample.
    pub bits: u8,
    /// The EXIF orientation, 1 to 8.
    pub exif: u8,
    /// How codes stand for light, and what tells it.
    pub encoding: String,
    /// Light is shown so many times as strong.
    pub gain: f32,
}

impl Tripod {
    /// Takes a photograph; what is shown is at most `largest_px` along a side. `encoding` is `linear` or
    /// `srgb` where the person says so.
    ///
    /// # Errors
    /// It is no photograph, or the encoding has no such name.
    pub fn take(
        &mut self,
        bytes: &[u8],
        name: &str,
        encoding: Option<&str>,
        largest_px: usize,
    ) -> Result<Shown, TripodError> {
        let declared: Option<Encoding> = encoding.map(str::parse).transpose()?;
        let about = About::read(Cursor::new(bytes), name)?;
        let photo = Photo::read_band(Cursor::new(bytes), name, declared)?;
        let shown = shown(&photo, &about, largest_px.max(1));
        let plane = Plane::of(&photo);
        drop(photo);
        let (plane, level_px) = plane.at_most(SOUGHT_PX);
        self.photo = Some(Held {
            about,
            plane,
            level_px,
        });
        Ok(shown)
    }

    pub(crate) fn held(&self) -> Result<&Held, TripodError> {
        self.photo
            .as_ref()
            .ok_or_else(|| "no photograph has been chosen".into())
    }
}

fn shown(photo: &Photo, about: &About, largest_px: usize) -> Shown {
    let light = photo.encoding.light_of_code();
    let gain = gain(photo, &light);
    let shrunk = photo.width_px.max(photo.height_px).div_ceil(largest_px);
    // What is left over at the right and at the bottom is not shown.
    let (width, height) = (photo.width_px / shrunk, photo.height_px / shrunk);
    // Codes of light in steps that 8 bits of sRGB cannot tell apart.
    let code_of: Vec<u8> = (0..=4095)
        .map(|step| (255.0 * encode_srgb(f64::from(step) / 4095.0)).round() as u8)
        .collect();
    let by = gain / (shrunk * shrunk) as f32;
    let mut rgba = Vec::with_capacity(4 * width * height);
    for y in 0..height {
        for x in 0..width {
            let mut sum = [0.0_f32; 3];
            for row in y * shrunk..(y + 1) * shrunk {
                for column in x * shrunk..(x + 1) * shrunk {
                    let at = 3 * (row * photo.width_px + column);
                    for (sum, &code) in sum.iter_mut().zip(&photo.samples[at..at + 3]) {
                        *sum += light[usize::from(code)];
                    }
                }
            }
            let step = |light: f32| ((light * by).clamp(0.0, 1.0) * 4095.0 + 0.5) as usize;
            rgba.extend(sum.map(|light| code_of[step(light)]));
            rgba.push(255);
        }
    }
    Shown {
        width_px: photo.width_px,
        height_px: photo.height_px,
        shrunk,
        shown_width: width,
        shown_height: height,
        rgba,
        bits: photo.bits,
        exif: about.turned.exif(),
        encoding: photo.encoding.to_string(),
        gain,
    }
}

/// A photograph in sRGB is shown as it is.
fn gain(photo: &Photo, light: &[f32]) -> f32 {
    if photo.encoding == Encoding::Srgb {
        return 1.0;
    }
    let stride = 3 * (photo.samples.len() / 3 / 200_000).max(1);
    let mut lights: Vec<f32> = photo
        .samples
        .iter()
        .step_by(stride)
        .map(|&code| light[usize::from(code)])
        .collect();
    if lights.is_empty() {
        return 1.0;
    }
    let at = ((lights.len() - 1) as f64 * SHARE) as usize;
    let high = *lights.select_nth_unstable_by(at, f32::total_cmp).1;
    if high > 0.0 { LIGHT / high } else { 1.0 }
}
