//! The report of an audit as a file.

use std::path::Path;

use anyhow::Context;
use ganosis_audit::Audit;
use ganosis_audit::report::{Materials, Picture, page};
use ganosis_dossier::Dossier;
use ganosis_dossier::store::Store;
use ganosis_dossier::write::write_atomically;

use super::figures::Figures;
use super::paged::{self, Printing};

/// Attachments from a store, pictures from the renderer.
struct StoreMaterials<'a> {
    store: &'a dyn Store,
    figures: Figures<'a>,
}

impl Materials for StoreMaterials<'_> {
    fn file(&self, path: &str) -> Option<Vec<u8>> {
        self.store.read(path).ok()
    }
    fn pictures_of_state(&self, state: &str) -> Vec<Picture> {
        self.figures.of_state(state)
    }
    fn picture_of_region(&self, region: &str) -> Option<Picture> {
        self.figures.of_region(region)
    }
    fn picture_of_part(&self, part: &str) -> Option<Picture> {
        self.figures.of_part(part)
    }
    fn about_pictures(&self) -> Vec<String> {
        self.figures.about()
    }
}

/// Where a report goes; both come from the same page.
#[derive(Clone, Copy)]
pub(crate) struct Targets<'a> {
    pub(crate) html: Option<&'a Path>,
    pub(crate) pdf: Option<&'a Printing<'a>>,
}

/// Writes the report, each file complete or not at all.
pub(crate) fn write(
    targets: Targets,
    document: &Dossier,
    audit: &Audit,
    store: &dyn Store,
) -> anyhow::Result<()> {
    if targets.html.is_none() && targets.pdf.is_none() {
        return Ok(());
    }
    let html = html(document, audit, store, Figures::new(document, store));
    if let Some(path) = targets.html {
        write_atomically(path, html.as_bytes()).context("the report could not be written")?;
    }
    if let Some(printing) = targets.pdf {
        paged::write(printing, &html)?;
    }
    Ok(())
}

/// The report as a page; what is missing from it is told on the error stream.
pub(super) fn html<'a>(
    document: &Dossier,
    audit: &Audit,
    store: &'a dyn Store,
    figures: Figures<'a>,
) -> String {
    let language = document.languages.first().map_or("en", String::as_str);
    let materials = StoreMaterials { store, figures };
    let html = page(document, audit, &materials, language);
    for line in materials.figures.missing() {
        eprintln!("ganosis: {line}");
    }
    html
}

/// The report without pictures of the object.
pub(super) fn html_without_pictures(
    document: &Dossier,
    audit: &Audit,
    store: &dyn Store,
) -> String {
    struct Files<'a>(&'a dyn Store);
    impl Materials for Files<'_> {
        fn file(&self, path: &str) -> Option<Vec<u8>> {
            self.0.read(path).ok()
        }
    }
    let language = document.languages.first().map_or("en", String::as_str);
    page(document, audit, &Files(store), language)
}
