//! What comes back from a file that cannot hold everything.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Cursor;

use ganosis_dossier::Dossier;
use ganosis_dossier::document::{
    CLEARANCE_FIELD, ColourSpace, Layer, LayerImage, LayerKind, NARRATION_FIELD,
};
use image::ImageReader;
use serde_json::Value;

use crate::error::ImportError;
use crate::public::public_copy;

/// A dossier and its files, out of one file.
#[derive(Debug, Clone, PartialEq)]
pub struct TakenIn {
    /// The document.
    pub document: Dossier,
    /// Its files by path, without the document.
    pub files: BTreeMap<String, Vec<u8>>,
    /// What the file had no room for, a line each.
    pub lost: Vec<String>,
}

/// A picture of one or more layers on one sheet.
#[derive(Debug, Clone)]
pub(crate) struct Flat {
    pub(crate) layers: Vec<String>,
    pub(crate) kind: LayerKind,
    pub(crate) image: LayerImage,
}

impl Flat {
    /// A picture of `layers` on `sheet`.
    pub(crate) fn new(
        layers: Vec<String>,
        sheet: String,
        end: &str,
        bytes: &[u8],
    ) -> Result<Self, ImportError> {
        let id = layers.join("+");
        let size = size_of(bytes).ok_or_else(|| {
            ImportError::Unreadable(format!("the picture of {id} on {sheet} cannot be read"))
        })?;
        let file = format!("layers/{}/{}.{end}", plain(&id), plain(&sheet));
        Ok(Self {
            layers,
            kind: LayerKind::Colour,
            image: LayerImage {
                sheet,
                file,
                width_px: size.0,
                height_px: size.1,
                ..LayerImage::default()
            },
        })
    }
}

/// The strings of a list.
pub(crate) fn strings(value: &Value) -> Vec<String> {
    let list = value.as_array().into_iter().flatten();
    list.filter_map(|v| v.as_str().map(str::to_owned)).collect()
}

/// The document with these pictures as its only layers. What the file does
/// not hold (bands, region map, attachments, spectra) is taken out, and what
/// cannot be shown without it.
pub(crate) fn with_layers(document: Dossier, flats: Vec<Flat>) -> (Dossier, Vec<String>) {
    // The dossier's own clearances rest meanwhile: here the field means "not in the file".
    let mut document = renamed(&document, CLEARANCE_FIELD, RESTING);
    let mut lost = Vec::new();
    let mut layers: Vec<Layer> = Vec::new();
    for flat in flats {
        let id = plain(&flat.layers.join("+"));
        match layers.iter_mut().find(|layer| layer.id == id) {
            Some(layer) => layer.images.push(flat.image),
            None => {
                let single = match flat.layers.as_slice() {
                    [one] => document.layer(one).cloned(),
                    _ => None,
                };
                let mut layer = single.unwrap_or_else(|| Layer {
                    title: flat.layers.join(" + ").into(),
                    ..Layer::default()
                });
                layer.id = id;
                layer.kind = flat.kind;
                layer.images = vec![flat.image];
                if matches!(layer.colour_space, Some(ColourSpace::DisplayP3)) {
                    layer.colour_space = Some(ColourSpace::Srgb);
                }
                layers.push(layer);
            }
        }
    }
    for state in &mut document.states {
        let colour: Vec<String> = state
            .layers
            .iter()
            .filter(|id| is_colour(&document.layers, id))
            .cloned()
            .collect();
        let flat = plain(&colour.join("+"));
        if colour.len() > 1 && layers.iter().any(|layer| layer.id == flat) {
            state.layers = vec![flat];
        } else {
            state.layers = colour;
        }
    }
    let known: BTreeSet<String> = layers.iter().map(|layer| layer.id.clone()).collect();
    // What is not there is withheld from the copy, and so taken out with what hangs on it.
    for layer in &document.layers {
        if !known.contains(&layer.id) {
            let used = document.states.iter().any(|s| s.layers.contains(&layer.id));
            let mut gone = layer.clone();
            if used {
                gone.images.clear();
                layers.push(gone);
            } else {
                lost.push(format!("layer:{}", layer.id));
                gone.other.insert(CLEARANCE_FIELD.to_owned(), false.into());
                layers.push(gone);
            }
        }
    }
    document.layers = layers;
    // The mesh is another file now, and these were lighter copies of the one before.
    document.surface.levels.clear();
    if document.region_map.take().is_some() {
        lost.push("the region map".to_owned());
    }
    for view in &mut document.views {
        if view.other.shift_remove(NARRATION_FIELD).is_some() {
            lost.push(format!("narration of view:{}", view.id));
        }
    }
    for item in &mut document.evidence {
        for attachment in item.attachments.drain(..) {
            lost.push(format!(
                "attachment {} of evidence:{}",
                attachment.file, item.id
            ));
        }
    }
    for entry in &mut document.palette {
        if let Some(file) = entry.spectrum.take() {
            lost.push(format!("spectrum {file} of palette:{}", entry.id));
        }
    }
    if let Ok(copy) = public_copy(&document) {
        let other = copy
            .left_out
            .iter()
            .filter(|a| !a.what.starts_with("layer:"));
        lost.extend(other.map(|absent| {
            format!(
                "{}: {}",
                absent.what,
                absent.why.replace("not cleared", "not in the file")
            )
        }));
        document = copy.document;
    }
    (renamed(&document, RESTING, CLEARANCE_FIELD), lost)
}

/// No field of a dossier begins so.
const RESTING: &str = "\u{1}public";

/// The document with a field renamed wherever it stands.
fn renamed(document: &Dossier, from: &str, to: &str) -> Dossier {
    fn rename(value: Value, from: &str, to: &str) -> Value {
        match value {
            Value::Object(fields) => Value::Object(
                fields
                    .into_iter()
                    .map(|(name, value)| {
                        let name = if name == from { to.to_owned() } else { name };
                        (name, rename(value, from, to))
                    })
                    .collect(),
            ),
            Value::Array(list) => list.into_iter().map(|v| rename(v, from, to)).collect(),
            other => other,
        }
    }
    let value = rename(document.to_value(), from, to);
    Dossier::from_value(value).map_or_else(|_| document.clone(), |reading| reading.document)
}

/// Whether a layer is a colour layer.
fn is_colour(layers: &[Layer], id: &str) -> bool {
    let layer = layers.iter().find(|layer| layer.id == *id);
    layer.is_some_and(|layer| layer.kind == LayerKind::Colour)
}

/// A name for a file or an id: letters, digits, `-`, `_` and `.`.
pub(crate) fn plain(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') {
                c
            } else {
                '-'
            }
        })
        .collect();
    let plain = plain.trim_matches('.');
    if plain.is_empty() {
        "unnamed".to_owned()
    } else {
        plain.to_owned()
    }
}

/// Width and height of a picture.
pub(crate) fn size_of(bytes: &[u8]) -> Option<(u32, u32)> {
    let reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .ok()?;
    reader.into_dimensions().ok()
}
