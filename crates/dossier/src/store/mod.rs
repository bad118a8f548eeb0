//! Where the files of a dossier come from.
//!
//! A store gives bytes by relative path. It follows no path out of the
//! dossier, whatever a document or an archive asks for.

#[cfg(feature = "folder")]
mod folder;
#[cfg(feature = "folder")]
mod model;
#[cfg(all(feature = "folder", feature = "zip"))]
mod opened;
#[cfg(feature = "zip")]
mod zipped;

#[cfg(feature = "folder")]
pub use folder::FolderStore;
#[cfg(feature = "folder")]
pub use model::ModelStore;
#[cfg(all(feature = "folder", feature = "zip"))]
pub use opened::{Opened, SourceKind, open};
#[cfg(feature = "zip")]
pub use zipped::{ZipLimits, ZipStore};

/// Largest single file that a store reads into memory, bytes. A 16-bit RGB
/// image of 16384 x 16384 pixels is 1.6 GB; a choice of ours above that.
pub const LARGEST_FILE_BYTES: u64 = 4 << 30;

/// Most files that a store lists. A choice of ours: no dossier comes near.
pub const MOST_FILES: usize = 100_000;

/// Bytes by relative path.
pub trait Store: Send + Sync {
    /// Size of a file in bytes.
    ///
    /// # Errors
    /// [`StoreError`] if there is no such file or it is refused.
    fn size(&self, path: &str) -> Result<u64, StoreError>;

    /// All bytes of a file.
    ///
    /// # Errors
    /// [`StoreError`] if the file cannot be read or is refused.
    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError>;

    /// `length` bytes from `start`; fewer where the file ends before.
    ///
    /// # Errors
    /// As [`Store::read`].
    fn read_range(&self, path: &str, start: u64, length: u64) -> Result<Vec<u8>, StoreError> {
        let bytes = self.read(path)?;
        let clamp = |at: u64| usize::try_from(at).map_or(bytes.len(), |at| at.min(bytes.len()));
        Ok(bytes[clamp(start)..clamp(start.saturating_add(length))].to_vec())
    }

    /// Something that changes when the file changes, for caches; at least its size.
    ///
    /// # Errors
    /// As [`Store::size`].
    fn stamp(&self, path: &str) -> Result<String, StoreError> {
        Ok(format!("{:x}", self.size(path)?))
    }

    /// Paths of all files, sorted.
    ///
    /// # Errors
    /// [`StoreError`] if the files cannot be listed.
    fn list(&self) -> Result<Vec<String>, StoreError>;
}

/// Why a store did not give a file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StoreError {
    /// The path is not a plain relative path.
    #[error(
        "\"{path}\" is not a path inside the dossier: {reason}. Use a relative path with / between folders."
    )]
    BadPath {
        /// The path asked for.
        path: String,
        /// Which rule it breaks.
        reason: &'static str,
    },
    /// There is no such file.
    #[error("{path} is not there. Put the file there or correct the path.")]
    NotFound {
        /// The path asked for.
        path: String,
    },
    /// The file or archive could do harm.
    #[error("{path} is refused: {reason}")]
    Refused {
        /// The path or the entry of the archive.
        path: String,
        /// Why, and what to do.
        reason: String,
    },
    /// The operating system or the archive says no.
    #[error("{path} could not be read: {reason}")]
    Unreadable {
        /// The path asked for.
        path: String,
        /// What the system said.
        reason: String,
    },
}

/// Checks that `path` stays inside the dossier on every system.
///
/// # Errors
/// [`StoreError::BadPath`] with the rule that it breaks.
pub fn expect_inside(path: &str) -> Result<(), StoreError> {
    let broken = if path.is_empty() {
        Some("it is empty")
    } else if path.starts_with('/') {
        Some("it is absolute")
    } else if path.contains('\\') {
        Some("it contains a backslash")
    } else if path.chars().any(char::is_control) {
        Some("it contains a control character")
    } else if path
        .split('/')
        .next()
        .is_some_and(|first| first.contains(':'))
    {
        Some("it names a drive or an address")
    } else if path.split('/').any(|part| part == "..") {
        Some("it climbs out of its folder")
    } else if path.split('/').any(|part| part.is_empty() || part == ".") {
        Some("it has an empty or a \".\" step")
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

#[cfg(test)]
mod tests;
