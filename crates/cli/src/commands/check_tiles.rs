//! The tiles of a dossier's images: whether each is there, as it was written.

use ganosis_dossier::document::{Dossier, LayerImage};
use ganosis_dossier::store::Store;
use ganosis_dossier::{Finding, Severity};
use ganosis_tiles::{Index, damaged};

/// So many tiles of an image are named one by one; more than these are counted.
const NAMED: usize = 5;

/// What to do about any of it.
const ADVICE: &str = "Copy the dossier again, or pack it again: ganosis pack.";

/// Findings about all tiles that the document's images have.
pub(super) fn findings(document: &Dossier, store: &dyn Store) -> Vec<Finding> {
    let layers = document.layers.iter().enumerate();
    let of_layers = layers.flat_map(|(l, layer)| {
        let images = layer.images.iter().enumerate();
        images.map(move |(i, image)| (format!("$.layers[{l}].images[{i}]"), image))
    });
    let of_map = document.region_map.iter().flat_map(|map| {
        let images = map.images.iter().enumerate();
        images.map(|(i, image)| (format!("$.region_map.images[{i}]"), image))
    });
    of_layers
        .chain(of_map)
        .flat_map(|(path, image)| of_image(&path, image, store))
        .collect()
}

fn of_image(path: &str, image: &LayerImage, store: &dyn Store) -> Vec<Finding> {
    let Some(tiles) = &image.tiles else {
        return Vec::new();
    };
    let list = tiles.index.as_str();
    let finding = |rule: &'static str, file: &str, message: String| Finding {
        rule,
        severity: Severity::Error,
        file: file.to_owned(),
        path: format!("{path}.tiles.index"),
        message,
        advice: ADVICE.to_owned(),
    };
    // That the list itself is missing is said of every file alike.
    let Ok(bytes) = store.read(list) else {
        return Vec::new();
    };
    let index = match Index::read(&bytes) {
        Ok(index) => index,
        Err(error) => return vec![finding("bad-tile-list", list, error.to_string())],
    };
    let folder = list.rsplit_once('/').map_or("", |(folder, _)| folder);
    let beside = |file: &str| match folder {
        "" => file.to_owned(),
        folder => format!("{folder}/{file}"),
    };
    let read = |file: &str| store.read(&beside(file)).map_err(|e| e.to_string());
    let wrong = damaged(&index, &read);
    let mut found: Vec<Finding> = wrong
        .iter()
        .take(NAMED)
        .map(|error| {
            let message = format!("the tile {} {}", error.file, error.reason);
            finding("damaged-tile", &beside(&error.file), message)
        })
        .collect();
    if wrong.len() > NAMED {
        let message = format!("{} more tiles are missing or damaged", wrong.len() - NAMED);
        found.push(finding("damaged-tile", list, message));
    }
    found
}
