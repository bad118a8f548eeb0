//! Real files that are read in place, not kept in the repository.
//!
//! The folder is named by the variable `GANOSIS_SAMPLES`. Without it the tests
//! that want such files skip those cases and say how many, so that the closing
//! count of `cargo xtask test` shows it.

use std::path::{Path, PathBuf};

/// Name of the variable that holds the folder.
pub const VARIABLE: &str = "GANOSIS_SAMPLES";

/// The folder of samples, if it is named and there.
pub fn folder() -> Option<PathBuf> {
    std::env::var_os(VARIABLE)
        .map(PathBuf::from)
        .filter(|path| path.is_dir())
}

/// The sample at `path` below the folder, or `None` after saying that a case is skipped.
pub fn sample(path: &str) -> Option<PathBuf> {
    let found = folder()
        .map(|folder| folder.join(path))
        .filter(|file| file.exists());
    if found.is_none() {
        say_skipped(1, path);
    }
    found
}

/// Says that `count` cases are skipped; `cargo xtask test` adds these up.
pub fn say_skipped(count: usize, what: &str) {
    println!("skipped {count} cases: {VARIABLE} names no folder with {what}");
}

/// A file of this repository, `path` from its root.
///
/// # Panics
/// The file is not there: a test that checks nothing must fail.
pub fn in_repository(path: &str) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let file = root.join(path);
    assert!(file.exists(), "{} is missing", file.display());
    file
}
