//! The report of an audit as a file.

use std::path::Path;

use anyhow::Context;
use ganosis_audit::Audit;
use ganosis_audit::report::{Materials, page};
use ganosis_dossier::Dossier;
use ganosis_dossier::store::Store;
use ganosis_dossier::write::write_atomically;

/// Attachments from a store. Rendered pictures are not made here yet; they
/// come in through [`Materials`] where there is a renderer.
struct StoreMaterials<'a>(&'a dyn Store);

impl Materials for StoreMaterials<'_> {
    fn file(&self, path: &str) -> Option<Vec<u8>> {
        self.0.read(path).ok()
    }
}

/// Writes the report to `path`, complete or not at all.
pub(crate) fn write(
    path: &Path,
    document: &Dossier,
    audit: &Audit,
    store: &dyn Store,
) -> anyhow::Result<()> {
    let language = document.languages.first().map_or("en", String::as_str);
    let html = page(document, audit, &StoreMaterials(store), language);
    write_atomically(path, html.as_bytes()).context("the report could not be written")
}
