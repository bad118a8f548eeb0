//! The tiles of a dossier's images: whether each is there, as it was written.

use ganosis_dossier::document::Dossier;
use ganosis_dossier::store::Store;
use ganosis_dossier::{Finding, Severity};
use ganosis_surface::beside;
use ganosis_tiles::{Index, damaged};

/// So many tiles of an image are named one by one; more than these are counted.
const NAMED: usize = 5;

/// What to do about any of it.
const ADVICE: &str = "Copy the dossier again, or pack it again: ganosis pack.";

/// Findings about all tiles that the document's images have.
pub(super) fn findings(document: &Dossier, store: &dyn Store) -> Vec<Finding> {
    let named = document.named_files().into_iter();
    named
        .filter(|(path, _)| path.ends_with(".tiles.index"))
        .flat_map(|(path, list)| of_list(&path, list, store))
        .collect()
}

fn of_list(path: &str, list: &str, store: &dyn Store) -> Vec<Finding> {
    let finding = |rule: &'static str, file: &str, message: String| Finding {
        rule,
        severity: Severity::Error,
        file: file.to_owned(),
        path: path.to_owned(),
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
    let read = |file: &str| store.read(&beside(list, file)).map_err(|e| e.to_string());
    let wrong = damaged(&index, &read);
    let mut found: Vec<Finding> = wrong
        .iter()
        .take(NAMED)
        .map(|error| {
            let message = format!("the tile {} {}", error.file, error.reason);
            finding("damaged-tile", &beside(list, &error.file), message)
        })
        .collect();
    if wrong.len() > NAMED {
        let message = format!("{} more tiles are missing or damaged", wrong.len() - NAMED);
        found.push(finding("damaged-tile", list, message));
    }
    found
}
