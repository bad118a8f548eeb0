//! A lens from a file: its own JSON, or poses of photographs taken with it.

use super::Poses;
use crate::error::{ImagingError, Result};
use crate::lens::Lens;

/// Reads the lens of a photograph of this name and size as stored; `place` names the file in messages.
///
/// # Errors
/// It is neither, has several lenses and none of this photograph, or its lens is of another size.
pub fn read_lens(text: &str, place: &str, photo: &str, size_px: [usize; 2]) -> Result<Lens> {
    let bad = |what: String, advice: &str| Err(ImagingError::new(what, place, advice));
    let bare: std::result::Result<Lens, _> = serde_json::from_str(text);
    let lens = match bare {
        Ok(lens) => lens,
        // Nothing says which was meant; what looks like poses is told about as such.
        Err(why) if !text.contains("\"photos\"") => {
            return bad(
                format!("this is no lens: {why}"),
                "Give a JSON with width_px, height_px, focal_px, centre_px and distortion, or \
                 poses of a photograph taken with the lens.",
            );
        }
        Err(_) => {
            let poses = Poses::read(text, place)?;
            let first = &poses.photos[0];
            let one = poses.photos.iter().all(|p| p.lens == first.lens);
            match poses.of_photo(photo).or(one.then_some(first)) {
                Some(posed) => posed.lens,
                None => {
                    return bad(
                        "the poses have several lenses, and none is of this photograph".to_owned(),
                        "Give a file with the one lens.",
                    );
                }
            }
        }
    };
    let [w, h] = size_px;
    if (lens.width_px, lens.height_px) != (w, h) {
        return bad(
            format!(
                "the lens is of photographs of {} × {} px, and this one has {w} × {h} px as stored",
                lens.width_px, lens.height_px
            ),
            "Give the lens of this camera at this size, or leave --lens out.",
        );
    }
    lens.check(place)?;
    Ok(lens)
}
