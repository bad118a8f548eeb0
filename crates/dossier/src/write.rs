//! Writing `dossier.json`: all or nothing, and nothing lost.

mod files;

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use serde_json::{Map, Value};

use crate::document::{Dossier, FILE_NAME};
use crate::read::{ReadError, value_from_bytes};
use crate::store::StoreError;

pub use files::{Put, expect_writable, put_file};

/// Where the document before the last edit is kept. Its name begins with a
/// dot, so that it is neither served nor packed with the dossier.
pub const PREVIOUS_NAME: &str = ".dossier.previous.json";

/// How the names of temporary files begin.
const TEMPORARY_PREFIX: &str = ".saving-";

/// Why a dossier was not written. What was there is unchanged.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// Somebody else saved meanwhile.
    #[error(
        "{FILE_NAME} was saved by somebody else meanwhile (revision {found}; these changes were made to revision {expected}). Load it again and repeat the changes."
    )]
    Revision {
        /// Revision of the document to be written.
        expected: u64,
        /// Revision on disk.
        found: u64,
    },
    /// The document was read only in part.
    #[error(
        "{FILE_NAME} is not saved, because values of the wrong type would be lost, the first at {first}. Correct them and load the dossier again."
    )]
    Incomplete {
        /// JSONPath of the first value left out.
        first: String,
    },
    /// What is there is not JSON.
    #[error(transparent)]
    Existing(#[from] ReadError),
    /// The path of a file does not do.
    #[error(transparent)]
    Path(#[from] StoreError),
    /// A file of that name is there with other content.
    #[error(
        "{path} is there already with other content, and a file is never written over. Use a name that is free, such as {free}."
    )]
    Taken {
        /// The path asked for.
        path: String,
        /// A path that was free a moment ago.
        free: String,
    },
    /// The operating system says no.
    #[error(
        "{file} could not be written: {source}. Look at free space and permissions of the folder."
    )]
    Io {
        /// The file.
        file: String,
        /// What the system said.
        source: io::Error,
    },
}

/// Saves a document that was read from `folder` and changed. The revision on
/// disk must be the one that was read; it is raised by one.
///
/// Fields keep the order they have on disk; unknown ones stay. A save is
/// complete or has not happened, also when the power fails.
///
/// Returns the new revision.
///
/// # Errors
/// [`WriteError`]; the file on disk is then as it was.
pub fn save(folder: &Path, document: &Dossier) -> Result<u64, WriteError> {
    save_over(folder, document, false)
}

/// As [`save`], and keeps the document that was there as [`PREVIOUS_NAME`],
/// so that one save can be taken back by hand. The copy is made first.
///
/// # Errors
/// As [`save`].
pub fn save_keeping_previous(folder: &Path, document: &Dossier) -> Result<u64, WriteError> {
    save_over(folder, document, true)
}

