//! What the head of a photograph says, without its pixels.

use std::io::{BufRead, BufReader, Seek};

use image::metadata::Orientation;
use image::{ImageDecoder, ImageReader};

use super::unreadable;
use crate::error::Result;
use crate::geometry::Point;

/// How the pixels as stored are to be turned for showing (Exif tag 274; CIPA DC-008, 4.6.4).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Turned(Orientation);

/// Size and turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct About {
    /// Width of the pixels as stored.
    pub width_px: usize,
    /// Height of the pixels as stored.
    pub height_px: usize,
    /// How they are shown.
    pub turned: Turned,
}

impl About {
    /// Reads the head of a PNG, TIFF, JPEG, WebP or linear DNG; `name` is for messages.
    ///
    /// # Errors
    /// It is none.
    pub fn read<R: BufRead + Seek>(reader: R, name: &str) -> Result<Self> {
        let bad = |what: String| unreadable(name, what);
        let (reader, _) = super::dng::open(reader, name)?;
        let reader = ImageReader::new(BufReader::new(reader))
            .with_guessed_format()
            .map_err(|e| bad(e.to_string()))?;
        let mut decoder = reader.into_decoder().map_err(|e| bad(e.to_string()))?;
        let (width, height) = decoder.dimensions();
        let turned = decoder.orientation().unwrap_or(Orientation::NoTransforms);
        Ok(Self {
            width_px: width as usize,
            height_px: height as usize,
            turned: Turned(turned),
        })
    }

    /// A position in the picture as shown, in the pixels as stored.
    pub fn stored_of_shown(&self, [x, y]: Point) -> Point {
        let (w, h) = (self.width_px as f64, self.height_px as f64);
        match self.turned.0 {
            Orientation::NoTransforms => [x, y],
            Orientation::FlipHorizontal => [w - x, y],
            Orientation::Rotate180 => [w - x, h - y],
            Orientation::FlipVertical => [x, h - y],
            Orientation::Rotate90FlipH => [y, x],
            Orientation::Rotate90 => [y, h - x],
            Orientation::Rotate270FlipH => [w - y, h - x],
            Orientation::Rotate270 => [w - y, x],
        }
    }
}

impl Turned {
    /// Whether showing and storing differ.
    pub fn is_turned(self) -> bool {
        self.0 != Orientation::NoTransforms
    }

    /// The value of the Exif tag.
    pub fn exif(self) -> u8 {
        self.0.to_exif()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{DynamicImage, GrayImage, Luma};

    #[test]
    fn positions_go_where_the_library_turns_pixels() {
        let (w, h) = (5, 3);
        let stored = GrayImage::from_fn(w, h, |x, y| Luma([(y * w + x) as u8]));
        for exif in 1..=8 {
            let orientation = Orientation::from_exif(exif).unwrap();
            let about = About {
                width_px: w as usize,
                height_px: h as usize,
                turned: Turned(orientation),
            };
            let mut shown = DynamicImage::ImageLuma8(stored.clone());
            shown.apply_orientation(orientation);
            for (x, y, pixel) in shown.into_luma8().enumerate_pixels() {
                let [u, v] = about.stored_of_shown([f64::from(x) + 0.5, f64::from(y) + 0.5]);
                let there = stored.get_pixel(u.floor() as u32, v.floor() as u32);
                assert_eq!(there, pixel, "tag {exif}: {x} {y}");
            }
        }
    }
}
