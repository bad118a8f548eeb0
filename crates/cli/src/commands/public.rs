//! From a path to the public copy of a dossier, and what is said of it.

use std::io::Write as _;
use std::path::Path;

use ganosis_dossier::Dossier;
use ganosis_dossier::store::{self, SourceKind, Store};
use ganosis_exchange::public::PublicStore;

use super::reading::document_of;
use crate::trouble::Trouble;

/// Opens a dossier; a 3D file alone is none.
pub(super) fn dossier(path: &Path, what: &str) -> anyhow::Result<(Dossier, Box<dyn Store>)> {
    let could_not = |reason: String| {
        Trouble::error(
            format!("it could not be {what}: {reason}"),
            path.display(),
            "Name the folder or zip of a dossier.",
        )
    };
    let opened = store::open(path).map_err(|error| could_not(error.to_string()))?;
    if opened.kind == SourceKind::Model {
        return Err(could_not("a 3D file alone is no dossier".to_owned()));
    }
    let document = document_of(&opened).map_err(could_not)?;
    Ok((document, opened.store))
}

/// The public copy of a dossier. What still names something withheld stops it,
/// unless `despite_mentions`.
pub(super) fn copy<'a>(
    path: &Path,
    document: &Dossier,
    store: &'a dyn Store,
    despite_mentions: bool,
) -> anyhow::Result<PublicStore<'a>> {
    let could_not = |reason: String| {
        Trouble::error(
            format!("there is no public copy of it: {reason}"),
            path.display(),
            "Nothing was written.",
        )
    };
    let copy = PublicStore::new(document, store).map_err(|error| could_not(error.to_string()))?;
    let mentions = copy
        .mentions()
        .map_err(|error| could_not(error.to_string()))?;
    for mention in &mentions {
        eprintln!(
            "still named: \"{}\" in {} {}",
            mention.word, mention.file, mention.path
        );
    }
    if !mentions.is_empty() && !despite_mentions {
        return Err(Trouble::error(
            format!(
                "{} places that are public name something that is withheld (listed above)",
                mentions.len()
            ),
            path.display(),
            "Nothing was written. Change these texts and files, or say --despite-mentions if they give nothing away.",
        ));
    }
    Ok(copy)
}

/// Lists what is not in a public copy.
pub(super) fn tell(copy: &PublicStore) -> anyhow::Result<()> {
    let mut text = Vec::new();
    for absent in copy.left_out() {
        writeln!(text, "left out: {}: {}", absent.what, absent.why)?;
    }
    for absent in copy.shortened() {
        writeln!(text, "shortened: {}: {}", absent.what, absent.why)?;
    }
    for file in copy.files_left_out()? {
        writeln!(text, "left out: file {file}")?;
    }
    if copy.left_out().is_empty() {
        writeln!(text, "nothing is withheld")?;
    }
    super::printing::printed(std::io::stdout().lock().write_all(&text))
}
