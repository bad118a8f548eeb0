//! Bags on the disk: read whole, with everything that lies in them.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use ganosis_dossier::StoreError;
use ganosis_exchange::bag::{BagFiles, DECLARATION};

/// True if a folder declares itself a bag (RFC 8493, section 2.1.1), or has its
/// manifests and payload and has lost the declaration.
pub(super) fn is_bag(path: &Path) -> bool {
    path.is_dir()
        && !path.join("dossier.json").exists()
        && (path.join(DECLARATION).exists()
            || path.join("bag-info.txt").exists()
            || path.join("data/dossier").is_dir())
}

/// The files of a bag.
pub(super) struct FolderBag {
    root: PathBuf,
    files: Vec<String>,
    others: Vec<String>,
}

impl FolderBag {
    /// Lists everything in it, hidden files too; links are not followed.
    pub(super) fn open(root: &Path) -> Result<Self, StoreError> {
        let mut bag = Self {
            root: root.to_path_buf(),
            files: Vec::new(),
            others: Vec::new(),
        };
        let mut folders = vec![String::new()];
        while let Some(folder) = folders.pop() {
            let shown = if folder.is_empty() {
                "the bag"
            } else {
                &folder
            };
            let unreadable = |error: io::Error| StoreError::Unreadable {
                path: shown.to_owned(),
                reason: error.to_string(),
            };
            for entry in fs::read_dir(root.join(&folder)).map_err(unreadable)? {
                let entry = entry.map_err(unreadable)?;
                let name = entry.file_name().to_string_lossy().into_owned();
                let path = if folder.is_empty() {
                    name
                } else {
                    format!("{folder}/{name}")
                };
                match entry.file_type().map_err(unreadable)? {
                    kind if kind.is_dir() => folders.push(path),
                    kind if kind.is_file() => bag.files.push(path),
                    _ => bag.others.push(path),
                }
            }
        }
        bag.files.sort();
        Ok(bag)
    }
}

impl BagFiles for FolderBag {
    fn list(&self) -> Result<Vec<String>, StoreError> {
        Ok(self.files.clone())
    }

    fn others(&self) -> Vec<String> {
        self.others.clone()
    }

    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        fs::read(self.root.join(path)).map_err(|error| StoreError::Unreadable {
            path: path.to_owned(),
            reason: error.to_string(),
        })
    }
}
