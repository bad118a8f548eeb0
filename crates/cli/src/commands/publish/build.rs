//! What a site is made of.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Context;
use ganosis_audit::Sources;
use ganosis_audit::decoded::FileSources;
use ganosis_dossier::store::{FolderStore, Store};
use ganosis_exchange::public::PublicStore;
use ganosis_exchange::site::{self, DOSSIER_FOLDER, Object, PICTURE_NAME, PICTURE_PX, REPORT_NAME};
use serde_json::Value;
use sha2::{Digest, Sha256};

use super::place::Place;
use crate::commands::figures::Figures;
use crate::commands::report;
use crate::trouble::Trouble;

/// Where the dossiers of a catalogue lie.
const OBJECTS: &str = "objects/";

/// The viewer's script for pages in frames.
const FRAME_SCRIPT: &str = "internal/embed.js";

/// The viewer's list of its own files by SHA-256, if it has one.
const VIEWER_LIST: &str = "files.json";

/// How to build.
#[derive(Clone, Copy)]
pub(super) struct Options<'a> {
    pub(super) address: Option<&'a str>,
    pub(super) title: Option<&'a str>,
    pub(super) pictures: bool,
}

/// Puts a site of these dossiers together.
pub(super) fn site(
    place: &mut Place,
    viewer: &Path,
    copies: &[PublicStore],
    options: Options,
) -> anyhow::Result<()> {
    let alone = copies.len() == 1;
    // An older viewer has one script for both.
    let script = if viewer.join(FRAME_SCRIPT).is_file() {
        FRAME_SCRIPT
    } else {
        "internal/page.js"
    };
    let mut pages = BTreeMap::new();
    let mut objects: Vec<Object> = Vec::new();
    for copy in copies {
        let folder = if alone {
            String::new()
        } else {
            folder_of(copy, &objects)?
        };
        let object = one(place, copy, folder, options)?;
        pages.insert(
            format!("{}index.html", object.folder),
            site::object_page(&object, options.address),
        );
        pages.insert(
            format!("{}embed.html", object.folder),
            site::frame_page(&object, script),
        );
        if let Some(address) = options.address {
            let offer = site::frame_offer(&object, address);
            let json = serde_json::to_string_pretty(&offer)?;
            pages.insert(format!("{}oembed.json", object.folder), json);
        }
        objects.push(object);
    }
    if !alone {
        let page = site::catalogue(&objects, options.title, options.address);
        pages.insert("index.html".to_owned(), page);
    }
    if let Some(address) = options.address {
        pages.insert("sitemap.xml".to_owned(), site::sitemap(&objects, address));
    }
    viewer_files(place, viewer, &pages)?;
    pages
        .iter()
        .try_for_each(|(path, text)| place.put(path, text.as_bytes()))
}

/// The dossier, its report and its picture; the pages come last.
fn one<'a>(
    place: &mut Place,
    copy: &'a PublicStore,
    folder: String,
    options: Options,
) -> anyhow::Result<Object<'a>> {
    let document = copy.document();
    for file in copy.list()? {
        place.put(
            &format!("{folder}{DOSSIER_FOLDER}{file}"),
            &copy.read(&file)?,
        )?;
    }
    let bytes_of = |path: &str| copy.read(path).map_err(|error| error.to_string());
    let sources = FileSources::new(document, &bytes_of);
    let audit = ganosis_audit::run(document, &sources as &dyn Sources);
    let (html, picture) = if options.pictures {
        let figures = Figures::new(document, copy);
        let picture = figures.likeness(PICTURE_PX);
        (report::html(document, &audit, copy, figures), picture)
    } else {
        (report::html_without_pictures(document, &audit, copy), None)
    };
    place.put(&format!("{folder}{REPORT_NAME}"), html.as_bytes())?;
    if let Some(picture) = &picture {
        place.put(&format!("{folder}{PICTURE_NAME}"), picture)?;
    } else if options.pictures {
        eprintln!("ganosis: the site has no preview picture, for the reason above");
    }
    Ok(Object {
        document,
        folder,
        picture: picture.is_some(),
        report: true,
    })
}

/// A folder named by the id.
fn folder_of(copy: &PublicStore, others: &[Object]) -> anyhow::Result<String> {
    let id = &copy.document().id;
    let fit = !id.is_empty()
        && !id.starts_with('.')
        && id
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.'));
    let folder = format!("{OBJECTS}{id}/");
    if fit && !others.iter().any(|other| other.folder == folder) {
        return Ok(folder);
    }
    Err(Trouble::error(
        if fit {
            "two dossiers have the same id"
        } else {
            "the id of a dossier does not do as the name of a folder"
        },
        id,
        "Give each dossier an id of its own, of letters, digits, - and _.",
    ))
}

/// The viewer's own files. Its list of them, by which tablets keep them, is
/// made to agree with the pages that take the place of some.
fn viewer_files(
    place: &mut Place,
    viewer: &Path,
    pages: &BTreeMap<String, String>,
) -> anyhow::Result<()> {
    let store = FolderStore::open(viewer)?;
    let list: Option<Value> = store
        .read(VIEWER_LIST)
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok());
    let listed = list.as_ref().and_then(|list| list["files"].as_object());
    for file in store.list()? {
        // What is not on the list is for those who build pages with a package.
        let runs = listed.is_none_or(|listed| listed.contains_key(&file)) || file == VIEWER_LIST;
        if !runs || pages.contains_key(&file) {
            continue;
        }
        let mut bytes = store.read(&file)?;
        if file == VIEWER_LIST {
            bytes = with_pages(&bytes, pages)
                .with_context(|| format!("{file} of the viewer cannot be read"))?;
        }
        place.put(&file, &bytes)?;
    }
    Ok(())
}

fn with_pages(list: &[u8], pages: &BTreeMap<String, String>) -> anyhow::Result<Vec<u8>> {
    let mut list: Value = serde_json::from_slice(list)?;
    let files = list.get_mut("files").and_then(Value::as_object_mut);
    for (path, hash) in files.into_iter().flatten() {
        if let Some(page) = pages.get(path) {
            let digest = Sha256::digest(page.as_bytes());
            let text: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
            *hash = text.into();
        }
    }
    Ok(serde_json::to_vec_pretty(&list)?)
}
