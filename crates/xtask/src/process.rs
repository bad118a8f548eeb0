//! Starts other programs without the variables of the Cargo that started us.

use std::ffi::OsStr;
use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context as _, Result, bail};

use crate::{lane, workspace};

/// A command in the root of the checkout with a clean environment.
///
/// `cargo run` sets variables for its child (RUSTUP_TOOLCHAIN, CARGO_PKG_*, …)
/// that would make an inner Cargo use the wrong toolchain or rebuild.
pub(crate) fn command(program: impl AsRef<OsStr>) -> Command {
    let mut command = Command::new(program);
    command.current_dir(workspace::root());
    for (name, _) in std::env::vars_os() {
        let name_text = name.to_string_lossy();
        if leaks(&name_text) {
            command.env_remove(&name);
        }
    }
    command
}

fn leaks(name: &str) -> bool {
    const EXACT: [&str; 8] = [
        "CARGO",
        "RUSTC",
        "RUSTDOC",
        "RUSTUP_TOOLCHAIN",
        "RUST_RECURSION_COUNT",
        "LD_LIBRARY_PATH",
        "OUT_DIR",
        "SSL_CERT_DIR_CARGO",
    ];
    EXACT.contains(&name)
        || name.starts_with("CARGO_PKG_")
        || name.starts_with("CARGO_MANIFEST_")
        || name.starts_with("CARGO_BIN_")
}

/// The command as one would type it.
pub(crate) fn shown(command: &Command) -> String {
    let mut text = command.get_program().to_string_lossy().into_owned();
    for argument in command.get_args() {
        text.push(' ');
        text.push_str(&argument.to_string_lossy());
    }
    text
}

/// Runs to the end with its output on ours; an error if it fails.
pub(crate) fn run(command: &mut Command) -> Result<()> {
    let status = match lane::watch(command)? {
        Some(status) => status,
        None => command
            .status()
            .with_context(|| format!("starting `{}`", shown(command)))?,
    };
    if !status.success() {
        bail!("`{}` ended with {status}", shown(command));
    }
    Ok(())
}

/// Runs to the end and gives its standard output; an error with what it said if it fails.
pub(crate) fn output(command: &mut Command) -> Result<String> {
    let output = command
        .stdin(Stdio::null())
        .output()
        .with_context(|| format!("starting `{}`", shown(command)))?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr);
        bail!(
            "`{}` ended with {}\n{}",
            shown(command),
            output.status,
            said.trim_end()
        );
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// Whether `program` can be started with `argument` and succeeds.
pub(crate) fn works(program: impl AsRef<OsStr>, argument: &str) -> bool {
    command(program)
        .arg(argument)
        .stdin(Stdio::null())
        .output()
        .is_ok_and(|output| output.status.success())
}

/// PATH with `folder` in front.
pub(crate) fn path_with(folder: &Path) -> std::ffi::OsString {
    let mut path = folder.as_os_str().to_owned();
    if let Some(rest) = std::env::var_os("PATH") {
        path.push(":");
        path.push(rest);
    }
    path
}
