//! Photographs whose colour comes from the ICC profile in the file, brought to one space.

use moxcms::{ColorProfile, Layout, RenderingIntent, TransformOptions};

use crate::error::{ImagingError, Result};
use crate::icc::OutputSpace;
use crate::photo::{Encoding, Photo};

/// Converts a photograph in its own memory to 16-bit codes of `space`, by the profile in the file
/// (relative colorimetric). Without a profile it is taken as sRGB, if its encoding says so.
///
/// # Errors
/// A profile that cannot be read, or a file that says nothing about its colours.
pub fn convert_in_place(photo: &mut Photo, space: OutputSpace) -> Result<()> {
    let bad = |what: String| {
        ImagingError::new(
            what,
            photo.name.clone(),
            "Export the photograph again with an RGB profile of ICC version 2 or 4, or correct it \
             with a calibration.",
        )
    };
    let from = match (&photo.icc_profile, &photo.encoding) {
        (Some(icc), _) => ColorProfile::new_from_slice(icc)
            .map_err(|e| bad(format!("its ICC profile cannot be read: {e}")))?,
        (None, Encoding::Srgb) => ColorProfile::new_srgb(),
        (None, _) => return Err(bad("it has no ICC profile and is not sRGB".to_owned())),
    };
    let to = ColorProfile::new_from_slice(&space.profile())
        .map_err(|e| bad(format!("the profile of {} fails: {e}", space.title())))?;
    let options = TransformOptions {
        rendering_intent: RenderingIntent::RelativeColorimetric,
        // The matrix and curves as written; a fixed-point path loses dark codes.
        allow_use_cicp_transfer: false,
        prefer_fixed_point: false,
        ..TransformOptions::default()
    };
    let transform = from
        .create_transform_16bit(Layout::Rgb, &to, Layout::Rgb, options)
        .map_err(|e| bad(format!("its ICC profile cannot be used: {e}")))?;
    let mut row = vec![0; 3 * photo.width_px];
    for pixels in photo.samples.chunks_exact_mut(row.len().max(1)) {
        transform
            .transform(pixels, &mut row)
            .map_err(|e| bad(format!("its ICC profile cannot be used: {e}")))?;
        pixels.copy_from_slice(&row);
    }
    Ok(())
}
