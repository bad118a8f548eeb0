//! Greyscale images of one number a texel: band images and region maps.

use std::io::Cursor;

use image::{DynamicImage, ImageDecoder, ImageReader, Limits};

/// Why an image could not be read.
#[derive(Debug, thiserror::Error)]
pub enum DecodeError {
    /// It is no PNG, or a damaged one.
    #[error("the image cannot be read ({0}); save it again as a greyscale PNG of 8 or 16 bits")]
    Unreadable(#[from] image::ImageError),
    /// It is a colour image.
    #[error(
        "the image is {found}; a band image or region map has one channel: save it as a greyscale PNG of 8 or 16 bits"
    )]
    NotGrey {
        /// What it is.
        found: String,
    },
    /// It has no texel.
    #[error("the image is {0} × {1} px; it needs at least one pixel")]
    Empty(u32, u32),
}

/// Largest side that is decoded (px): that of the largest texture a device may have.
const LARGEST_PX: u32 = 32_768;
/// Memory that one image may take: 16 bits of the largest texture in use, 16,384².
const LARGEST_BYTES: u64 = 512 << 20;

/// Numbers of a greyscale image, rows from the top.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grey {
    /// Width and height (px).
    pub size: [u32; 2],
    /// A number a texel.
    pub texels: Vec<u16>,
    /// The number that stands for the upper end of the range.
    pub full_scale: u16,
}

/// Decodes a greyscale PNG of 8 or 16 bits; the numbers are the file's own.
///
/// # Errors
/// [`DecodeError`], before memory is taken for absurd sizes.
pub fn grey(bytes: &[u8]) -> Result<Grey, DecodeError> {
    let mut reader = ImageReader::with_format(Cursor::new(bytes), image::ImageFormat::Png);
    let mut limits = Limits::default();
    limits.max_image_width = Some(LARGEST_PX);
    limits.max_image_height = Some(LARGEST_PX);
    limits.max_alloc = Some(LARGEST_BYTES);
    reader.limits(limits);
    let decoder = reader.into_decoder()?;
    let (width, height) = decoder.dimensions();
    if width == 0 || height == 0 {
        return Err(DecodeError::Empty(width, height));
    }
    let size = [width, height];
    match DynamicImage::from_decoder(decoder)? {
        DynamicImage::ImageLuma8(image) => Ok(Grey {
            size,
            texels: image.into_raw().into_iter().map(u16::from).collect(),
            full_scale: u16::from(u8::MAX),
        }),
        DynamicImage::ImageLuma16(image) => Ok(Grey {
            size,
            texels: image.into_raw(),
            full_scale: u16::MAX,
        }),
        other => Err(DecodeError::NotGrey {
            found: format!("{:?}", other.color()),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn png(image: &DynamicImage) -> Vec<u8> {
        let mut bytes = Vec::new();
        image
            .write_to(&mut Cursor::new(&mut bytes), image::ImageFormat::Png)
            .expect("written");
        bytes
    }

    #[test]
    fn numbers_come_out_as_they_went_in() {
        let eight = image::GrayImage::from_raw(2, 1, vec![7, 255]).expect("fits");
        let values = grey(&png(&eight.into())).expect("read");
        assert_eq!(
            (values.texels.as_slice(), values.full_scale),
            (&[7_u16, 255][..], 255)
        );
        let sixteen = image::ImageBuffer::from_raw(1, 2, vec![1_u16, 65535]).expect("fits");
        let values = grey(&png(&DynamicImage::ImageLuma16(sixteen))).expect("read");
        assert_eq!(
            (values.texels.as_slice(), values.full_scale),
            (&[1_u16, 65535][..], 65535)
        );
    }

    #[test]
    fn colour_and_damage_are_said() {
        let colour = image::RgbImage::new(1, 1);
        assert!(matches!(
            grey(&png(&colour.into())),
            Err(DecodeError::NotGrey { .. })
        ));
        let whole = png(&image::GrayImage::new(8, 8).into());
        assert!(matches!(
            grey(&whole[..whole.len() / 2]),
            Err(DecodeError::Unreadable(_))
        ));
        assert!(grey(b"not a png").is_err());
    }
}
