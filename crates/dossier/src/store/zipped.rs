//! A dossier in a zip file, read only.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use zip::{CompressionMethod, ZipArchive};

use super::{LARGEST_FILE_BYTES, MOST_FILES, Store, StoreError, expect_inside};
use crate::document::FILE_NAME;

/// What an archive may hold.
#[derive(Debug, Clone, Copy)]
pub struct ZipLimits {
    /// Largest entry, unpacked, bytes.
    pub largest_entry_bytes: u64,
    /// All entries together, unpacked, bytes.
    pub total_bytes: u64,
    /// Greatest ratio of unpacked to packed size of an entry larger than
    /// `ratio_from_bytes`. DEFLATE reaches 1032 (zlib's technical notes,
    /// "maximum compression factor"); images, meshes and tables of a dossier
    /// stay far below, an unpacked image of one colour does not: store it as PNG.
    pub ratio: u64,
    /// Entries up to this size are not held to `ratio`.
    pub ratio_from_bytes: u64,
}

/// Choices of ours; see the fields.
impl Default for ZipLimits {
    fn default() -> Self {
        Self {
            largest_entry_bytes: LARGEST_FILE_BYTES,
            total_bytes: 64 << 30,
            ratio: 200,
            ratio_from_bytes: 16 << 20,
        }
    }
}

/// Files of one archive. The whole archive is looked through before anything
/// is read; one harmful entry is enough to refuse it.
pub struct ZipStore {
    archive: Mutex<ZipArchive<File>>,
    entries: BTreeMap<String, Entry>,
    stamp: String,
}

#[derive(Debug, Clone, Copy)]
struct Entry {
    index: usize,
    size: u64,
    crc32: u32,
}

impl ZipStore {
    /// Opens an archive under the usual limits.
    ///
    /// # Errors
    /// [`StoreError`] if it cannot be read or is refused.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_within(path, ZipLimits::default())
    }

    /// Opens an archive under the limits given.
    ///
    /// # Errors
    /// As [`ZipStore::open`].
    pub fn open_within(path: &Path, limits: ZipLimits) -> Result<Self, StoreError> {
        let shown = path.display().to_string();
        let unreadable = |reason: String| StoreError::Unreadable {
            path: shown.clone(),
            reason,
        };
        let file = File::open(path).map_err(|error| unreadable(error.to_string()))?;
        let length = file
            .metadata()
            .map_err(|error| unreadable(error.to_string()))?
            .len();
        let mut archive = ZipArchive::new(file).map_err(|error| {
            unreadable(format!(
                "it is not a whole zip file ({error}). Make or copy it again."
            ))
        })?;
        let entries = look_through(&mut archive, limits, length, &shown)?;
        let entries = below_top_folder(entries);
        if !entries.contains_key(FILE_NAME) {
            return Err(unreadable(format!(
                "there is no {FILE_NAME} in it. Zip the folder of a dossier."
            )));
        }
        Ok(Self {
            archive: Mutex::new(archive),
            entries,
            stamp: format!("{length:x}"),
        })
    }

    fn entry(&self, path: &str) -> Result<Entry, StoreError> {
        expect_inside(path)?;
        self.entries
            .get(path)
            .copied()
            .ok_or_else(|| StoreError::NotFound {
                path: path.to_owned(),
            })
    }
}

impl Store for ZipStore {
    fn size(&self, path: &str) -> Result<u64, StoreError> {
        Ok(self.entry(path)?.size)
    }

    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        self.read_range(path, 0, u64::MAX)
    }

    /// Unpacks no further than the range asked for.
    fn read_range(&self, path: &str, start: u64, length: u64) -> Result<Vec<u8>, StoreError> {
        let entry = self.entry(path)?;
        let unreadable = |reason: String| StoreError::Unreadable {
            path: path.to_owned(),
            reason: format!("{reason}. Make or copy the zip file again."),
        };
        let mut archive = self.archive.lock().unwrap_or_else(PoisonError::into_inner);
        let mut packed = archive
            .by_index(entry.index)
            .map_err(|error| unreadable(error.to_string()))?;
        io::copy(&mut (&mut packed).take(start), &mut io::sink())
            .map_err(|error| unreadable(error.to_string()))?;
        let whole = entry.size.saturating_sub(start);
        let mut bytes = Vec::new();
        // One byte more than stated shows a size that lies.
        let wanted = length.min(whole.saturating_add(1));
        packed
            .take(wanted)
            .read_to_end(&mut bytes)
            .map_err(|error| unreadable(error.to_string()))?;
        if bytes.len() as u64 > whole {
            return Err(StoreError::Refused {
                path: path.to_owned(),
                reason: "it unpacks to more than it states. Make the zip file again.".to_owned(),
            });
        }
        Ok(bytes)
    }

    fn stamp(&self, path: &str) -> Result<String, StoreError> {
        let entry = self.entry(path)?;
        Ok(format!(
            "{}-{:x}-{:08x}",
            self.stamp, entry.size, entry.crc32
        ))
    }

    fn list(&self) -> Result<Vec<String>, StoreError> {
        Ok(self.entries.keys().cloned().collect())
    }
}

