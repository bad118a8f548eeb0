//! Files of the commands on photographs: what is read, with its hash, and what may be written.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::photo::{Field, Flat};
use ganosis_imaging::{Encoding, ImagingError, Photo};
use sha2::{Digest, Sha256};

use crate::trouble::Trouble;

/// An error of the imaging crate for people.
pub(super) fn trouble(error: ImagingError) -> anyhow::Error {
    Trouble::error(error.what, error.place, error.advice)
}

fn no_file(path: &Path, error: &io::Error) -> anyhow::Error {
    Trouble::error(
        format!("the file cannot be read: {error}"),
        path.display(),
        "Check its name and whether you may read it.",
    )
}

/// The file's own name.
pub(super) fn name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    )
}

/// Opens a file for reading.
pub(super) fn open(path: &Path) -> anyhow::Result<BufReader<File>> {
    let file = File::open(path).map_err(|e| no_file(path, &e))?;
    Ok(BufReader::with_capacity(1 << 20, file))
}

/// The bytes of a file.
pub(super) fn bytes(path: &Path) -> anyhow::Result<Vec<u8>> {
    std::fs::read(path).map_err(|e| no_file(path, &e))
}

/// The text of a file.
pub(super) fn text(path: &Path) -> anyhow::Result<String> {
    let bytes = bytes(path)?;
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        Trouble::error(
            "the file is not text in UTF-8",
            format!("{}, byte {at}", path.display()),
            "Export it again as CSV or JSON in UTF-8.",
        )
    })
}

/// SHA-256 of bytes, hexadecimal.
pub(super) fn sha256_of(bytes: &[u8]) -> String {
    hex(Sha256::digest(bytes).as_slice())
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

fn sha256(path: &Path) -> io::Result<String> {
    let mut file = File::open(path)?;
    let mut hash = Sha256::new();
    let mut block = vec![0; 1 << 20];
    loop {
        match file.read(&mut block)? {
            0 => return Ok(hex(hash.finalize().as_slice())),
            n => hash.update(&block[..n]),
        }
    }
}

/// The record of a file that goes into something.
pub(super) fn record(path: &Path) -> anyhow::Result<InputRecord> {
    Ok(InputRecord {
        file: name(path),
        sha256: sha256(path).map_err(|e| no_file(path, &e))?,
    })
}

/// A photograph and its record; the hash is made while the picture is decoded.
pub(super) fn photo(
    path: &Path,
    encoding: Option<Encoding>,
) -> anyhow::Result<(Photo, InputRecord)> {
    hashed(path, |file, name| Photo::read(file, name, encoding))
}

/// As [`photo`], also with one channel, which is then in all three.
pub(super) fn band(
    path: &Path,
    encoding: Option<Encoding>,
) -> anyhow::Result<(Photo, InputRecord)> {
    hashed(path, |file, name| Photo::read_band(file, name, encoding))
}

fn hashed(
    path: &Path,
    read: impl FnOnce(BufReader<File>, &str) -> ganosis_imaging::Result<Photo>,
) -> anyhow::Result<(Photo, InputRecord)> {
    let file = open(path)?;
    std::thread::scope(|threads| {
        let hashing = threads.spawn(|| record(path));
        let photo = read(file, &path.display().to_string());
        let record = hashing
            .join()
            .map_err(|_| no_file(path, &io::Error::other("the hash could not be made")))??;
        Ok((photo.map_err(trouble)?, record))
    })
}

/// Flat field and dark frame of a photograph, with their records.
#[derive(Default)]
pub(super) struct FieldFiles {
    pub(super) field: Option<Field>,
    pub(super) flat: Option<InputRecord>,
    pub(super) dark: Option<InputRecord>,
}

impl FieldFiles {
    /// Reads them; both are encoded as the photograph is.
    pub(super) fn read(
        flat: Option<&Path>,
        dark: Option<&Path>,
        photo_of: &Photo,
    ) -> anyhow::Result<Self> {
        let read = |path: Option<&Path>| -> anyhow::Result<Option<(Photo, InputRecord)>> {
            let Some(path) = path else { return Ok(None) };
            let (other, record) = photo(path, Some(photo_of.encoding.clone()))?;
            photo_of.same_size(&other).map_err(trouble)?;
            Ok(Some((other, record)))
        };
        let (dark, dark_record) = read(dark)?.unzip();
        let (flat, flat_record) = read(flat)?.unzip();
        let flat = match flat {
            Some(flat) => Some(Flat::new(&flat, dark.as_ref()).map_err(trouble)?),
            None => None,
        };
        Ok(Self {
            field: (flat.is_some() || dark.is_some()).then_some(Field { flat, dark }),
            flat: flat_record,
            dark: dark_record,
        })
    }

    /// Unevenness of the flat field, percent.
    pub(super) fn flat_percent(&self) -> Option<f64> {
        let flat = self.field.as_ref()?.flat.as_ref()?;
        Some(flat.non_uniformity_percent)
    }
}

/// An error if something would be written over: an input always, another file without `force`.
pub(super) fn refuse_overwriting(
    outputs: &[PathBuf],
    inputs: &[&Path],
    force: bool,
) -> anyhow::Result<()> {
    let same = |a: &Path, b: &Path| match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    };
    for output in outputs {
        if inputs.iter().any(|input| same(input, output)) {
            return Err(Trouble::error(
                "this file is read and would be written over",
                output.display(),
                "Name another file to write.",
            ));
        }
        if output.exists() && !force {
            return Err(Trouble::error(
                "there is a file already, and it is not written over",
                output.display(),
                "Name another file to write, or add --force.",
            ));
        }
        let folder = output.parent().filter(|f| !f.as_os_str().is_empty());
        if let Some(folder) = folder.filter(|f| !f.is_dir()) {
            return Err(Trouble::error(
                "there is no such folder",
                folder.display(),
                "Make the folder first, or name another file to write.",
            ));
        }
    }
    Ok(())
}
