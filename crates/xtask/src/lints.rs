//! Lints as the compiler of what is tested: a check of its own would go through every dependency once more.

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context as _, Result, bail};
use serde_json::Value;

use crate::{lane, process};

/// Has `cargo` compile the packages of the workspace by clippy, which compiles what it lints. Whoever is to find what
/// it made, and not to make it anew, asks for the same.
pub(crate) fn compile_by_clippy(cargo: &mut Command) -> Result<()> {
    cargo.env("RUSTC_WORKSPACE_WRAPPER", driver()?);
    Ok(())
}

/// Time between two lines that tell how far it is.
const EVERY: Duration = Duration::from_secs(30);

/// Compiles with lints; an error if the compiler or a lint objects to anything. A lint alone leaves everything
/// compiled, so that tests tell what they find all the same.
pub(crate) fn build(cargo: &mut Command) -> Result<()> {
    compile_by_clippy(cargo)?;
    cargo.args([
        "--quiet",
        "--message-format",
        "json-diagnostic-rendered-ansi",
    ]);
    let mut child = cargo
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .with_context(|| format!("starting `{}`", process::shown(cargo)))?;
    let stdout = child.stdout.take().context("cargo has no output")?;
    let (mut made, mut objections, mut told) = (0, 0, Instant::now());
    for line in BufReader::new(stdout).lines() {
        match Said::of(&line?) {
            Some(Said::Made) => made += 1,
            Some(Said::Objection(text)) => {
                objections += 1;
                lane::say(text.trim_end());
            }
            None => {}
        }
        if told.elapsed() > EVERY {
            told = Instant::now();
            lane::say(&format!("  {made} libraries and programs are compiled"));
        }
    }
    let status = child.wait()?;
    if !status.success() {
        bail!("`{}` ended with {status}", process::shown(cargo));
    }
    if objections > 0 {
        bail!("the compiler and its lints object in {objections} places");
    }
    Ok(())
}

/// What a message of Cargo tells.
#[derive(Debug, PartialEq)]
enum Said {
    /// Something is compiled.
    Made,
    /// What the compiler or a lint objects to, as for a terminal.
    Objection(String),
}

impl Said {
    fn of(line: &str) -> Option<Self> {
        let message: Value = serde_json::from_str(line).ok()?;
        match message["reason"].as_str()? {
            "compiler-artifact" => Some(Self::Made),
            "compiler-message" => {
                let message = &message["message"];
                let objects = matches!(message["level"].as_str(), Some("warning" | "error"));
                let text = message["rendered"].as_str().unwrap_or_default();
                objects.then(|| Self::Objection(text.to_owned()))
            }
            _ => None,
        }
    }
}

/// Clippy as a compiler, which lies beside the compiler that Cargo uses.
fn driver() -> Result<PathBuf> {
    let mut rustc = process::command("rustc");
    let sysroot = process::output(rustc.args(["--print", "sysroot"]))?;
    let name = format!("clippy-driver{}", std::env::consts::EXE_SUFFIX);
    let driver = Path::new(sysroot.trim()).join("bin").join(name);
    if !driver.exists() {
        bail!(
            "no {} here: run `rustup component add clippy`",
            driver.display()
        );
    }
    Ok(driver)
}

#[cfg(test)]
mod tests {
    use super::Said;

    #[test]
    fn warnings_and_errors_are_objections() {
        let line = |reason: &str, level: &str| {
            let message = serde_json::json!({"level": level, "rendered": "what and where"});
            serde_json::json!({"reason": reason, "message": message}).to_string()
        };
        for level in ["warning", "error"] {
            let said = Said::of(&line("compiler-message", level));
            assert_eq!(said, Some(Said::Objection("what and where".to_owned())));
        }
        assert_eq!(Said::of(&line("compiler-message", "note")), None);
        assert_eq!(Said::of(&line("compiler-artifact", "")), Some(Said::Made));
        assert_eq!(Said::of("Compiling"), None);
    }
}
