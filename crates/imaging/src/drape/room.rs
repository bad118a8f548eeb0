//! Where draping keeps what does not fit into memory, and what it has done: the shell brings it.

use std::collections::{HashMap, HashSet};
use std::io;
use std::sync::{Mutex, PoisonError};

use crate::error::{ImagingError, Result};

/// Named files that grow, and a list of the steps that are done.
pub trait Room: Sync {
    /// Writes bytes at an offset of a file, which is made where it is not there.
    fn write(&self, file: &str, offset: u64, bytes: &[u8]) -> io::Result<()>;
    /// Fills `bytes` from an offset of a file.
    fn read(&self, file: &str, offset: u64, bytes: &mut [u8]) -> io::Result<()>;
    /// Whether a step was done, in this run or an earlier one.
    fn is_done(&self, step: &str) -> bool;
    /// Notes that a step is done: what it wrote is there.
    fn done(&self, step: &str) -> io::Result<()>;
}

/// A room in memory, for small surfaces: nothing outlives it.
#[derive(Debug, Default)]
pub struct InMemory {
    files: Mutex<HashMap<String, Vec<u8>>>,
    steps: Mutex<HashSet<String>>,
}

impl Room for InMemory {
    fn write(&self, file: &str, offset: u64, bytes: &[u8]) -> io::Result<()> {
        let mut files = self.files.lock().unwrap_or_else(PoisonError::into_inner);
        let held = files.entry(file.to_owned()).or_default();
        let from = usize::try_from(offset).map_err(io::Error::other)?;
        held.resize(held.len().max(from + bytes.len()), 0);
        held[from..from + bytes.len()].copy_from_slice(bytes);
        Ok(())
    }

    fn read(&self, file: &str, offset: u64, bytes: &mut [u8]) -> io::Result<()> {
        let files = self.files.lock().unwrap_or_else(PoisonError::into_inner);
        let from = usize::try_from(offset).map_err(io::Error::other)?;
        let held = files
            .get(file)
            .and_then(|f| f.get(from..from + bytes.len()));
        bytes.copy_from_slice(held.ok_or(io::ErrorKind::UnexpectedEof)?);
        Ok(())
    }

    fn is_done(&self, step: &str) -> bool {
        let steps = self.steps.lock().unwrap_or_else(PoisonError::into_inner);
        steps.contains(step)
    }

    fn done(&self, step: &str) -> io::Result<()> {
        let mut steps = self.steps.lock().unwrap_or_else(PoisonError::into_inner);
        steps.insert(step.to_owned());
        Ok(())
    }
}

/// The error for people of a room that cannot be used.
pub fn trouble(error: &io::Error) -> ImagingError {
    let advice = if error.kind() == io::ErrorKind::StorageFull {
        "The disk is full. Make room and run the same command again: what is done is kept."
    } else {
        "Check free space and permissions of the output folder, and run the same command again: what \
         is done is kept."
    };
    ImagingError::new(
        format!("intermediate results cannot be kept: {error}"),
        "output folder",
        advice,
    )
}

/// Numbers as bytes of N each: room for all is made first, which a processor fills many at a time.
pub(crate) fn bytes_of<T: Copy, const N: usize>(
    values: &[T],
    bytes_of_one: impl Fn(T) -> [u8; N],
) -> Vec<u8> {
    let mut bytes = vec![0; values.len() * N];
    for (out, value) in bytes.as_chunks_mut::<N>().0.iter_mut().zip(values) {
        *out = bytes_of_one(*value);
    }
    bytes
}

/// Numbers as bytes, little-endian.
pub(crate) fn bytes_of_u16(values: &[u16]) -> Vec<u8> {
    bytes_of(values, u16::to_le_bytes)
}

/// Bytes as numbers, little-endian.
pub(crate) fn u16_of_bytes(bytes: &[u8]) -> impl Iterator<Item = u16> + '_ {
    bytes
        .chunks_exact(2)
        .map(|b| u16::from_le_bytes([b[0], b[1]]))
}

/// Bytes as numbers of four bytes, little-endian.
pub(crate) fn words_of_bytes(bytes: &[u8]) -> impl Iterator<Item = u32> + '_ {
    bytes
        .chunks_exact(4)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]))
}

/// Turns an error of the room into one for people.
pub(crate) fn kept<T>(result: io::Result<T>) -> Result<T> {
    result.map_err(|e| trouble(&e))
}
