//! The label images of a document.

use std::io::Cursor;

use image::{ColorType, ExtendedColorType, ImageDecoder, ImageEncoder};

use super::RegionError;

/// The label image of one sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RegionMap {
    /// Id of the sheet in the document.
    pub sheet: String,
    /// Width in texels.
    pub width_px: u32,
    /// Height in texels.
    pub height_px: u32,
    /// Row by row from the top, `width_px * height_px` numbers.
    pub labels: Vec<u16>,
}

impl RegionMap {
    /// A map on which no texel has a number. Of more than [`MOST_TEXELS`] it
    /// has none at all.
    #[must_use]
    pub fn empty(sheet: &str, width_px: u32, height_px: u32) -> Self {
        let count = u64::from(width_px) * u64::from(height_px);
        let [width_px, height_px] = match count <= MOST_TEXELS {
            true => [width_px, height_px],
            false => [0; 2],
        };
        Self {
            sheet: sheet.to_owned(),
            width_px,
            height_px,
            labels: vec![0; width_px as usize * height_px as usize],
        }
    }

    /// Reads a PNG in greys of 8 or 16 bits whose code values are the numbers.
    ///
    /// # Errors
    /// If it is no such picture.
    pub fn from_png(sheet: &str, bytes: &[u8]) -> Result<Self, RegionError> {
        let wrong = |what: String| RegionError::Picture {
            sheet: sheet.to_owned(),
            what,
        };
        let decoder = image::codecs::png::PngDecoder::new(Cursor::new(bytes))
            .map_err(|error| wrong(error.to_string()))?;
        let (width_px, height_px) = decoder.dimensions();
        // Fewer bits are spread over 0 to 255 on reading and would be other numbers.
        let stored = decoder.original_color_type();
        if !matches!(stored, ExtendedColorType::L8 | ExtendedColorType::L16) {
            return Err(wrong(format!("its colours are {stored:?}")));
        }
        let wide = decoder.color_type() == ColorType::L16;
        let length = usize::try_from(decoder.total_bytes())
            .ok()
            .filter(|length| *length as u64 <= 2 * MOST_TEXELS)
            .ok_or_else(|| wrong(format!("it has {width_px} × {height_px} texels")))?;
        let mut codes = vec![0; length];
        decoder
            .read_image(&mut codes)
            .map_err(|error| wrong(error.to_string()))?;
        let labels = if wide {
            let pairs = codes.chunks_exact(2);
            pairs.map(|b| u16::from_ne_bytes([b[0], b[1]])).collect()
        } else {
            codes.into_iter().map(u16::from).collect()
        };
        Ok(Self {
            sheet: sheet.to_owned(),
            width_px,
            height_px,
            labels,
        })
    }

    /// As a PNG in greys: 8 bits a texel if every number fits, otherwise 16.
    ///
    /// # Errors
    /// If the map has no texels, or not as many as its width and height say.
    pub fn to_png(&self) -> Result<Vec<u8>, RegionError> {
        let wrong = |what: String| RegionError::Writing {
            sheet: self.sheet.clone(),
            what,
        };
        let wanted = u64::from(self.width_px) * u64::from(self.height_px);
        if wanted == 0 || self.labels.len() as u64 != wanted {
            let (width, height) = (self.width_px, self.height_px);
            let count = self.labels.len();
            return Err(wrong(format!(
                "it has {count} texels for {width} × {height}"
            )));
        }
        let small = self.labels.iter().all(|n| *n <= u16::from(u8::MAX));
        let (codes, kind): (Vec<u8>, _) = if small {
            let codes = self.labels.iter().map(|n| *n as u8);
            (codes.collect(), ExtendedColorType::L8)
        } else {
            let codes = self.labels.iter().flat_map(|n| n.to_ne_bytes());
            (codes.collect(), ExtendedColorType::L16)
        };
        let mut bytes = Vec::new();
        image::codecs::png::PngEncoder::new(&mut bytes)
            .write_image(&codes, self.width_px, self.height_px, kind)
            .map_err(|error| wrong(error.to_string()))?;
        Ok(bytes)
    }
}

/// Most texels that all maps together may have: they are counted in 32 bits,
/// and the geometry of each takes 5 bytes. Choice of this project.
pub const MOST_TEXELS: u64 = 1 << 29;

/// The region maps of all sheets, in the order of the document.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RegionMaps {
    /// One per sheet.
    pub maps: Vec<RegionMap>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(labels: &[u16]) -> RegionMap {
        RegionMap {
            sheet: "crown".to_owned(),
            width_px: 3,
            height_px: 2,
            labels: labels.to_vec(),
        }
    }

    #[test]
    fn a_png_holds_every_number_in_as_few_bits_as_will_do() {
        // The bit depth stands in byte 24 of a PNG (ISO/IEC 15948, 11.2.2).
        for (labels, bits) in [
            ([0, 1, 2, 3, 254, 255], 8),
            ([0, 1, 2, 3, 255, 256], 16),
            ([0, 258, 65535, 1, 0, 4097], 16),
        ] {
            let map = map(&labels);
            let bytes = map.to_png().unwrap();
            assert_eq!(bytes[24], bits);
            assert_eq!(RegionMap::from_png("crown", &bytes).unwrap(), map);
        }
    }

    #[test]
    fn what_is_no_map_is_refused_with_the_sheet_named() {
        let mut colour = Vec::new();
        image::codecs::png::PngEncoder::new(&mut colour)
            .write_image(&[9; 3], 1, 1, ExtendedColorType::Rgb8)
            .unwrap();
        for bytes in [&b"no picture"[..], &colour] {
            let text = RegionMap::from_png("crown", bytes).unwrap_err().to_string();
            assert!(text.contains("\"crown\"") && text.contains("PNG"), "{text}");
        }
        assert!(map(&[1, 2, 3]).to_png().is_err());
        assert!(RegionMap::empty("crown", 0, 4).to_png().is_err());
        let vast = RegionMap::empty("crown", u32::MAX, u32::MAX);
        assert!(vast.labels.is_empty() && vast.to_png().is_err());
    }
}
