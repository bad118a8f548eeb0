//! Photographs written as uncompressed 16-bit TIFF with their ICC profile and the record of what was
//! done.

use std::io::{Seek, Write};
use std::sync::mpsc::sync_channel;

use tiff::TiffResult;
use tiff::encoder::colortype::{Gray16, RGB16};
use tiff::encoder::{
    DirectoryEncoder, ImageEncoder, TiffEncoder, TiffKind, TiffKindBig, TiffKindStandard, TiffValue,
};
use tiff::tags::{Tag, Type};

use crate::correct::{Corrector, Limited};
use crate::error::{ImagingError, Result};
use crate::icc::OutputSpace;
use crate::photo::Photo;

/// Rows written at once: some megabytes of a large photograph.
const STRIP_ROWS: usize = 64;

/// Strips corrected and not yet written, at most.
const AHEAD: usize = 4;

/// Places in a TIFF 6.0 file are 32 bits (section 2), so that it ends before 4 GiB. Samples that leave
/// less than this of it for tags, profile and record go into a BigTIFF, whose places are 64 bits (a
/// choice of ours: those take some kilobytes).
const LARGEST_CLASSIC_BYTES: u64 = (1 << 32) - (64 << 20);

/// Bytes of the TIFF field type UNDEFINED, which ICC.1:2022 annex B.4 asks for.
struct Undefined<'a>(&'a [u8]);

impl TiffValue for Undefined<'_> {
    const BYTE_LEN: u8 = 1;
    const FIELD_TYPE: Type = Type::UNDEFINED;

    fn count(&self) -> usize {
        self.0.len()
    }

    fn data(&self) -> std::borrow::Cow<'_, [u8]> {
        std::borrow::Cow::Borrowed(self.0)
    }
}

/// Writes a photograph whose samples are codes of `space`. Letters of the description beyond ASCII,
/// which the field cannot hold, become question marks.
///
/// # Errors
/// The writer fails.
pub fn write_tiff<W: Write + Seek>(
    writer: W,
    photo: &Photo,
    space: OutputSpace,
    description: &str,
) -> Result<()> {
    let write = || -> TiffResult<()> {
        let mut encoder = TiffEncoder::new(writer)?;
        let mut image = begin(&mut encoder, photo)?;
        for strip in photo.samples.chunks(strip_samples(photo)) {
            image.write_strip(strip)?;
        }
        end(image, space, description)
    };
    write().map_err(|e| not_written(&photo.name, &e))
}

/// Writes a photograph in the encoding it has, with the profile it came with; with one channel where
/// it has but one and no profile that asks for three.
///
/// # Errors
/// The writer fails.
pub fn write_as_encoded<W: Write + Seek>(
    writer: W,
    photo: &Photo,
    description: &str,
) -> Result<()> {
    let write = || -> TiffResult<()> {
        let size = |px: usize| u32::try_from(px).map_err(tiff::TiffError::from);
        let (width, height) = (size(photo.width_px)?, size(photo.height_px)?);
        let mut encoder = TiffEncoder::new(writer)?;
        if photo.icc_profile.is_none() && photo.is_grey() {
            let mut image = encoder.new_image::<Gray16>(width, height)?;
            tag(image.encoder(), photo.icc_profile.as_deref(), description)?;
            let grey: Vec<u16> = photo.samples.iter().step_by(3).copied().collect();
            image.write_data(&grey)
        } else {
            let mut image = encoder.new_image::<RGB16>(width, height)?;
            tag(image.encoder(), photo.icc_profile.as_deref(), description)?;
            image.write_data(&photo.samples)
        }
    };
    write().map_err(|e| not_written(&photo.name, &e))
}

fn tag<W: Write + Seek, K: TiffKind>(
    directory: &mut DirectoryEncoder<'_, W, K>,
    profile: Option<&[u8]>,
    description: &str,
) -> TiffResult<()> {
    let ascii: String = description
        .chars()
        .map(|c| if c.is_ascii() { c } else { '?' })
        .collect();
    directory.write_tag(Tag::ImageDescription, ascii.as_str())?;
    match profile {
        Some(profile) => directory.write_tag(Tag::IccProfile, Undefined(profile)),
        None => Ok(()),
    }
}