fn look_through(
    archive: &mut ZipArchive<File>,
    limits: ZipLimits,
    length: u64,
    shown: &str,
) -> Result<BTreeMap<String, Entry>, StoreError> {
    let refused = |path: &str, reason: &str| StoreError::Refused {
        path: format!("{shown}: {path}"),
        reason: reason.to_owned(),
    };
    if archive.len() > MOST_FILES {
        return Err(refused("the archive", "it has more than 100,000 entries."));
    }
    let (mut total, mut packed_total) = (0u64, 0u64);
    let mut entries = BTreeMap::new();
    for index in 0..archive.len() {
        let entry = archive
            .by_index_raw(index)
            .map_err(|error| refused(&format!("entry {index}"), &error.to_string()))?;
        let name = entry
            .name()
            .map_err(|error| refused(&format!("the name of entry {index}"), &error.to_string()))?
            .into_owned();
        expect_inside(name.strip_suffix('/').unwrap_or(&name)).map_err(|error| match error {
            StoreError::BadPath { reason, .. } => refused(
                &format!("the entry \"{}\"", name.escape_debug()),
                &format!("{reason}. Do not unpack this archive; ask its sender for a clean one."),
            ),
            other => other,
        })?;
        if let Some(reason) = harm(&entry, limits) {
            return Err(refused(&name, reason));
        }
        total = total.saturating_add(entry.size());
        packed_total = packed_total.saturating_add(entry.compressed_size());
        if entry.is_file() {
            let (size, crc32) = (entry.size(), entry.crc32());
            entries.insert(name, Entry { index, size, crc32 });
        }
    }
    if total > limits.total_bytes {
        return Err(refused(
            "the archive",
            "unpacked it is larger than a dossier may be (64 GiB).",
        ));
    }
    // Entries that share packed bytes add up to more than the file; so built
    // archives unpack to sizes out of all proportion (Fifield, "A better zip
    // bomb", WOOT 2019).
    if packed_total > length {
        return Err(refused(
            "the archive",
            "its entries overlap, as in a file made to fill a disk.",
        ));
    }
    Ok(entries)
}

/// What makes an entry harmful or unreadable, if anything.
fn harm(entry: &zip::read::ZipFile<File>, limits: ZipLimits) -> Option<&'static str> {
    let method = entry.compression();
    if entry.is_symlink() {
        Some("it is a symbolic link. Put the file itself into the archive.")
    } else if entry.encrypted() {
        Some("it is encrypted. Make the zip file without a password.")
    } else if !matches!(
        method,
        CompressionMethod::Stored | CompressionMethod::Deflated
    ) {
        Some(
            "it is packed by a method other than deflate. Make the zip file with the usual method.",
        )
    } else if entry.size() > limits.largest_entry_bytes {
        Some("unpacked it is larger than 4 GiB. Make it smaller.")
    } else if entry.size() > limits.ratio_from_bytes
        && entry.size() / limits.ratio > entry.compressed_size()
    {
        Some("it unpacks to more than 200 times its size, as in a file made to fill a disk.")
    } else {
        None
    }
}

/// A folder zipped from outside has everything in one top folder: take it off.
fn below_top_folder(entries: BTreeMap<String, Entry>) -> BTreeMap<String, Entry> {
    if entries.contains_key(FILE_NAME) {
        return entries;
    }
    let mut tops = entries.keys().filter_map(|path| {
        let (top, rest) = path.split_once('/')?;
        (rest == FILE_NAME).then(|| format!("{top}/"))
    });
    let (Some(top), None) = (tops.next(), tops.next()) else {
        return entries;
    };
    entries
        .iter()
        .filter_map(|(path, entry)| Some((path.strip_prefix(&top)?.to_owned(), *entry)))
        .collect()
}
