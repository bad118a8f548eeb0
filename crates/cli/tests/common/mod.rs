//! The command as it is run.

use std::path::Path;
use std::process::Command;

/// Exit code, stdout, stderr.
pub(crate) fn ganosis(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        out.status.code().unwrap(),
        text(out.stdout),
        text(out.stderr),
    )
}

pub(crate) mod square;
