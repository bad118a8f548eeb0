//! Which files a document names.

use super::{Dossier, LayerImage};

impl Dossier {
    /// Every file that the document names in a field of its own, with the
    /// place as a JSONPath (RFC 9535), in its order. What a surface of several
    /// files names is not among them.
    #[must_use]
    pub fn named_files(&self) -> Vec<(String, &str)> {
        fn images<'a>(of: &str, images: &'a [LayerImage], named: &mut Vec<(String, &'a str)>) {
            for (i, image) in images.iter().enumerate() {
                named.push((format!("{of}.images[{i}].file"), image.file.as_str()));
                if let Some(tiles) = &image.tiles {
                    let place = format!("{of}.images[{i}].tiles.index");
                    named.push((place, tiles.index.as_str()));
                }
            }
        }
        let mut named = vec![("$.surface.file".to_owned(), self.surface.file.as_str())];
        for (l, level) in self.surface.levels.iter().enumerate() {
            named.push((format!("$.surface.levels[{l}].file"), level.file.as_str()));
        }
        for (l, layer) in self.layers.iter().enumerate() {
            images(&format!("$.layers[{l}]"), &layer.images, &mut named);
        }
        if let Some(map) = &self.region_map {
            images("$.region_map", &map.images, &mut named);
        }
        for (e, item) in self.evidence.iter().enumerate() {
            for (a, attachment) in item.attachments.iter().enumerate() {
                let place = format!("$.evidence[{e}].attachments[{a}].file");
                named.push((place, attachment.file.as_str()));
            }
        }
        for (p, entry) in self.palette.iter().enumerate() {
            if let Some(spectrum) = &entry.spectrum {
                named.push((format!("$.palette[{p}].spectrum"), spectrum.as_str()));
            }
        }
        for (v, saved) in self.views.iter().enumerate() {
            for (tag, field, file) in saved.recordings() {
                named.push((format!("$.views[{v}].narration[{tag:?}].{field}"), file));
            }
        }
        named
    }
}
