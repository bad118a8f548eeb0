//! What the codes of an image stand for, where the image says it itself: their unit, and the values of the least
//! and the largest code.
//!
//! It stands in the record that goes with an image of ours: the text `Description` of a PNG, the field
//! ImageDescription of a TIFF. An image that another program wrote has none.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use ganosis_dossier::document::Origin;
use serde::{Deserialize, Serialize};
use serde_json::json;

/// Of the predefined keywords of a PNG (W3C PNG, Third Edition, 11.3.3.1).
pub(super) const KEYWORD: &str = "Description";

/// A unit, and the values of codes 0 and 65535, in linear light.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Scale {
    pub(super) unit: String,
    pub(super) range: [f64; 2],
}

impl Scale {
    /// Puts it into the record of an image.
    pub(super) fn put(&self, origin: &mut Origin) {
        let facts = [("unit", json!(self.unit)), ("range", json!(self.range))];
        for (name, value) in facts {
            origin.parameters.insert(name.to_owned(), value);
        }
    }

    /// What an image file says; nothing where it says nothing of that, or is no PNG or TIFF.
    pub(super) fn of(path: &Path) -> Option<Self> {
        let record = png_text(path).or_else(|| tiff_text(path))?;
        let origin: Origin = serde_json::from_str(&record).ok()?;
        if !origin.command.starts_with("ganosis ") {
            return None;
        }
        let fact = |name: &str| origin.parameters.get(name).cloned();
        let scale = Self {
            unit: serde_json::from_value(fact("unit")?).ok()?,
            range: serde_json::from_value(fact("range")?).ok()?,
        };
        let [low, high] = scale.range;
        (low < high).then_some(scale)
    }
}

fn png_text(path: &Path) -> Option<String> {
    let file = BufReader::new(File::open(path).ok()?);
    let reader = png::Decoder::new(file).read_info().ok()?;
    let mut texts = reader.info().utf8_text.iter();
    texts.find(|text| text.keyword == KEYWORD)?.get_text().ok()
}

fn tiff_text(path: &Path) -> Option<String> {
    let file = BufReader::new(File::open(path).ok()?);
    let mut decoder = tiff::decoder::Decoder::new(file).ok()?;
    decoder
        .get_tag_ascii_string(tiff::tags::Tag::ImageDescription)
        .ok()
}
