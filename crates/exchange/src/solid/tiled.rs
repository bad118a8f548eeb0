//! Images of layers, put together where they lie in tiles.

use ganosis_audit::decoded::{LARGEST_BYTES, decode};
use ganosis_dossier::Store;
use ganosis_dossier::document::LayerImage;
use ganosis_tiles::{Index, whole};
use image::DynamicImage;

use crate::error::ExportError;

/// Bytes of a texel of colour with alpha.
const TEXEL_BYTES: u64 = 4;

/// An image, at least as fine as a picture whose longer side has `largest` px shows, and what is to be said of it.
pub(crate) fn image_of(
    image: &LayerImage,
    store: &dyn Store,
    largest: u32,
) -> Result<(DynamicImage, Option<String>), ExportError> {
    let unusable = |file: &str, reason: String| ExportError::Unusable {
        file: file.to_owned(),
        reason,
    };
    let whole_file = || {
        let bytes = store.read(&image.file)?;
        decode(&bytes).map_err(|reason| unusable(&image.file, reason))
    };
    let Some(tiling) = &image.tiles else {
        return Ok((whole_file()?, None));
    };
    let list = tiling.index.as_str();
    let index = Index::read(&store.read(list)?).map_err(|e| unusable(list, e.to_string()))?;
    let pyramid = index.pyramid();
    let fine = |level: &u32| pyramid.size_of(*level).iter().any(|side| *side >= largest);
    let wanted = (0..=pyramid.base_level())
        .rev()
        .find(fine)
        .unwrap_or_default();
    let fits = |level: &u32| {
        let [width, height] = pyramid.size_of(*level).map(u64::from);
        width * height * TEXEL_BYTES <= LARGEST_BYTES
    };
    let level = (wanted..pyramid.base_level())
        .find(fits)
        .unwrap_or(pyramid.base_level());
    let mut notes = Vec::new();
    if level > wanted {
        let [width, height] = pyramid.size_of(level);
        notes.push(format!(
            "it is larger than can be held at once: {width} × {height} px of it are in the file"
        ));
    }
    if let Some(loss) = index.loss {
        notes.push(format!(
            "its tiles do not keep every code value: 99 of 100 texels are within {:.2} of what they were (CIEDE2000)",
            loss.percentile_99
        ));
    }
    let note = (!notes.is_empty()).then(|| notes.join("; "));
    if level == pyramid.base_level() {
        return Ok((whole_file()?, note));
    }
    let folder = list.rfind('/').map_or("", |slash| &list[..=slash]);
    let read = |name: &str| {
        store
            .read(&format!("{folder}{name}"))
            .map_err(|error| error.to_string())
    };
    let made = whole(&index, level, &read).map_err(|e| unusable(list, e.to_string()))?;
    Ok((made, note))
}