/// Takes away temporary files that a killed program left in `folder`. Every
/// writer holds the lock as long as it has one, so none in use is taken.
pub fn clear_leftovers(folder: &Path) {
    let Some(_lock) = lock(folder) else { return };
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        if entry
            .file_name()
            .to_string_lossy()
            .starts_with(TEMPORARY_PREFIX)
        {
            // What cannot be taken away does no harm.
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Held until dropped, so that two savers do not both find the old revision;
/// `None` where folders cannot be locked: the check alone must do there.
fn lock(folder: &Path) -> Option<File> {
    let dir = File::open(folder).ok()?;
    dir.lock().ok().map(|()| dir)
}

fn save_over(folder: &Path, document: &Dossier, keep: bool) -> Result<u64, WriteError> {
    let _lock = lock(folder);
    let existing = existing(folder)?;
    let found = existing
        .as_ref()
        .map(|value| value.get("revision").and_then(Value::as_u64).unwrap_or(0));
    if let Some(found) = found
        && found != document.revision
    {
        return Err(WriteError::Revision {
            expected: document.revision,
            found,
        });
    }
    if let Some(first) = document.left_out.first() {
        let first = first.clone();
        return Err(WriteError::Incomplete { first });
    }
    if keep && existing.is_some() {
        let before = fs::read(folder.join(FILE_NAME)).map_err(|e| io_error(FILE_NAME, e))?;
        write_atomically(&folder.join(PREVIOUS_NAME), &before)?;
    }
    let mut next = document.clone();
    next.revision = document.revision.saturating_add(1);
    put(folder, &next, existing.as_ref())?;
    Ok(next.revision)
}

/// Writes a document as it is, whatever revision is there; for programs that
/// make a dossier.
///
/// # Errors
/// [`WriteError`]; the file on disk is then as it was.
pub fn write(folder: &Path, document: &Dossier) -> Result<(), WriteError> {
    put(folder, document, None)
}

fn existing(folder: &Path) -> Result<Option<Value>, WriteError> {
    match fs::read(folder.join(FILE_NAME)) {
        Ok(bytes) => Ok(Some(value_from_bytes(&bytes)?)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(source) => Err(io_error(FILE_NAME, source)),
    }
}

fn put(folder: &Path, document: &Dossier, existing: Option<&Value>) -> Result<(), WriteError> {
    if let Some(first) = document.left_out.first() {
        let first = first.clone();
        return Err(WriteError::Incomplete { first });
    }
    let mut value = document.to_value();
    if let Some(existing) = existing {
        value = in_order_of(existing, value);
    }
    let mut json = serde_json::to_vec_pretty(&value)
        .map_err(|error| io_error(FILE_NAME, io::Error::other(error)))?;
    json.push(b'\n');
    write_atomically(&folder.join(FILE_NAME), &json)
}

/// Writes `bytes` to a temporary file beside `path`, flushes it to the disk
/// and renames it.
///
/// # Errors
/// [`WriteError::Io`]; what was at `path` is then as it was.
pub fn write_atomically(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    replace(path, bytes, true)
}

/// As [`write_atomically`], without waiting for the disk: for many files that can be made again.
///
/// # Errors
/// If the file cannot be written; then nothing has changed.
pub fn write_renewable(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    replace(path, bytes, false)
}

fn replace(path: &Path, bytes: &[u8], flush: bool) -> Result<(), WriteError> {
    let shown = path.display().to_string();
    let folder = path.parent().unwrap_or(Path::new("."));
    let steps = || -> io::Result<()> {
        let mut temporary = tempfile::Builder::new()
            .prefix(TEMPORARY_PREFIX)
            .tempfile_in(folder)?;
        temporary.write_all(bytes)?;
        keep_permissions(path, temporary.as_file())?;
        if flush {
            temporary.as_file().sync_all()?;
        }
        temporary.persist(path).map_err(|error| error.error)?;
        if flush {
            flush_folder(folder);
        }
        Ok(())
    };
    steps().map_err(|source| io_error(&shown, source))
}

/// A rename reaches the disk with its folder; not every system can flush a
/// folder, and the file is whole either way.
fn flush_folder(folder: &Path) {
    let _ = File::open(folder).and_then(|dir| dir.sync_all());
}

/// A temporary file is private; the dossier stays as readable as it was, and
/// a new one is as readable as a file commonly is.
#[cfg(unix)]
fn keep_permissions(path: &Path, file: &File) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let permissions = match fs::metadata(path) {
        Ok(about) => about.permissions(),
        Err(_) => fs::Permissions::from_mode(0o644),
    };
    file.set_permissions(permissions)
}

#[cfg(not(unix))]
fn keep_permissions(_: &Path, _: &File) -> io::Result<()> {
    Ok(())
}

fn io_error(file: &str, source: io::Error) -> WriteError {
    WriteError::Io {
        file: file.to_owned(),
        source,
    }
}

/// `new` in the order and with the spelling of `old` where they say the same:
/// fields in their old places, `1` not turned into `1.0`, and empty fields
/// that were written out still written out.
fn in_order_of(old: &Value, new: Value) -> Value {
    match (old, new) {
        (Value::Object(old), Value::Object(new)) => Value::Object(fields_in_order(old, new)),
        (Value::Array(old), Value::Array(new)) => {
            let place = |index: usize, item: &Value| match item.get("id") {
                Some(id) => old.iter().find(|other| other.get("id") == Some(id)),
                None => old.get(index),
            };
            Value::Array(
                new.into_iter()
                    .enumerate()
                    .map(|(index, item)| match place(index, &item) {
                        Some(old) => in_order_of(old, item),
                        None => item,
                    })
                    .collect(),
            )
        }
        (Value::Number(old), Value::Number(new)) if old.as_f64() == new.as_f64() => {
            Value::Number(old.clone())
        }
        (_, new) => new,
    }
}

fn fields_in_order(old: &Map<String, Value>, mut new: Map<String, Value>) -> Map<String, Value> {
    let mut out = Map::new();
    for (name, old) in old {
        match new.shift_remove(name) {
            Some(value) => {
                out.insert(name.clone(), in_order_of(old, value));
            }
            None if says_nothing(old) => {
                out.insert(name.clone(), old.clone());
            }
            None => {}
        }
    }
    // Fields that are written always but were not there and say nothing stay away.
    out.extend(new.into_iter().filter(|(_, value)| !says_nothing(value)));
    out
}

fn says_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::String(text) => text.is_empty(),
        Value::Array(list) => list.is_empty(),
        Value::Object(fields) => fields.values().all(says_nothing),
        Value::Bool(_) | Value::Number(_) => false,
    }
}

#[cfg(test)]
mod tests;