/// Corrects a photograph in its own memory and writes it, the one while the other: the record of
/// what was done is asked for when everything is corrected.
///
/// # Errors
/// The writer fails.
pub fn correct_to_tiff<W: Write + Seek>(
    writer: W,
    photo: &mut Photo,
    corrector: &Corrector,
    space: OutputSpace,
    describe: impl FnOnce(Limited) -> String,
) -> Result<Limited> {
    let name = photo.name.clone();
    let write = || -> TiffResult<Limited> {
        let mut encoder = TiffEncoder::new(writer)?;
        let mut image = begin(&mut encoder, photo)?;
        let size = strip_samples(photo);
        let strips = photo.samples.chunks_mut(size);
        let limited = std::thread::scope(|threads| -> TiffResult<Limited> {
            let (send, receive) = sync_channel::<(&[u16], Limited)>(AHEAD);
            threads.spawn(move || {
                for (i, strip) in strips.enumerate() {
                    let limited = corrector.rows(strip, i * STRIP_ROWS);
                    // Nobody writes any more after an error.
                    if send.send((strip, limited)).is_err() {
                        return;
                    }
                }
            });
            let mut sum = Limited::default();
            for (strip, limited) in receive {
                image.write_strip(strip)?;
                sum = sum.and(limited);
            }
            Ok(sum)
        })?;
        end(image, space, &describe(limited))?;
        Ok(limited)
    };
    write().map_err(|e| not_written(&name, &e))
}

/// Writes a 16-bit RGB TIFF whose rows come a few at a time: `fill` is given a function that takes whole
/// rows of codes of `space`, in order. Letters of the description beyond ASCII become question marks.
/// What a TIFF 6.0 file is too small for becomes a BigTIFF.
///
/// # Errors
/// The writer fails, `fill` does, or it brought too few rows.
pub fn write_rgb_rows<W: Write + Seek>(
    writer: W,
    [width_px, height_px]: [u32; 2],
    space: OutputSpace,
    description: &str,
    fill: impl FnOnce(&mut dyn FnMut(&[u16]) -> Result<()>) -> Result<()>,
) -> Result<()> {
    let size = [width_px, height_px];
    if 6 * u64::from(width_px) * u64::from(height_px) > LARGEST_CLASSIC_BYTES {
        write_rows_of::<W, TiffKindBig>(writer, size, space, description, fill)
    } else {
        write_rows_of::<W, TiffKindStandard>(writer, size, space, description, fill)
    }
}

fn write_rows_of<W: Write + Seek, K: TiffKind>(
    writer: W,
    [width_px, height_px]: [u32; 2],
    space: OutputSpace,
    description: &str,
    fill: impl FnOnce(&mut dyn FnMut(&[u16]) -> Result<()>) -> Result<()>,
) -> Result<()> {
    const NAME: &str = "16-bit TIFF";
    let failed = |e: tiff::TiffError| not_written(NAME, &e);
    let mut encoder = TiffEncoder::<W, K>::new_generic(writer).map_err(failed)?;
    let mut image = encoder
        .new_image::<RGB16>(width_px, height_px)
        .map_err(failed)?;
    image.rows_per_strip(STRIP_ROWS as u32).map_err(failed)?;
    let strip = 3 * width_px.max(1) as usize * STRIP_ROWS;
    // Rows that do not yet fill a strip.
    let mut held: Vec<u16> = Vec::new();
    fill(&mut |rows| {
        held.extend_from_slice(rows);
        let whole = held.len() / strip * strip;
        for strip in held[..whole].chunks(strip) {
            image.write_strip(strip).map_err(failed)?;
        }
        held.drain(..whole);
        Ok(())
    })?;
    if !held.is_empty() {
        image.write_strip(&held).map_err(failed)?;
    }
    end(image, space, description).map_err(failed)
}

fn not_written(name: &str, error: &tiff::TiffError) -> ImagingError {
    ImagingError::new(
        format!("the photograph could not be written: {error}"),
        name,
        "Check that there is room on the disk.",
    )
}

