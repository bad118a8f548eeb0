//! Greyscale images of one number a texel where no porter decodes them: outside the browser.

use crate::content::Values;
use ganosis_porter::{DecodeError, Grey};

/// Decodes a greyscale PNG of 8 or 16 bits; the numbers are the file's own.
///
/// # Errors
/// [`DecodeError`], before memory is taken for absurd sizes.
pub fn grey(bytes: &[u8]) -> Result<Values, DecodeError> {
    let Grey {
        size,
        texels,
        full_scale,
    } = ganosis_porter::grey(bytes)?;
    Ok(Values {
        size,
        texels,
        full_scale,
    })
}
