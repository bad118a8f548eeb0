//! Installs what a task needs: system packages by apt, tools into `target/tools`.

use std::path::{Path, PathBuf};
use std::sync::Mutex;

use anyhow::{Context as _, Result, bail};

use crate::fingerprint::Fingerprint;
use crate::lane::say;
use crate::{process, progress, workspace};

/// Version of the npm package `binaryen` that brings `wasm-opt`.
const BINARYEN: &str = "132.0.0";

/// Installs Debian packages as root or through sudo; `purpose` is for the message.
pub(crate) fn apt(packages: &[&str], purpose: &str) -> Result<()> {
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _guard = ONE_AT_A_TIME.lock();
    let list = packages.join(" ");
    if !Path::new("/usr/bin/apt-get").exists() {
        bail!("{purpose} needs these programs or their equal on this system: {list}");
    }
    let as_root = process::output(process::command("id").arg("-u"))?.trim() == "0";
    if !as_root && !process::works("sudo", "-V") {
        bail!("{purpose} needs: apt-get install {list} (run it as root, then try again)");
    }
    progress::step(
        &format!("Installing {list} by apt-get, for {purpose}"),
        || {
            // A failing update (one broken mirror) need not stop the install.
            if let Err(error) = process::output(&mut apt_get(as_root, &["update", "-qq"])) {
                say(&format!("  {error:#}"));
            }
            let mut arguments = vec!["install", "-y", "-qq", "--no-install-recommends"];
            arguments.extend(packages);
            process::output(&mut apt_get(as_root, &arguments)).map(drop)
        },
    )
}

fn apt_get(as_root: bool, arguments: &[&str]) -> std::process::Command {
    let mut command = if as_root {
        process::command("apt-get")
    } else {
        let mut command = process::command("sudo");
        command.args(["DEBIAN_FRONTEND=noninteractive", "apt-get"]);
        command
    };
    command
        .env("DEBIAN_FRONTEND", "noninteractive")
        .args(arguments);
    command
}

/// `ganosis-bind` of this workspace, built beside everything else so that no build waits for another.
pub(crate) fn bind() -> Result<PathBuf> {
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _guard = ONE_AT_A_TIME.lock();
    let folder = workspace::tools().join("build");
    progress::step("Building the tool that binds modules to JavaScript", || {
        let mut cargo = process::command("cargo");
        cargo
            .args(["build", "--package", "ganosis-bind", "--profile", "tools"])
            .env("CARGO_TARGET_DIR", &folder);
        process::run(&mut cargo)
    })?;
    let program = format!("ganosis-bind{}", std::env::consts::EXE_SUFFIX);
    Ok(folder.join("tools").join(program))
}

/// `wasm-opt` of the pinned version, installed by npm if absent.
pub(crate) fn wasm_opt() -> Result<PathBuf> {
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _guard = ONE_AT_A_TIME.lock();
    let folder = workspace::tools().join(format!("binaryen-{BINARYEN}"));
    let program = folder.join("node_modules/.bin/wasm-opt");
    if !program.exists() {
        needs_node()?;
        progress::step(
            "Installing wasm-opt by npm into target/tools (once)",
            || {
                std::fs::create_dir_all(&folder)
                    .with_context(|| format!("making {}", folder.display()))?;
                let mut npm = process::command("npm");
                npm.args(["install", "--no-audit", "--no-fund", "--silent", "--prefix"]);
                npm.arg(&folder).arg(format!("binaryen@{BINARYEN}"));
                process::output(&mut npm).map(drop)
            },
        )?;
    }
    Ok(program)
}

/// Packages of PyPI that judge what the program hands out: files of USD, bags.
const PYTHON_PACKAGES: [&str; 2] = ["usd-core==26.11", "bagit==1.9.0"];

/// A Python of its own with [`PYTHON_PACKAGES`], in `target/tools/python`.
pub(crate) fn python() -> Result<PathBuf> {
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _guard = ONE_AT_A_TIME.lock();
    let folder = workspace::tools().join("python");
    let program = folder.join("bin/python");
    let stamp = folder.join(".packages");
    let wanted = PYTHON_PACKAGES.join("\n");
    if program.exists() && std::fs::read_to_string(&stamp).is_ok_and(|found| found == wanted) {
        return Ok(program);
    }
    if !process::works("python3", "--version") {
        apt(&["python3", "python3-venv"], "the validators of others")?;
    }
    let make = || {
        let mut python = process::command("python3");
        process::output(python.args(["-m", "venv", "--clear"]).arg(&folder))
    };
    progress::step(
        "Installing usd-core and bagit by pip into target/tools (once)",
        || {
            if make().is_err() {
                // Debian has the module for it in a package of its own.
                apt(&["python3-venv"], "the validators of others")?;
                make()?;
            }
            let mut pip = process::command(&program);
            pip.args([
                "-m",
                "pip",
                "install",
                "--quiet",
                "--disable-pip-version-check",
            ]);
            process::output(pip.args(PYTHON_PACKAGES))?;
            std::fs::write(&stamp, &wanted).with_context(|| format!("writing {}", stamp.display()))
        },
    )?;
    Ok(program)
}

/// Checks that Node.js is there.
pub(crate) fn needs_node() -> Result<()> {
    if process::works("node", "--version") && process::works("npm", "--version") {
        return Ok(());
    }
    bail!(
        "Node.js 20 or newer with npm is needed: install it from your system's packages (Debian, Ubuntu: apt-get install nodejs npm)"
    )
}

/// Installs the packages that `folder/package-lock.json` names, if not there yet.
pub(crate) fn npm_ci(folder: &str) -> Result<()> {
    let path = workspace::root().join(folder);
    let print = Fingerprint::of(
        &[
            &format!("{folder}/package.json"),
            &format!("{folder}/package-lock.json"),
        ],
        "",
    )?;
    let stamp = path.join("node_modules/.stamp");
    if print.is_in(&stamp) {
        return Ok(());
    }
    needs_node()?;
    progress::step(
        &format!("Installing the packages of {folder} by npm"),
        || {
            let mut npm = process::command("npm");
            let subcommand = if path.join("package-lock.json").exists() {
                "ci"
            } else {
                "install"
            };
            npm.args([
                subcommand,
                "--no-audit",
                "--no-fund",
                "--silent",
                "--prefix",
            ]);
            npm.arg(&path);
            process::output(&mut npm).map(drop)
        },
    )?;
    Fingerprint::of(
        &[
            &format!("{folder}/package.json"),
            &format!("{folder}/package-lock.json"),
        ],
        "",
    )?
    .write(&stamp)
}
