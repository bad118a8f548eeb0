//! A single `.glb` or `.gltf` with the files that it names.

use std::collections::BTreeSet;
use std::path::Path;

use super::{FolderStore, Store, StoreError};
use crate::gltf_json;

/// One glTF file and the files beside it that it names, and nothing else of
/// the folder it lies in.
#[derive(Debug, Clone)]
pub struct ModelStore {
    folder: FolderStore,
    name: String,
    allowed: BTreeSet<String>,
}

impl ModelStore {
    /// Opens a `.glb` or `.gltf`.
    ///
    /// # Errors
    /// [`StoreError`] if the file cannot be read or is no glTF.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let shown = path.display().to_string();
        let unreadable = |reason: &str| StoreError::Unreadable {
            path: shown.clone(),
            reason: reason.to_owned(),
        };
        let name = path
            .file_name()
            .and_then(|name| name.to_str())
            .ok_or_else(|| unreadable("its name is not plain text. Rename it."))?
            .to_owned();
        let parent = match path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        let folder = FolderStore::open(parent)?;
        let gltf = gltf_json::json_of(&folder.read(&name)?).ok_or_else(|| {
            unreadable("it is not a glTF 2.0 file. Export it again from the program that made it.")
        })?;
        let mut allowed: BTreeSet<String> = gltf_json::outside_files(&gltf).collect();
        allowed.insert(name.clone());
        Ok(Self {
            folder,
            name,
            allowed,
        })
    }

    /// Name of the glTF file.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    fn allow(&self, path: &str) -> Result<(), StoreError> {
        if self.allowed.contains(path) {
            return Ok(());
        }
        Err(StoreError::NotFound {
            path: path.to_owned(),
        })
    }
}

impl Store for ModelStore {
    fn size(&self, path: &str) -> Result<u64, StoreError> {
        self.allow(path).and_then(|()| self.folder.size(path))
    }

    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        self.allow(path).and_then(|()| self.folder.read(path))
    }

    fn read_range(&self, path: &str, start: u64, length: u64) -> Result<Vec<u8>, StoreError> {
        self.allow(path)?;
        self.folder.read_range(path, start, length)
    }

    fn stamp(&self, path: &str) -> Result<String, StoreError> {
        self.allow(path).and_then(|()| self.folder.stamp(path))
    }

    fn list(&self) -> Result<Vec<String>, StoreError> {
        let there = |path: &&String| self.folder.size(path).is_ok();
        Ok(self.allowed.iter().filter(there).cloned().collect())
    }
}
