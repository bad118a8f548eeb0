//! Files that belong together: made in a folder of their own, moved to where they belong when all are
//! whole.
//!
//! A program that is killed between two moves leaves some here and some there. What was to be moved is
//! written down before the first move, so that the next run takes it back.

use std::fs::{self, File};
use std::io;
use std::path::Path;

use ganosis_dossier::write::write_atomically;

/// The list of what is moved, in the folder where it was made.
const LIST: &str = "moving";

/// Moves files or folders of these names from `work` to `output`.
///
/// # Errors
/// The system says no; [`take_back`] then undoes what was done.
pub(super) fn move_out(work: &Path, output: &Path, names: &[String]) -> io::Result<()> {
    for name in names {
        let path = work.join(name);
        // On the disk before it has its name; what is in a folder was written so.
        if path.is_file() {
            File::open(&path)?.sync_all()?;
        }
    }
    write_atomically(&work.join(LIST), names.join("\n").as_bytes()).map_err(io::Error::other)?;
    names
        .iter()
        .try_for_each(|name| fs::rename(work.join(name), output.join(name)))
}

/// What an earlier run was about to move.
pub(super) fn listed(work: &Path) -> Vec<String> {
    let list = fs::read_to_string(work.join(LIST)).unwrap_or_default();
    list.lines().map(str::to_owned).collect()
}

/// Brings back to `work` what an earlier run moved to `output` and did not finish.
///
/// # Errors
/// The system says no.
pub(super) fn take_back(work: &Path, output: &Path) -> io::Result<()> {
    let list = match fs::read_to_string(work.join(LIST)) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        list => list?,
    };
    for name in list.lines() {
        let (here, there) = (work.join(name), output.join(name));
        // What still lies here was not moved: that there is somebody else's.
        if there.exists() && !here.exists() {
            fs::rename(there, here)?;
        }
    }
    fs::remove_file(work.join(LIST))
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail by panic")]
mod tests {
    use super::*;

    #[test]
    fn what_was_moved_in_part_comes_back_and_what_is_anothers_stays() {
        let dir = tempfile::tempdir().unwrap();
        let (work, output) = (dir.path().join("work"), dir.path().join("out"));
        fs::create_dir_all(work.join("folder")).unwrap();
        fs::create_dir(&output).unwrap();
        fs::write(work.join("first"), "1").unwrap();
        fs::write(work.join("folder/page"), "2").unwrap();
        fs::write(work.join("third"), "3").unwrap();
        let names = ["first", "folder", "third"].map(str::to_owned);
        // The third cannot be moved: a folder that is not empty has its name.
        fs::create_dir_all(output.join("third/theirs")).unwrap();
        move_out(&work, &output, &names).unwrap_err();
        assert!(output.join("first").exists() && output.join("folder/page").exists());
        take_back(&work, &output).unwrap();
        assert!(!output.join("first").exists() && !output.join("folder").exists());
        assert_eq!(fs::read_to_string(work.join("first")).unwrap(), "1");
        assert_eq!(fs::read_to_string(work.join("folder/page")).unwrap(), "2");
        assert!(work.join("third").is_file() && output.join("third/theirs").exists());
        fs::remove_dir_all(output.join("third")).unwrap();
        move_out(&work, &output, &names).unwrap();
        assert_eq!(fs::read_to_string(output.join("third")).unwrap(), "3");
        // Nothing is to be done where nothing was begun.
        take_back(&dir.path().join("none"), &output).unwrap();
    }
}
