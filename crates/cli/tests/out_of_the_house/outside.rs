//! Validators that others made: npm `gltf-validator`, PyPI `usd-core` and `bagit`.
//!
//! `cargo xtask test` installs them; a test that does not find them fails and says so.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn here() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/out_of_the_house")
}

fn said(mut command: Command, what: &str) -> Value {
    let out = command
        .output()
        .unwrap_or_else(|error| panic!("{what} could not be started ({error}); {INSTALL}"));
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    serde_json::from_str(&text).unwrap_or_else(|_| {
        panic!(
            "{what} gave no answer: {text}{}\n{INSTALL}",
            String::from_utf8_lossy(&out.stderr)
        )
    })
}

const INSTALL: &str =
    "`cargo xtask test --only outside` installs the validators (a network is needed once)";

/// The answer of a script in this folder, run by Python with `usd-core` and `bagit`.
fn python(script: &str, path: &Path) -> Value {
    let told = std::env::var_os("GANOSIS_PYTHON").map(PathBuf::from);
    let program = told.unwrap_or_else(|| root().join("target/tools/python/bin/python"));
    assert!(
        program.is_file(),
        "there is no {}; {INSTALL}",
        program.display()
    );
    let mut command = Command::new(program);
    command.arg(here().join(script)).arg(path);
    said(command, script)
}

/// What the Khronos validator says of a binary glTF.
pub(crate) fn gltf(path: &Path) -> Value {
    let module = root().join("tests/e2e/node_modules/gltf-validator");
    assert!(
        module.is_dir(),
        "there is no {}; {INSTALL}",
        module.display()
    );
    let mut command = Command::new("node");
    command
        .arg(here().join("gltf_check.cjs"))
        .arg(module)
        .arg(path);
    said(command, "gltf-validator")
}

/// What all validators of `usd-core` say of a package, and what it holds.
pub(crate) fn usd(path: &Path) -> Value {
    python("usd_check.py", path)
}

/// What `bagit` says of a bag: nothing, or why it is none.
pub(crate) fn bagit(path: &Path) -> Option<String> {
    python("bag_check.py", path)["wrong"]
        .as_str()
        .map(str::to_owned)
}
