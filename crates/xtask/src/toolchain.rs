//! Finds a Rust toolchain that can build for wasm32-unknown-unknown.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;

use anyhow::{Result, bail};

use crate::lane::say;
use crate::{install, process, workspace};

/// The target of the viewer.
pub(crate) const WASM_TARGET: &str = "wasm32-unknown-unknown";
/// Debian's packages of a compiler for the browser.
const DEBIAN_PACKAGES: [&str; 4] = ["rustc-web", "cargo-web", "rust-web-src", "lld-22"];
const DEBIAN_LINKER: &str = "/usr/bin/wasm-ld-22";

/// A way to build for the browser.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum WasmToolchain {
    /// The standard library for wasm came with rustup.
    Rustup,
    /// Debian's compiler, which builds the standard library from its source.
    Debian,
}

impl WasmToolchain {
    /// The first that works here; installs what is missing and says so.
    pub(crate) fn find() -> Result<Self> {
        static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
        let _guard = ONE_AT_A_TIME.lock();
        if rustup_has_target() {
            return Ok(Self::Rustup);
        }
        if debian_is_complete() {
            return Ok(Self::Debian);
        }
        say(&format!("• Adding {WASM_TARGET} by rustup …"));
        let added =
            process::output(process::command("rustup").args(["target", "add", WASM_TARGET]));
        match added {
            Ok(_) if rustup_has_target() => return Ok(Self::Rustup),
            Ok(_) => say("  rustup added it, but the compiler does not list it"),
            Err(error) => say(&format!(
                "  that did not work ({}); trying Debian's packages",
                first_line(&error)
            )),
        }
        if let Err(error) = install::apt(&DEBIAN_PACKAGES, "building for the browser") {
            bail!(
                "no Rust for {WASM_TARGET} here: run `rustup target add {WASM_TARGET}`, or fix this: {error:#}"
            );
        }
        if debian_is_complete() {
            Ok(Self::Debian)
        } else {
            bail!(
                "{} are installed but incomplete",
                DEBIAN_PACKAGES.join(", ")
            )
        }
    }

    /// Folder that Cargo builds into, inside the checkout and shared by every shell.
    pub(crate) fn target_dir(self) -> PathBuf {
        workspace::target().join(match self {
            Self::Rustup => "web",
            Self::Debian => "web-debian",
        })
    }

    /// `cargo <subcommand> --target wasm32-unknown-unknown …`.
    pub(crate) fn cargo(self, subcommand: &str) -> Command {
        let mut command = match self {
            Self::Rustup => process::command("cargo"),
            Self::Debian => {
                let mut command = process::command("/usr/bin/cargo");
                command
                    .env("PATH", process::path_with(Path::new("/usr/bin")))
                    .env("RUSTC_BOOTSTRAP", "1")
                    .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", "wasm-ld-22");
                command
            }
        };
        command.arg(subcommand).args(["--target", WASM_TARGET]);
        command.env("CARGO_TARGET_DIR", self.target_dir());
        if self == Self::Debian {
            command.arg("-Zbuild-std=std,panic_abort");
        }
        command
    }
}

fn rustup_has_target() -> bool {
    let mut rustc = process::command("rustc");
    rustc.args(["--print", "target-libdir", "--target", WASM_TARGET]);
    process::output(&mut rustc).is_ok_and(|folder| {
        std::fs::read_dir(folder.trim()).is_ok_and(|entries| {
            entries
                .flatten()
                .any(|entry| entry.file_name().to_string_lossy().starts_with("libcore-"))
        })
    })
}

fn debian_is_complete() -> bool {
    let sysroot = process::output(process::command("/usr/bin/rustc").args(["--print", "sysroot"]))
        .unwrap_or_default();
    let source = Path::new(sysroot.trim()).join("lib/rustlib/src/rust/library/std");
    source.is_dir() && Path::new("/usr/bin/cargo").exists() && Path::new(DEBIAN_LINKER).exists()
}

fn first_line(error: &anyhow::Error) -> String {
    format!("{error:#}")
        .lines()
        .next()
        .unwrap_or_default()
        .to_owned()
}
