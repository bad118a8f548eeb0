//! The document of an opened source, and the folder that is written to.

use std::path::{Path, PathBuf};

use ganosis_dossier::document::FILE_NAME;
use ganosis_dossier::store::{Opened, SourceKind, Store};
use ganosis_dossier::{Dossier, document_from_bytes};
use ganosis_surface::{Surface, gltf_in};

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

/// Reads the mesh file `file` with what lies beside it, and gives its own bytes too; the error says
/// why it could not be read.
pub(super) fn surface_in(store: &dyn Store, file: &str) -> Result<(Surface, Vec<u8>), String> {
    let bytes = store.read(file).map_err(|error| error.to_string())?;
    let beside = |name: &str| store.read(&gltf_in::beside(file, name)).ok();
    let surface = gltf_in::read(&bytes, &beside).map_err(|error| error.to_string())?;
    Ok((surface, bytes))
}

/// The folder that is written to; what is no folder is told what to do.
pub(super) fn folder_to_write(path: &Path, kind: SourceKind) -> anyhow::Result<PathBuf> {
    let (what, advice) = match kind {
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
