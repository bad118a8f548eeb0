//! Where things are in the checkout.

use std::path::{Path, PathBuf};

/// Root of the checkout.
pub(crate) fn root() -> &'static Path {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).unwrap_or(here)
}

/// Folder of everything that tasks make, always inside the checkout.
pub(crate) fn target() -> PathBuf {
    root().join("target")
}

/// Folder that Cargo builds native code into: `CARGO_TARGET_DIR` where set.
pub(crate) fn cargo_target() -> PathBuf {
    match std::env::var_os("CARGO_TARGET_DIR") {
        Some(folder) => root().join(folder),
        None => target(),
    }
}

/// Folder of tools that tasks install.
pub(crate) fn tools() -> PathBuf {
    target().join("tools")
}

/// The finished site: page, element, styles, messages and both viewers.
pub(crate) fn site() -> PathBuf {
    target().join("viewer")
}

/// Every file below `path` (or `path` itself), sorted, without folders of installed packages.
pub(crate) fn files_below(path: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    collect(path, &mut files);
    files.sort();
    files
}

fn collect(path: &Path, files: &mut Vec<PathBuf>) {
    if path.is_file() {
        files.push(path.to_owned());
        return;
    }
    for entry in std::fs::read_dir(path).into_iter().flatten().flatten() {
        let name = entry.file_name();
        if name != "node_modules" && name != "target" && name != ".git" {
            collect(&entry.path(), files);
        }
    }
}
