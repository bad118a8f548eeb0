//! A dossier in a folder.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use super::{LARGEST_FILE_BYTES, MOST_FILES, Store, StoreError, expect_inside};

/// Files of one folder and the folders in it. Symbolic links are followed
/// only as long as they stay inside.
#[derive(Debug, Clone)]
pub struct FolderStore {
    root: PathBuf,
}

impl FolderStore {
    /// Opens a folder.
    ///
    /// # Errors
    /// [`StoreError`] if `root` is no folder.
    pub fn open(root: &Path) -> Result<Self, StoreError> {
        let shown = root.display().to_string();
        let root = fs::canonicalize(root).map_err(|error| from_io(&shown, &error))?;
        if !root.is_dir() {
            return Err(StoreError::Unreadable {
                path: shown,
                reason: "it is not a folder. Name the folder that holds dossier.json.".to_owned(),
            });
        }
        Ok(Self { root })
    }

    /// The folder, without symbolic links.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    fn resolve(&self, path: &str) -> Result<(PathBuf, fs::Metadata), StoreError> {
        expect_inside(path)?;
        let full = fs::canonicalize(self.root.join(path)).map_err(|e| from_io(path, &e))?;
        if !full.starts_with(&self.root) {
            return Err(refused(
                path,
                "it is a symbolic link that leads out of the dossier. Copy the file into the dossier.",
            ));
        }
        let about = fs::metadata(&full).map_err(|e| from_io(path, &e))?;
        if about.is_dir() {
            return Err(StoreError::NotFound {
                path: path.to_owned(),
            });
        }
        if !about.is_file() {
            return Err(refused(path, "it is not a regular file."));
        }
        if about.len() > LARGEST_FILE_BYTES {
            return Err(refused(path, "it is larger than 4 GiB. Make it smaller."));
        }
        Ok((full, about))
    }
}

impl Store for FolderStore {
    fn size(&self, path: &str) -> Result<u64, StoreError> {
        Ok(self.resolve(path)?.1.len())
    }

    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        self.read_range(path, 0, LARGEST_FILE_BYTES)
    }

    fn read_range(&self, path: &str, start: u64, length: u64) -> Result<Vec<u8>, StoreError> {
        let (full, _) = self.resolve(path)?;
        read_part(&full, start, length).map_err(|error| from_io(path, &error))
    }

    fn stamp(&self, path: &str) -> Result<String, StoreError> {
        let (_, about) = self.resolve(path)?;
        let changed_ns = about
            .modified()
            .ok()
            .and_then(|time| time.duration_since(UNIX_EPOCH).ok())
            .map_or(0, |since| since.as_nanos());
        Ok(format!("{:x}-{changed_ns:x}", about.len()))
    }

    fn list(&self) -> Result<Vec<String>, StoreError> {
        let mut files = Vec::new();
        let mut folders = vec![String::new()];
        while let Some(folder) = folders.pop() {
            self.list_one(&folder, &mut folders, &mut files)?;
            if files.len() + folders.len() > MOST_FILES {
                return Err(refused(
                    &self.root.display().to_string(),
                    "it holds more than 100,000 files. Name the folder of one dossier.",
                ));
            }
        }
        files.sort();
        Ok(files)
    }
}

impl FolderStore {
    /// Adds what is directly in `folder`; links to folders and hidden files
    /// are passed over.
    fn list_one(
        &self,
        folder: &str,
        folders: &mut Vec<String>,
        files: &mut Vec<String>,
    ) -> Result<(), StoreError> {
        let entries = fs::read_dir(self.root.join(folder)).map_err(|e| from_io(folder, &e))?;
        for entry in entries {
            let entry = entry.map_err(|e| from_io(folder, &e))?;
            let name = entry.file_name().to_string_lossy().into_owned();
            if name.starts_with('.') {
                continue;
            }
            let path = if folder.is_empty() {
                name
            } else {
                format!("{folder}/{name}")
            };
            if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                folders.push(path);
            } else if self.resolve(&path).is_ok() {
                files.push(path);
            }
        }
        Ok(())
    }
}

fn read_part(full: &Path, start: u64, length: u64) -> io::Result<Vec<u8>> {
    let mut file = File::open(full)?;
    file.seek(SeekFrom::Start(start))?;
    let mut bytes = Vec::new();
    file.take(length).read_to_end(&mut bytes)?;
    Ok(bytes)
}

pub(super) fn refused(path: &str, reason: &str) -> StoreError {
    StoreError::Refused {
        path: path.to_owned(),
        reason: reason.to_owned(),
    }
}

pub(super) fn from_io(path: &str, error: &io::Error) -> StoreError {
    match error.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => StoreError::NotFound {
            path: path.to_owned(),
        },
        _ => StoreError::Unreadable {
            path: path.to_owned(),
            reason: error.to_string(),
        },
    }
}
