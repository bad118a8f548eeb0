//! Images as rows from the top, decoded a row at a time where the format allows it.

use std::io::Cursor;

use image::{DynamicImage, GenericImageView, ImageReader, Limits};

use super::PackError;

/// What an image holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Encoded colour.
    Colour,
    /// One number a texel, which may be averaged.
    Band,
    /// Region numbers, which may not.
    Labels,
}

/// A texel in memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Texel {
    /// Encoded red, green, blue and alpha, 8 bits each.
    Rgba8,
    /// One number of 8 bits.
    Grey8,
    /// One number of 16 bits, the lower byte first.
    Grey16,
}

impl Texel {
    /// Bytes of one.
    #[must_use]
    pub fn bytes(self) -> usize {
        match self {
            Self::Rgba8 => 4,
            Self::Grey8 => 1,
            Self::Grey16 => 2,
        }
    }
}

/// An image that is read from the top.
pub struct Rows<'a> {
    /// Width and height (px).
    pub size: [u32; 2],
    /// What a texel is.
    pub texel: Texel,
    source: Source<'a>,
}

enum Source<'a> {
    Png(Box<png::Reader<Cursor<&'a [u8]>>>),
    Whole(DynamicImage, u32),
}

/// Memory that one decoded image may take: RGBA of 8 bits, 16,384 px squared, and as much again.
const LARGEST_BYTES: u64 = 2 << 30;

impl<'a> Rows<'a> {
    /// Begins to read an image of `kind` from the bytes of its file.
    ///
    /// # Errors
    /// Bytes that are no image, or one with the wrong channels.
    pub fn open(bytes: &'a [u8], kind: Kind) -> Result<Self, PackError> {
        if let Some(rows) = Self::png(bytes, kind)? {
            return Ok(rows);
        }
        let unreadable = |e: &dyn std::fmt::Display| PackError::Unreadable(e.to_string());
        let mut reader = ImageReader::new(Cursor::new(bytes))
            .with_guessed_format()
            .map_err(|e| unreadable(&e))?;
        let mut limits = Limits::default();
        limits.max_alloc = Some(LARGEST_BYTES);
        reader.limits(limits);
        let image = reader.decode().map_err(|e| unreadable(&e))?;
        let texel = match (&image, kind) {
            (_, Kind::Colour) => Texel::Rgba8,
            (DynamicImage::ImageLuma8(_), _) => Texel::Grey8,
            (DynamicImage::ImageLuma16(_), _) => Texel::Grey16,
            (other, _) => return Err(PackError::NotGrey(format!("{:?}", other.color()))),
        };
        Ok(Self {
            size: [image.width(), image.height()],
            texel,
            source: Source::Whole(image, 0),
        })
    }

    /// A PNG without interlacing is read row by row; nothing where it is something else.
    fn png(bytes: &'a [u8], kind: Kind) -> Result<Option<Self>, PackError> {
        if !bytes.starts_with(b"\x89PNG") {
            return Ok(None);
        }
        let unreadable = |e: png::DecodingError| PackError::Unreadable(e.to_string());
        let mut decoder = png::Decoder::new(Cursor::new(bytes));
        // Palettes and few bits become whole samples.
        decoder.set_transformations(png::Transformations::EXPAND);
        let reader = decoder.read_info().map_err(unreadable)?;
        let info = reader.info();
        let (colour, depth) = reader.output_color_type();
        let grey = colour == png::ColorType::Grayscale;
        let texel = match (kind, grey, depth) {
            (Kind::Colour, ..) => Texel::Rgba8,
            (_, true, png::BitDepth::Sixteen) => Texel::Grey16,
            (_, true, _) => Texel::Grey8,
            _ => return Err(PackError::NotGrey(format!("{colour:?}"))),
        };
        if info.interlaced {
            return Ok(None);
        }
        Ok(Some(Self {
            size: [info.width, info.height],
            texel,
            source: Source::Png(Box::new(reader)),
        }))
    }

    /// The next row.
    ///
    /// # Errors
    /// A file that ends early or is damaged.
    pub fn next_row(&mut self) -> Result<Option<Vec<u8>>, PackError> {
        let texel = self.texel;
        match &mut self.source {
            Source::Png(reader) => {
                let (colour, depth) = reader.output_color_type();
                let row = reader
                    .next_row()
                    .map_err(|e| PackError::Unreadable(e.to_string()))?;
                Ok(row.map(|row| of_png(row.data(), colour, depth, texel)))
            }
            Source::Whole(image, next) => {
                if *next >= image.height() {
                    return Ok(None);
                }
                let row = of_image(image, *next, texel);
                *next += 1;
                Ok(Some(row))
            }
        }
    }
}

/// 8 bits of 16, rounded: 65535 / 257 = 255.
fn eight(sample: u16) -> u8 {
    ((u32::from(sample) + 128) / 257) as u8
}

fn of_png(data: &[u8], colour: png::ColorType, depth: png::BitDepth, texel: Texel) -> Vec<u8> {
    let wide = depth == png::BitDepth::Sixteen;
    match texel {
        Texel::Grey8 => return data.to_vec(),
        // PNG has the upper byte first (ISO/IEC 15948, 7.1).
        Texel::Grey16 => {
            return data
                .as_chunks::<2>()
                .0
                .iter()
                .flat_map(|[h, l]| [*l, *h])
                .collect();
        }
        Texel::Rgba8 => {}
    }
    let narrow: Vec<u8>;
    let data = if wide {
        narrow = data
            .as_chunks::<2>()
            .0
            .iter()
            .map(|b| eight(u16::from_be_bytes(*b)))
            .collect();
        &narrow
    } else {
        data
    };
    match colour {
        png::ColorType::Rgba => data.to_vec(),
        png::ColorType::Rgb => opaque(data),
        png::ColorType::GrayscaleAlpha => data
            .as_chunks::<2>()
            .0
            .iter()
            .flat_map(|[v, a]| [*v, *v, *v, *a])
            .collect(),
        _ => data.iter().flat_map(|v| [*v, *v, *v, 255]).collect(),
    }
}

fn of_image(image: &DynamicImage, y: u32, texel: Texel) -> Vec<u8> {
    let width = image.width() as usize;
    let from = y as usize * width;
    match (image, texel) {
        (DynamicImage::ImageLuma8(i), Texel::Grey8) => i.as_raw()[from..from + width].to_vec(),
        (DynamicImage::ImageLuma16(i), Texel::Grey16) => {
            let row = &i.as_raw()[from..from + width];
            row.iter().flat_map(|v| v.to_le_bytes()).collect()
        }
        (DynamicImage::ImageRgba8(i), _) => i.as_raw()[from * 4..(from + width) * 4].to_vec(),
        (DynamicImage::ImageRgb8(i), _) => {
            let row = &i.as_raw()[from * 3..(from + width) * 3];
            opaque(row)
        }
        (other, _) => (0..image.width())
            .flat_map(|x| other.get_pixel(x, y).0)
            .collect(),
    }
}

fn opaque(rgb: &[u8]) -> Vec<u8> {
    let mut out = vec![255; rgb.len() / 3 * 4];
    let texels = out.as_chunks_mut::<4>().0;
    for (texel, colour) in texels.iter_mut().zip(rgb.as_chunks::<3>().0) {
        texel[..3].copy_from_slice(colour);
    }
    out
}
