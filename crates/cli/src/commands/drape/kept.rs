//! Intermediate results in a folder beside the output, so that a run can be stopped.

use std::collections::{HashMap, HashSet};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use ganosis_imaging::drape::Room;

use crate::trouble::Trouble;

/// The folder in the output folder.
pub(super) const FOLDER: &str = ".drape-in-work";

/// What the run is of, in the first line; then the steps that are done.
const JOURNAL: &str = "journal";

/// Files held open at a time, over all photographs: well under the 256 that the strictest common system
/// lets a program open (macOS); a choice of ours.
const MOST_OPEN: usize = 128;

/// A room in a folder.
pub(super) struct FolderRoom {
    folder: PathBuf,
    files: Mutex<HashMap<String, Arc<File>>>,
    journal: Mutex<File>,
    done: Mutex<HashSet<String>>,
    resumed: bool,
}

impl FolderRoom {
    /// Opens the room of a run; what another run with other inputs or settings left is taken away.
    pub(super) fn open(output: &Path, key: &str) -> anyhow::Result<Self> {
        let folder = output.join(FOLDER);
        let failed = |e: &io::Error| {
            Trouble::error(
                format!("intermediate results cannot be kept: {e}"),
                folder.display(),
                "Check free space and permissions of the output folder.",
            )
        };
        let head = format!("{key} {}", started_at());
        let journal = folder.join(JOURNAL);
        let text = fs::read_to_string(&journal).unwrap_or_default();
        // A line without its end was being written when the run stopped.
        let whole = text.rfind('\n').map_or("", |end| &text[..end]);
        let mut lines = whole.lines();
        let same = lines.next() == Some(head.as_str());
        let done: HashSet<String> = if same {
            lines.map(str::to_owned).collect()
        } else {
            HashSet::new()
        };
        if !same && folder.exists() {
            fs::remove_dir_all(&folder).map_err(|e| failed(&e))?;
        }
        fs::create_dir_all(&folder).map_err(|e| failed(&e))?;
        // Written anew, so that it ends with a whole line.
        let mut file = File::create(&journal).map_err(|e| failed(&e))?;
        let mut steps = format!("{head}\n");
        for step in &done {
            steps.push_str(step);
            steps.push('\n');
        }
        file.write_all(steps.as_bytes()).map_err(|e| failed(&e))?;
        Ok(Self {
            folder,
            files: Mutex::default(),
            journal: Mutex::new(file),
            resumed: !done.is_empty(),
            done: Mutex::new(done),
        })
    }

    /// Whether an earlier run is gone on with.
    pub(super) fn is_resumed(&self) -> bool {
        self.resumed
    }

    /// Takes the folder away.
    pub(super) fn clear(self) {
        drop((self.files, self.journal));
        // What cannot be taken away does no harm.
        let _ = fs::remove_dir_all(&self.folder);
    }

    fn file(&self, name: &str) -> io::Result<Arc<File>> {
        let mut files = self.files.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(file) = files.get(name) {
            return Ok(Arc::clone(file));
        }
        let path = self.folder.join(name);
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)?;
        let file = Arc::new(file);
        if files.len() >= MOST_OPEN {
            // One in use is closed when it no longer is.
            files.clear();
        }
        files.insert(name.to_owned(), Arc::clone(&file));
        Ok(file)
    }
}

/// What is kept is not forced to the disk, which takes long: after a fall of the power it is not
/// trusted. Where the system does not tell its start, it is.
fn started_at() -> String {
    fs::read_to_string("/proc/sys/kernel/random/boot_id")
        .unwrap_or_default()
        .trim()
        .to_owned()
}

impl Room for FolderRoom {
    fn write(&self, file: &str, offset: u64, bytes: &[u8]) -> io::Result<()> {
        write_at(&*self.file(file)?, bytes, offset)
    }

    fn read(&self, file: &str, offset: u64, bytes: &mut [u8]) -> io::Result<()> {
        read_at(&*self.file(file)?, bytes, offset)
    }

    fn is_done(&self, step: &str) -> bool {
        let done = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        done.contains(step)
    }

    fn done(&self, step: &str) -> io::Result<()> {
        let mut journal = self.journal.lock().unwrap_or_else(PoisonError::into_inner);
        journal.write_all(format!("{step}\n").as_bytes())?;
        let mut done = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        done.insert(step.to_owned());
        Ok(())
    }
}

#[cfg(unix)]
fn write_at(file: &File, bytes: &[u8], offset: u64) -> io::Result<()> {
    std::os::unix::fs::FileExt::write_all_at(file, bytes, offset)
}

#[cfg(unix)]
fn read_at(file: &File, bytes: &mut [u8], offset: u64) -> io::Result<()> {
    std::os::unix::fs::FileExt::read_exact_at(file, bytes, offset)
}

#[cfg(windows)]
fn write_at(file: &File, mut bytes: &[u8], mut offset: u64) -> io::Result<()> {
    while !bytes.is_empty() {
        let n = std::os::windows::fs::FileExt::seek_write(file, bytes, offset)?;
        bytes = &bytes[n..];
        offset += n as u64;
    }
    Ok(())
}

#[cfg(windows)]
fn read_at(file: &File, mut bytes: &mut [u8], mut offset: u64) -> io::Result<()> {
    while !bytes.is_empty() {
        let n = std::os::windows::fs::FileExt::seek_read(file, bytes, offset)?;
        if n == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        bytes = &mut bytes[n..];
        offset += n as u64;
    }
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail by panic")]
mod tests {
    use super::*;

    #[test]
    fn many_files_are_kept_and_few_held_open() {
        let dir = tempfile::tempdir().unwrap();
        let room = FolderRoom::open(dir.path(), "key").unwrap();
        let bytes = |n: u32| n.to_le_bytes();
        for n in 0..1000 {
            room.write(&format!("photo-{n}"), 4, &bytes(n)).unwrap();
            assert!(room.files.lock().unwrap().len() <= MOST_OPEN);
        }
        for n in 0..1000 {
            let mut read = [0; 4];
            room.read(&format!("photo-{n}"), 4, &mut read).unwrap();
            assert_eq!(read, bytes(n));
        }
    }
}