type Image<'a, W, K = TiffKindStandard> = ImageEncoder<'a, W, RGB16, K>;

fn strip_samples(photo: &Photo) -> usize {
    3 * photo.width_px.max(1) * STRIP_ROWS
}

fn begin<'a, W: Write + Seek>(
    encoder: &'a mut TiffEncoder<W>,
    photo: &Photo,
) -> TiffResult<Image<'a, W>> {
    let size = |px: usize| u32::try_from(px).map_err(tiff::TiffError::from);
    let mut image = encoder.new_image::<RGB16>(size(photo.width_px)?, size(photo.height_px)?)?;
    image.rows_per_strip(size(STRIP_ROWS)?)?;
    Ok(image)
}

fn end<W: Write + Seek, K: TiffKind>(
    mut image: Image<W, K>,
    space: OutputSpace,
    description: &str,
) -> TiffResult<()> {
    tag(image.encoder(), Some(&space.profile()), description)?;
    image.finish()
}

#[cfg(test)]
mod tests {
    use std::io::{Cursor, SeekFrom};

    use image::{DynamicImage, ImageFormat, ImageReader};

    use super::*;

    /// Knows where it is and how a file began, and forgets the rest.
    #[derive(Default)]
    struct Sink {
        at: u64,
        end: u64,
        head: [u8; 4],
    }

    impl Write for &mut Sink {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            for (place, byte) in (self.at..4).zip(bytes) {
                self.head[place as usize] = *byte;
            }
            self.at += bytes.len() as u64;
            self.end = self.end.max(self.at);
            Ok(bytes.len())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    impl Seek for &mut Sink {
        fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
            self.at = match to {
                SeekFrom::Start(at) => at,
                SeekFrom::End(off) => self.end.saturating_add_signed(off),
                SeekFrom::Current(off) => self.at.saturating_add_signed(off),
            };
            Ok(self.at)
        }
    }

    /// A square of whole strips whose end 32 bits do not reach.
    #[test]
    fn a_sheet_that_classic_tiff_is_too_small_for_is_a_big_one() {
        let side = 26_880_usize;
        assert!(6 * (side as u64).pow(2) > u64::from(u32::MAX));
        let mut sink = Sink::default();
        let strip = vec![0_u16; 3 * side * STRIP_ROWS];
        write_rgb_rows(
            &mut sink,
            [side as u32; 2],
            OutputSpace::Romm,
            "{}",
            |put| (0..side / STRIP_ROWS).try_for_each(|_| put(&strip)),
        )
        .unwrap();
        assert!(sink.end >= 6 * (side as u64).pow(2));
        // BigTIFF: version 43 where TIFF 6.0 has 42.
        assert!(matches!(&sink.head, b"II+\0" | b"MM\0+"), "{:?}", sink.head);
    }

    #[test]
    fn both_kinds_are_read_back_as_they_were() {
        let codes: Vec<u16> = (0..3 * 7 * 130).map(|v| v * 23).collect();
        let put = |put: &mut dyn FnMut(&[u16]) -> Result<()>| put(&codes);
        let (mut classic, mut big) = (Cursor::new(Vec::new()), Cursor::new(Vec::new()));
        let size = [7, 130];
        write_rgb_rows(&mut classic, size, OutputSpace::Srgb, "{}", put).unwrap();
        write_rows_of::<_, TiffKindBig>(&mut big, size, OutputSpace::Srgb, "{}", put).unwrap();
        for (file, version) in [(classic, 42), (big, 43)] {
            let bytes = file.into_inner();
            assert_eq!(u16::from_ne_bytes([bytes[2], bytes[3]]), version);
            let reader = ImageReader::with_format(Cursor::new(bytes), ImageFormat::Tiff);
            let DynamicImage::ImageRgb16(read) = reader.decode().unwrap() else {
                panic!("no 16-bit RGB");
            };
            assert_eq!((read.width(), read.height()), (7, 130));
            assert_eq!(read.as_raw(), &codes);
        }
    }
}
