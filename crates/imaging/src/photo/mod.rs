//! Photographs: 8- or 16-bit PNG, TIFF or JPEG with three channels, and linear DNG.

mod about;
mod dng;
mod encoding;
mod field;
mod metadata;

use std::io::{BufRead, BufReader, Seek};

use image::{ColorType, DynamicImage, ImageDecoder, ImageReader, Limits};

pub use about::{About, Turned};
pub use encoding::{Encoding, EncodingRecord};
pub use field::{Field, Flat};

use crate::camera::CameraRgb;
use crate::error::{ImagingError, Result};

/// The largest photograph read, in bytes of decoded samples: 600 megapixels of 16-bit RGB, and what
/// a TIFF with 32-bit offsets can hold.
const LARGEST_BYTES: u64 = 3_600_000_000;

/// A photograph as its codes.
#[derive(Debug, Clone, PartialEq)]
pub struct Photo {
    /// The file's name, for messages.
    pub name: String,
    /// Width in pixels.
    pub width_px: usize,
    /// Height in pixels.
    pub height_px: usize,
    /// Bits a sample in the file: 8 or 16.
    pub bits: u8,
    /// `3 * width * height` samples, row by row; 8-bit codes times 257.
    pub samples: Vec<u16>,
    /// How codes stand for light.
    pub encoding: Encoding,
    /// What the encoding was taken from.
    pub encoding_from: String,
    /// The ICC profile in the file.
    pub icc_profile: Option<Vec<u8>>,
}

impl Photo {
    /// Reads a photograph. `declared` is the encoding where the caller knows it; otherwise it is
    /// linear for a linear DNG, and else taken from the ICC profile, the PNG chunks `sRGB` and `gAMA`, or the EXIF colour space, and
    /// assumed last: sRGB for 8 bits, linear for 16.
    ///
    /// # Errors
    /// It is no such photograph, or has one channel.
    pub fn read<R: BufRead + Seek>(
        reader: R,
        name: &str,
        declared: Option<Encoding>,
    ) -> Result<Self> {
        Self::read_as(reader, name, declared, false)
    }

    /// As [`Photo::read`], also with one channel, which is then in all three.
    ///
    /// # Errors
    /// It is no such photograph.
    pub fn read_band<R: BufRead + Seek>(
        reader: R,
        name: &str,
        declared: Option<Encoding>,
    ) -> Result<Self> {
        Self::read_as(reader, name, declared, true)
    }

    fn read_as<R: BufRead + Seek>(
        mut reader: R,
        name: &str,
        declared: Option<Encoding>,
        one_channel: bool,
    ) -> Result<Self> {
        let bad = |what: String| unreadable(name, what);
        let hint = metadata::png_hint(&mut reader).map_err(|e| bad(e.to_string()))?;
        let (reader, levels) = dng::open(reader, name)?;
        let mut reader = ImageReader::new(BufReader::new(reader))
            .with_guessed_format()
            .map_err(|e| bad(e.to_string()))?;
        let mut limits = Limits::no_limits();
        limits.max_alloc = Some(LARGEST_BYTES);
        reader.limits(limits);
        let mut decoder = reader.into_decoder().map_err(|e| bad(e.to_string()))?;
        let bits = bits_of(decoder.color_type(), name, one_channel)?;
        let icc = decoder.icc_profile().ok().flatten();
        let exif = decoder.exif_metadata().ok().flatten();
        let (encoding, encoding_from) = match declared {
            Some(encoding) => (encoding, "declared".to_owned()),
            None if levels.is_some() => (Encoding::Linear, "linear DNG".to_owned()),
            None => metadata::guess(icc.as_deref(), hint, exif.as_deref(), bits),
        };
        let image = DynamicImage::from_decoder(decoder).map_err(|e| bad(e.to_string()))?;
        // No copy for 16-bit RGB; 8-bit codes are multiplied by 257, which is exact.
        let image = image.into_rgb16();
        let (width_px, height_px) = (image.width() as usize, image.height() as usize);
        let mut samples = image.into_raw();
        if let Some(levels) = levels {
            levels.apply(&mut samples);
        }
        Ok(Self {
            name: name.to_owned(),
            width_px,
            height_px,
            bits,
            samples,
            encoding,
            encoding_from,
            icc_profile: icc,
        })
    }

    /// Whether the three channels are the same everywhere.
    pub fn is_grey(&self) -> bool {
        let mut pixels = self.samples.chunks_exact(3);
        pixels.all(|p| p[0] == p[1] && p[1] == p[2])
    }

    /// The codes of a pixel as fractions of the largest.
    pub fn encoded(&self, x: usize, y: usize) -> [f64; 3] {
        let at = 3 * (y * self.width_px + x);
        [0, 1, 2].map(|c| f64::from(self.samples[at + c]) / 65535.0)
    }

    /// An error if `other` has another size.
    pub fn same_size(&self, other: &Self) -> Result<()> {
        let size = |photo: &Self| (photo.width_px, photo.height_px);
        if size(self) == size(other) {
            return Ok(());
        }
        Err(ImagingError::new(
            format!(
                "it is {} × {} px, the photograph {} × {} px",
                other.width_px, other.height_px, self.width_px, self.height_px
            ),
            other.name.clone(),
            "Take flat field and dark frame with the same camera, lens and setting.",
        ))
    }
}

fn unreadable(name: &str, what: String) -> ImagingError {
    ImagingError::new(
        format!("the photograph cannot be read: {what}"),
        name,
        "Give an 8- or 16-bit PNG, TIFF or JPEG, or a linear DNG; develop other raw files to a \
         linear 16-bit TIFF first.",
    )
}

fn bits_of(colour: ColorType, name: &str, one_channel: bool) -> Result<u8> {
    match colour {
        ColorType::L8 | ColorType::La8 if one_channel => Ok(8),
        ColorType::L16 | ColorType::La16 if one_channel => Ok(16),
        ColorType::Rgb8 | ColorType::Rgba8 => Ok(8),
        ColorType::Rgb16 | ColorType::Rgba16 => Ok(16),
        ColorType::L8 | ColorType::L16 | ColorType::La8 | ColorType::La16 => Err(unreadable(
            name,
            "it has one channel, and colour needs three".to_owned(),
        )),
        other => Err(unreadable(name, format!("samples of the kind {other:?}"))),
    }
}

/// A photograph seen as linear light, with flat field and dark frame applied.
#[derive(Debug)]
pub struct LinearPhoto<'a> {
    /// The photograph.
    pub photo: &'a Photo,
    light_of_code: Vec<f32>,
    field: Option<&'a Field>,
}

impl<'a> LinearPhoto<'a> {
    /// The view.
    pub fn new(photo: &'a Photo, field: Option<&'a Field>) -> Self {
        Self {
            photo,
            light_of_code: photo.encoding.light_of_code(),
            field,
        }
    }

    /// Linear camera values of a pixel. Not limited: a dark frame can take values below 0.
    pub fn at(&self, x: usize, y: usize) -> CameraRgb {
        let at = 3 * (y * self.photo.width_px + x);
        let raw: [f64; 3] = [0, 1, 2].map(|c| {
            let code = usize::from(self.photo.samples[at + c]);
            f64::from(self.light_of_code[code])
        });
        match self.field {
            None => CameraRgb(raw),
            Some(field) => CameraRgb(field.apply(raw, x, y, &self.light_of_code)),
        }
    }
}
