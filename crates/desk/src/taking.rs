//! What somebody takes along: the surface with pictures of their own, as a file that other programs open.

use std::collections::BTreeMap;

use ganosis_dossier::{Store, StoreError, document_from_bytes};
use ganosis_exchange::solid::{Purpose, reduce, solid};
use ganosis_exchange::usd::to_usdz;

use crate::{Desk, DeskError};

/// Files in memory, by path.
struct InHand(BTreeMap<String, Vec<u8>>);

impl Store for InHand {
    fn size(&self, path: &str) -> Result<u64, StoreError> {
        self.read(path).map(|bytes| bytes.len() as u64)
    }

    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        let found = self.0.get(path).cloned();
        found.ok_or_else(|| StoreError::NotFound {
            path: path.to_owned(),
        })
    }

    fn list(&self) -> Result<Vec<String>, StoreError> {
        Ok(self.0.keys().cloned().collect())
    }
}

impl Desk {
    /// A USDZ package of this desk's surface as `document` says that it looks; `pictures` are the images
    /// that the document names, by path. Pictures keep every code value; the mesh is reduced to what a
    /// room seen through a telephone has room for.
    ///
    /// # Errors
    /// If the document cannot be read, or the surface or a picture cannot be used.
    pub fn package(
        &self,
        document: &[u8],
        pictures: BTreeMap<String, Vec<u8>>,
    ) -> Result<Vec<u8>, DeskError> {
        let reading = document_from_bytes(document).map_err(|error| error.to_string())?;
        let mut files = pictures;
        for path in self.needs("package", None) {
            // What the surface only looks like by itself is covered by the pictures.
            if let Ok(bytes) = (self.files)(&path) {
                files.insert(path, bytes);
            }
        }
        let refused = |error: ganosis_exchange::ExportError| DeskError::from(error.to_string());
        let store = InHand(files);
        let mut made = solid(&reading.document, &store, Purpose::Archive).map_err(refused)?;
        reduce(&mut made, Purpose::Room);
        to_usdz(&reading.document, &made, &[]).map_err(refused)
    }
}
