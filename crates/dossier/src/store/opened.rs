//! From a path on disk to a store.

use std::path::Path;

use super::{FolderStore, ModelStore, Store, StoreError, ZipStore};
use crate::document::FILE_NAME;

/// What a path turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SourceKind {
    /// A folder with `dossier.json`.
    Folder,
    /// A zip with `dossier.json`.
    Zip,
    /// A `.glb` or `.gltf`.
    Model,
}

/// An opened source.
pub struct Opened {
    /// Its files.
    pub store: Box<dyn Store>,
    /// What it is.
    pub kind: SourceKind,
    /// The file to begin with: `dossier.json` or the glTF file.
    pub entry: String,
}

/// Where the dossier lies in a bag of ours (BagIt, RFC 8493).
const IN_A_BAG: &str = "data/dossier";

/// Opens a folder, the `dossier.json` in it, a bag, a zip, a `.glb` or a `.gltf`.
/// What a file is, its first bytes say, not its name.
///
/// # Errors
/// [`StoreError`] if it is none of these or cannot be read.
pub fn open(path: &Path) -> Result<Opened, StoreError> {
    let is_document = path.file_name().is_some_and(|name| name == FILE_NAME);
    if path.is_dir() || is_document {
        let folder = match path.parent() {
            Some(parent) if is_document && parent.as_os_str().is_empty() => Path::new("."),
            Some(parent) if is_document => parent,
            _ => path,
        };
        let bagged = folder.join(IN_A_BAG);
        let folder = if !folder.join(FILE_NAME).exists() && bagged.join(FILE_NAME).is_file() {
            &bagged
        } else {
            folder
        };
        let store = FolderStore::open(folder)?;
        store.size(FILE_NAME).map_err(|error| match error {
            StoreError::NotFound { .. } => StoreError::Unreadable {
                path: path.display().to_string(),
                reason: format!("there is no {FILE_NAME} in it. Name the folder of a dossier."),
            },
            other => other,
        })?;
        return Ok(Opened {
            store: Box::new(store),
            kind: SourceKind::Folder,
            entry: FILE_NAME.to_owned(),
        });
    }
    if starts_like_zip(path)? {
        return Ok(Opened {
            store: Box::new(ZipStore::open(path)?),
            kind: SourceKind::Zip,
            entry: FILE_NAME.to_owned(),
        });
    }
    let store = ModelStore::open(path)?;
    let entry = store.name().to_owned();
    Ok(Opened {
        store: Box::new(store),
        kind: SourceKind::Model,
        entry,
    })
}

/// APPNOTE.TXT 6.3.10 sections 4.3.7 and 4.3.16: local header or, in an empty
/// archive, end of central directory.
fn starts_like_zip(path: &Path) -> Result<bool, StoreError> {
    use std::io::Read;
    let shown = path.display().to_string();
    let mut first = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(4).read_to_end(&mut first))
        .map_err(|error| super::folder::from_io(&shown, &error))?;
    Ok(first == b"PK\x03\x04" || first == b"PK\x05\x06")
}
