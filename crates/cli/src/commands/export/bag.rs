//! An archive of everything.

use std::path::Path;

use ganosis_audit::Sources;
use ganosis_audit::decoded::FileSources;
use ganosis_dossier::Dossier;
use ganosis_dossier::store::Store;
use ganosis_exchange::bag::{Bag, DOSSIER, PAYLOAD, readme, ro_crate};
use ganosis_exchange::{collection, table};

use super::FreshFolder;
use crate::commands::figures::Figures;
use crate::commands::report;
use crate::commands::today::today;

/// The published schema of the format, as it lies in the source tree.
const SCHEMA: &[u8] = include_bytes!("../../../../dossier/schema/ganosis-dossier-1.schema.json");

/// Writes the bag.
pub(super) fn write(
    target: &Path,
    document: &Dossier,
    store: &dyn Store,
    pictures: bool,
) -> anyhow::Result<()> {
    let mut folder = FreshFolder::beside(target)?;
    let mut bag = Bag::default();
    let date = today();
    let mut listed: Vec<(String, u64)> = Vec::new();
    let mut put = |path: String, bytes: &[u8]| -> anyhow::Result<()> {
        folder.put(&path, bytes)?;
        bag.add(&path, bytes);
        let below = path.strip_prefix(PAYLOAD).unwrap_or(&path).to_owned();
        listed.push((below, bytes.len() as u64));
        Ok(())
    };
    for file in store.list()? {
        put(format!("{DOSSIER}{file}"), &store.read(&file)?)?;
    }
    put(
        format!("{PAYLOAD}report.html"),
        report_of(document, store, pictures).as_bytes(),
    )?;
    put(
        format!("{PAYLOAD}README.txt"),
        readme(document, &date).as_bytes(),
    )?;
    put(
        format!("{PAYLOAD}schema/ganosis-dossier-1.schema.json"),
        SCHEMA,
    )?;
    let annotations = serde_json::to_vec_pretty(&collection(document))?;
    put(format!("{PAYLOAD}annotations.jsonld"), &annotations)?;
    for (name, bytes) in table::tables(document) {
        put(format!("{PAYLOAD}{name}"), &bytes)?;
    }
    let crate_file = serde_json::to_vec_pretty(&ro_crate(document, &listed, &date))?;
    let path = format!("{PAYLOAD}ro-crate-metadata.json");
    folder.put(&path, &crate_file)?;
    bag.add(&path, &crate_file);
    let language = document.languages.first().map_or("en", String::as_str);
    let rights = document.rights.as_ref();
    let about = [
        (
            "Source-Organization",
            rights.map_or(String::new(), |r| r.credit.get(language).to_owned()),
        ),
        ("External-Identifier", document.id.clone()),
        (
            "External-Description",
            document.title.get(language).to_owned(),
        ),
    ];
    for (path, bytes) in bag.tag_files(&date, &about) {
        folder.put(&path, &bytes)?;
    }
    folder.finish()
}

fn report_of(document: &Dossier, store: &dyn Store, pictures: bool) -> String {
    let bytes_of = |path: &str| store.read(path).map_err(|error| error.to_string());
    let sources = FileSources::new(document, &bytes_of);
    let audit = ganosis_audit::run(document, &sources as &dyn Sources);
    if pictures {
        report::html(document, &audit, store, Figures::new(document, store))
    } else {
        report::html_without_pictures(document, &audit, store)
    }
}
