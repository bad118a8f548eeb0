//! A dossier as a USDZ package (USDZ File Format Specification 1.3), and back.
//!
//! A text layer comes first, then the pictures. States are a variant set, the
//! scale is metres, pins and observations are `Xform`s with their texts as
//! metadata; the document lies in the layer's own metadata.

mod read;
mod text;
mod zip;

pub use read::from_usdz;
pub use text::Narration;

use ganosis_dossier::Dossier;

use crate::error::ExportError;
use crate::solid::Solid;

/// Key of the layer's metadata that has the document.
const DOCUMENT: &str = "ganosisDocument";
/// Key that has the sheet and the layers of each look.
const LOOKS: &str = "ganosisLooks";
/// Key that has the view, language and file of each narration.
const NARRATIONS: &str = "ganosisNarrations";
/// Key that has what reducing the mesh has come to, where it was reduced.
const REDUCED: &str = "ganosisReduced";
/// Name of the text layer in the package.
const LAYER: &str = "object.usda";

/// The package. Narrations are taken along as they are.
///
/// # Errors
/// [`ExportError::TooLarge`].
pub fn to_usdz(
    document: &Dossier,
    solid: &Solid,
    narrations: &[Narration],
) -> Result<Vec<u8>, ExportError> {
    let pictures: Vec<String> = solid
        .pictures
        .iter()
        .enumerate()
        .map(|(i, picture)| format!("pictures/{i}.{}", picture.extension()))
        .collect();
    let layer = text::layer(document, solid, &pictures, narrations);
    let mut files: Vec<(&str, &[u8])> = vec![(LAYER, layer.as_bytes())];
    for (name, picture) in pictures.iter().zip(&solid.pictures) {
        files.push((name, &picture.bytes));
    }
    for narration in narrations {
        files.push((&narration.file, &narration.bytes));
    }
    zip::aligned(&files).ok_or(ExportError::TooLarge {
        what: "the package",
        limit: "4 GiB",
        advice: "Export it for a room, with smaller pictures.",
    })
}
