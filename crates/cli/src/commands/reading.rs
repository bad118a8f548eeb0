//! The document of an opened source, and the folder that is written to.

use std::cell::RefCell;
use std::path::{Path, PathBuf};

use ganosis_dossier::document::FILE_NAME;
use ganosis_dossier::store::{Opened, SourceKind, Store};
use ganosis_dossier::{Dossier, document_from_bytes};
use ganosis_imaging::calibration::InputRecord;
use ganosis_surface::{Surface, gltf_in};

use super::chart_files as files;
use crate::trouble::Trouble;

/// Reads `dossier.json`; the error says why it could not be read, and what is
/// left out of it goes to the error stream.
pub(super) fn document_of(opened: &Opened) -> Result<Dossier, String> {
    let bytes = opened
        .store
        .read(FILE_NAME)
        .map_err(|error| error.to_string())?;
    let reading = document_from_bytes(&bytes).map_err(|error| error.to_string())?;
    for finding in &reading.findings {
        eprintln!("{finding}\n");
    }
    Ok(reading.document)
}

/// Reads the mesh file `file` of a store: see [`surface_with_records`].
pub(super) fn surface_in(
    store: &dyn Store,
    file: &str,
) -> Result<(Surface, Vec<InputRecord>), String> {
    let bytes = store.read(file).map_err(|error| error.to_string())?;
    let beside = |name: &str| store.read(&ganosis_surface::beside(file, name)).ok();
    surface_with_records(&bytes, Path::new(file), &beside)
}

/// Reads a mesh file's bytes with the files beside it that hold its geometry, and gives the records of
/// all of them, its own first; the error says why it could not be read.
pub(super) fn surface_with_records(
    bytes: &[u8],
    file: &Path,
    beside: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> Result<(Surface, Vec<InputRecord>), String> {
    let record = |file: &Path, bytes: &[u8]| InputRecord {
        file: files::name(file),
        sha256: files::sha256_of(bytes),
    };
    let records = RefCell::new(vec![record(file, bytes)]);
    let fetch = |name: &str| {
        let bytes = beside(name)?;
        records.borrow_mut().push(record(Path::new(name), &bytes));
        Some(bytes)
    };
    let surface = gltf_in::read(bytes, &fetch).map_err(|error| error.to_string())?;
    Ok((surface, records.into_inner()))
}

/// Where the files of layers go: as named, within the dossier if there is one; by default `usual` within its
/// folder of layers.
pub(super) fn output_folder(
    named: Option<&Path>,
    dossier: Option<&Path>,
    usual: &str,
) -> anyhow::Result<PathBuf> {
    match (named, dossier) {
        (None, Some(dossier)) => Ok(dossier.join("layers").join(usual)),
        (Some(named), None) => Ok(named.to_owned()),
        (Some(named), Some(dossier)) if named.starts_with(dossier) => Ok(named.to_owned()),
        _ => Err(Trouble::error(
            "the files of a dossier's layer lie within the dossier",
            "--output",
            "Leave --output out, or name a folder in the dossier.",
        )),
    }
}

/// The folder that is written to; what is no folder is told what to do.
pub(super) fn folder_to_write(path: &Path, kind: SourceKind) -> anyhow::Result<PathBuf> {
    let (what, advice) = match kind {
        SourceKind::Folder if path.is_dir() && !path.join(FILE_NAME).exists() => (
            "an archived dossier is not changed",
            "Bring it back into a folder of its own first: ganosis import BAG --to DIR.",
        ),
        SourceKind::Folder if path.is_dir() => return Ok(path.to_path_buf()),
        SourceKind::Folder => {
            let above = path.parent().filter(|above| !above.as_os_str().is_empty());
            return Ok(above.unwrap_or(Path::new(".")).to_path_buf());
        }
        SourceKind::Zip => (
            "a zip file cannot be edited in place",
            "Unpack it and name the folder; zip the folder again when you are done. To look at it, the zip does as it is.",
        ),
        SourceKind::Model => (
            "a 3D file alone has no place for pins, evidence or claims",
            "Put it into a folder with a dossier.json that names it as its surface, and name that folder. To look at it, the file does as it is.",
        ),
    };
    Err(Trouble::error(what, path.display(), advice))
}
