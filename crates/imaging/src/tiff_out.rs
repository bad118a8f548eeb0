//! Photographs written as uncompressed 16-bit TIFF with their ICC profile and the record of what was
//! done.

use std::io::{Seek, Write};
use std::sync::mpsc::sync_channel;

use tiff::TiffResult;
use tiff::encoder::colortype::{Gray16, RGB16};
use tiff::encoder::{DirectoryEncoder, ImageEncoder, TiffEncoder, TiffKindStandard, TiffValue};
use tiff::tags::{Tag, Type};

use crate::correct::{Corrector, Limited};
use crate::error::{ImagingError, Result};
use crate::icc::OutputSpace;
use crate::photo::Photo;

/// Rows written at once: some megabytes of a large photograph.
const STRIP_ROWS: usize = 64;

/// Strips corrected and not yet written, at most.
const AHEAD: usize = 4;

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

fn tag<W: Write + Seek>(
    directory: &mut DirectoryEncoder<'_, W, TiffKindStandard>,
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
    const NAME: &str = "16-bit TIFF";
    let failed = |e: tiff::TiffError| not_written(NAME, &e);
    let mut encoder = TiffEncoder::new(writer).map_err(failed)?;
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

type Image<'a, W> = ImageEncoder<'a, W, RGB16, TiffKindStandard>;

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

fn end<W: Write + Seek>(
    mut image: Image<W>,
    space: OutputSpace,
    description: &str,
) -> TiffResult<()> {
    tag(image.encoder(), Some(&space.profile()), description)?;
    image.finish()
}
