//! What leaves the house: public copies, sites, files for other programs.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod bags;
mod exports;
mod outside;
mod public;
mod publish;

#[path = "../common/mod.rs"]
mod common;

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use serde_json::Value;

/// The demonstration, small; made once for all tests here.
static DEMO: LazyLock<tempfile::TempDir> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let options = ganosis_demo::Options {
        texture: 256,
        triangles: 40_000,
        ..ganosis_demo::Options::default()
    };
    ganosis_demo::generate(&folder.path().join("boss"), &options, &|_| {}).unwrap();
    folder
});

fn demo() -> PathBuf {
    DEMO.path().join("boss")
}

/// A copy of the demonstration that may be changed.
fn copy_of_demo() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    copy_folder(&demo(), folder.path());
    folder
}

fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let to = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &to);
        } else {
            std::fs::copy(entry.path(), to).unwrap();
        }
    }
}

fn document_in(folder: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(folder.join("dossier.json")).unwrap()).unwrap()
}

fn write_document(folder: &Path, document: &Value) {
    let bytes = serde_json::to_vec_pretty(document).unwrap();
    std::fs::write(folder.join("dossier.json"), bytes).unwrap();
}

/// Every file below a folder, by its path from there.
fn files_below(folder: &Path) -> Vec<String> {
    fn gather(folder: &Path, prefix: &str, into: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            if entry.file_type().unwrap().is_dir() {
                gather(&entry.path(), &format!("{name}/"), into);
            } else {
                into.push(name);
            }
        }
    }
    let mut files = Vec::new();
    gather(folder, "", &mut files);
    files.sort();
    files
}

fn holds(bytes: &[u8], word: &str) -> bool {
    bytes
        .windows(word.len())
        .any(|window| window == word.as_bytes())
}
