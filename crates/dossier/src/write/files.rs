//! Files beside the document: attachments and label images that an edit adds.
//!
//! A file is never written over. The document names its files, so a new
//! version of an image gets a new name, and the one write of the document
//! decides which of them counts; a crash in between loses nothing.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::{TEMPORARY_PREFIX, WriteError, flush_folder, io_error, keep_permissions, lock};
use crate::document::FILE_NAME;
use crate::store::{StoreError, expect_inside};

/// Longest path in bytes: half of what the strictest common system takes
/// (Windows, MAX_PATH 260), the rest is for the folders above the dossier.
const LONGEST_PATH_BYTES: usize = 130;

/// Device names of Windows, which no file may have there with any extension
/// (Microsoft, "Naming Files, Paths, and Namespaces").
const DEVICE_NAMES: &[&str] = &[
    "con", "prn", "aux", "nul", "com1", "com2", "com3", "com4", "com5", "com6", "com7", "com8",
    "com9", "lpt1", "lpt2", "lpt3", "lpt4", "lpt5", "lpt6", "lpt7", "lpt8", "lpt9",
];

/// Most names that are tried for a free one.
const MOST_TRIES: u32 = 10_000;

/// What became of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Put {
    /// It was written.
    Written,
    /// It was there with this content.
    Same,
}

/// Checks that a file may be written at `path` on every common system.
///
/// # Errors
/// [`StoreError::BadPath`] with the rule that it breaks.
pub fn expect_writable(path: &str) -> Result<(), StoreError> {
    expect_inside(path)?;
    let device = |part: &str| {
        let stem = part.split('.').next().unwrap_or(part).trim_end();
        DEVICE_NAMES
            .iter()
            .any(|name| stem.eq_ignore_ascii_case(name))
    };
    let broken = if path.len() > LONGEST_PATH_BYTES {
        Some("it is longer than 130 bytes")
    } else if path.split('/').any(|part| part.starts_with('.')) {
        Some("a step begins with a dot, which hides it")
    } else if path
        .split('/')
        .any(|part| part.ends_with('.') || part.starts_with(' ') || part.ends_with(' '))
    {
        Some("a step ends with a dot, or begins or ends with a space")
    } else if path.contains(['<', '>', ':', '"', '|', '?', '*', '%', '#']) {
        Some("it contains one of < > : \" | ? * % #")
    } else if path.split('/').any(device) {
        Some("a step is the name of a device on some systems")
    } else if path.eq_ignore_ascii_case(FILE_NAME) {
        Some("it is the document, which is saved with its revision")
    } else {
        None
    };
    match broken {
        None => Ok(()),
        Some(reason) => Err(StoreError::BadPath {
            path: path.to_owned(),
            reason,
        }),
    }
}

/// Writes a new file at `path` in the dossier `folder`, complete or not at
/// all; folders are made as needed.
///
/// # Errors
/// [`WriteError::Path`] for a path that does not do, [`WriteError::Taken`] if
/// other content is there, [`WriteError::Io`] if the system says no.
pub fn put_file(folder: &Path, path: &str, bytes: &[u8]) -> Result<Put, WriteError> {
    expect_writable(path)?;
    let _lock = lock(folder);
    let target = make_folders(folder, path)?;
    if let Some(put) = already(folder, path, &target, bytes)? {
        return Ok(put);
    }
    let steps = || -> io::Result<()> {
        let mut temporary = tempfile::Builder::new()
            .prefix(TEMPORARY_PREFIX)
            .tempfile_in(folder)?;
        temporary.write_all(bytes)?;
        keep_permissions(&target, temporary.as_file())?;
        temporary.as_file().sync_all()?;
        temporary
            .persist_noclobber(&target)
            .map_err(|error| error.error)?;
        target.parent().into_iter().for_each(flush_folder);
        Ok(())
    };
    match steps() {
        Ok(()) => Ok(Put::Written),
        // Somebody who does not hold the lock was faster.
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            already(folder, path, &target, bytes)?.ok_or_else(|| io_error(path, error))
        }
        Err(source) => Err(io_error(path, source)),
    }
}

/// `None` if nothing is there.
fn already(
    folder: &Path,
    path: &str,
    target: &Path,
    bytes: &[u8],
) -> Result<Option<Put>, WriteError> {
    let about = match fs::symlink_metadata(target) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(source) => return Err(io_error(path, source)),
        Ok(about) => about,
    };
    let same = about.is_file()
        && about.len() == bytes.len() as u64
        && fs::read(target).map_err(|e| io_error(path, e))? == bytes;
    if same {
        return Ok(Some(Put::Same));
    }
    Err(WriteError::Taken {
        path: path.to_owned(),
        free: free(folder, path),
    })
}

/// `name-2.ext`, `name-3.ext` ...: the first that is not there.
fn free(folder: &Path, path: &str) -> String {
    let start = path.rfind('/').map_or(0, |slash| slash + 1);
    let dot = path[start..]
        .rfind('.')
        .map_or(path.len(), |dot| start + dot);
    let (stem, extension) = path.split_at(dot);
    (2..MOST_TRIES)
        .map(|number| format!("{stem}-{number}{extension}"))
        .find(|name| fs::symlink_metadata(folder.join(name)).is_err())
        .unwrap_or_else(|| format!("{stem}-new{extension}"))
}

/// The path on disk; the folders above it are there then, and none is a link.
fn make_folders(folder: &Path, path: &str) -> Result<PathBuf, WriteError> {
    let mut at = folder.to_path_buf();
    let (above, name) = path.rsplit_once('/').unwrap_or(("", path));
    for step in above.split('/').filter(|step| !step.is_empty()) {
        at.push(step);
        match fs::create_dir(&at) {
            Ok(()) => {}
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(source) => return Err(io_error(path, source)),
        }
        let about = fs::symlink_metadata(&at).map_err(|e| io_error(path, e))?;
        if !about.is_dir() {
            return Err(StoreError::Refused {
                path: path.to_owned(),
                reason: format!(
                    "{step} is not a folder of the dossier itself (a file or a link). Use another path."
                ),
            }
            .into());
        }
    }
    at.push(name);
    Ok(at)
}

#[cfg(test)]
mod tests;
