//! The document of an opened source; what is left out of it goes to the error stream.

use ganosis_dossier::document::FILE_NAME;
use ganosis_dossier::store::Opened;
use ganosis_dossier::{Dossier, document_from_bytes};

/// Reads `dossier.json`; the error says why it could not be read.
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
