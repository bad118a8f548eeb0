//! From a fresh checkout to the Sallowmere boss in a browser.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread::ScopedJoinHandle;

use anyhow::{Context as _, Result, bail};

use super::photographs;
use super::web;
use crate::fingerprint::{Fingerprint, stamp_of};
use crate::{lane, lints, process, progress, workspace};

/// What to serve and where.
#[derive(clap::Args, Clone, Default)]
pub(crate) struct Options {
    /// Serve this dossier (folder, zip, .glb or .gltf) instead of the demonstration
    #[arg(long, value_name = "PATH")]
    from: Option<PathBuf>,
    /// Make layers of photographs by simulated cameras too, by the commands
    #[arg(long, conflicts_with = "from")]
    from_photographs: bool,
    /// Publish it as a site of static files to this folder, and serve that
    #[arg(long, value_name = "DIR")]
    site: Option<PathBuf>,
    /// Port to serve on; a free one is chosen otherwise
    #[arg(long, value_name = "N")]
    port: Option<u16>,
    /// Do not open a browser
    #[arg(long)]
    no_browser: bool,
    /// Width and height of the layers in pixels
    #[arg(long, value_name = "N", default_value_t = DEFAULT_TEXTURE_PX)]
    texture: u32,
}

/// Enough for the tool marks to be seen on a large screen, and made in about a minute.
const DEFAULT_TEXTURE_PX: u32 = 2048;

/// What the dossier is made of.
const DEMO_INPUTS: [&str; 5] = [
    "Cargo.lock",
    "demo",
    "crates/colorimetry",
    "crates/surface",
    "crates/dossier",
];

/// Builds, makes, serves; returns when the server ends.
pub(crate) fn run(options: &Options) -> Result<()> {
    println!("The demonstration is made in four steps: viewer, programs, dossier, server.");
    println!("The first three are made side by side; each line begins with what it is about.");
    let build = web::at_hand()?;
    // Compiling ends in long stretches on one processor, which the others fill.
    let (ganosis, path) = std::thread::scope(|scope| {
        let tools = scope.spawn(|| lane::run("tools", true, || web::install_tools(build)));
        let programs =
            scope.spawn(|| lane::run("programs", false, || programs_and_dossier(options)));
        let viewer = lane::run("viewer", false, || web::make(build));
        let (tools, programs) = (joined(tools), joined(programs));
        viewer?;
        tools?;
        programs
    })?;
    let shown = match &options.site {
        Some(site) => published(&ganosis, &path, site)?,
        None => path,
    };
    println!("• Serving {} (stop it with Ctrl+C) …", shown.display());
    process::run(&mut open(&ganosis, &shown, options))
}

/// Publishes the dossier: pages of one's own may lie in the folder.
fn published(ganosis: &Path, dossier: &Path, site: &Path) -> Result<PathBuf> {
    let site = std::path::absolute(site).with_context(|| format!("finding {}", site.display()))?;
    progress::step("Publishing it as a site", || {
        let mut publish = process::command(ganosis);
        publish.arg("publish").arg(dossier).arg("--to").arg(&site);
        // The program is compiled without what draws pictures.
        publish
            .arg("--without-pictures")
            .arg("--viewer")
            .arg(workspace::site());
        process::run(&mut publish)
    })?;
    Ok(site)
}

fn joined<T>(job: ScopedJoinHandle<Result<T>>) -> Result<T> {
    job.join()
        .unwrap_or_else(|_| bail!("a job of the demonstration broke off: see above"))
}

fn programs_and_dossier(options: &Options) -> Result<(PathBuf, PathBuf)> {
    let ganosis = build_programs(Profile::Shown)?;
    let path = match &options.from {
        Some(path) => {
            std::path::absolute(path).with_context(|| format!("finding {}", path.display()))?
        }
        None if options.from_photographs => {
            let generator = Profile::Shown.program("ganosis-demo");
            photographs::dossier(&generator, &ganosis, options.texture)?
        }
        None => dossier(Profile::Shown, Fineness::shown(options.texture))?,
    };
    Ok((ganosis, path))
}

fn open(ganosis: &Path, path: &Path, options: &Options) -> Command {
    let mut command = process::command(ganosis);
    command
        .arg("open")
        .arg(path)
        .arg("--viewer")
        .arg(workspace::site());
    if let Some(port) = options.port {
        command.args(["--port", &port.to_string()]);
    }
    if options.no_browser {
        command.arg("--no-browser");
    }
    command
}

/// A package that the build runs and no test does; what it is made of takes minutes to compile.
pub(crate) const APART: &str = "ganosis-bind";

/// What is compiled for tests, as Cargo is told.
pub(crate) const TESTED: [&str; 3] = ["--workspace", "--exclude", APART];

/// How the programs are compiled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Profile {
    /// For a first look: libraries are optimised, reports have no pictures of the object.
    Shown,
    /// As the tests are, which leave everything compiled.
    Tested,
    /// As measured and given away.
    Release,
}

impl Profile {
    fn folder(self) -> PathBuf {
        workspace::cargo_target().join(match self {
            Self::Shown | Self::Tested => "debug",
            Self::Release => "release",
        })
    }

    /// The compiled program `name`.
    fn program(self, name: &str) -> PathBuf {
        self.folder()
            .join(format!("{name}{}", std::env::consts::EXE_SUFFIX))
    }
}

/// Builds the command line and the generator; gives the path of `ganosis`.
pub(crate) fn build_programs(profile: Profile) -> Result<PathBuf> {
    progress::step("Compiling the command line and the generator", || {
        let mut cargo = process::command("cargo");
        cargo.arg("build");
        let (command_line, generator) = ("ganosis-cli", "ganosis-demo");
        match profile {
            Profile::Shown => {
                cargo.args(["--package", command_line, "--package", generator]);
                cargo.arg("--no-default-features")
            }
            // With the tests, whose dependencies choose features for all, or else much is compiled twice.
            Profile::Tested => {
                lints::compile_by_clippy(&mut cargo)?;
                cargo.args(TESTED).args(["--bins", "--tests"])
            }
            Profile::Release => {
                cargo.args(["--package", command_line, "--package", generator]);
                cargo.arg("--release")
            }
        };
        process::run(&mut cargo)
    })?;
    Ok(profile.program("ganosis"))
}

/// How finely the boss is carved and painted.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Fineness {
    /// Folder below `target/demo`.
    folder: &'static str,
    texture_px: u32,
    /// As the generator has it, where none is said.
    triangles: Option<u32>,
}

impl Fineness {
    /// As it is shown.
    pub(crate) const fn shown(texture_px: u32) -> Self {
        Self {
            folder: "sallowmere-boss",
            texture_px,
            triangles: None,
        }
    }

    /// As it is given away.
    pub(crate) const fn given(texture_px: u32) -> Self {
        Self {
            folder: "sallowmere-boss-given",
            texture_px,
            triangles: None,
        }
    }

    /// For browsers that draw in software: every screen has the same content, in a tenth of the time.
    pub(crate) const TRIED: Self = Self {
        folder: "sallowmere-boss-small",
        texture_px: 512,
        triangles: Some(40_000),
    };

    /// What pages are measured with: images that take long over a common link.
    pub(crate) const MEASURED: Self = Self {
        folder: "sallowmere-boss-4096",
        texture_px: 4096,
        triangles: None,
    };
}

/// Makes the dossier of the Sallowmere boss unless it is there and up to date.
pub(crate) fn dossier(profile: Profile, fineness: Fineness) -> Result<PathBuf> {
    let Fineness {
        folder,
        texture_px,
        triangles,
    } = fineness;
    let folder = workspace::target().join("demo").join(folder);
    let stamp = stamp_of(&folder);
    let print = Fingerprint::of(&DEMO_INPUTS, &format!("{texture_px} {triangles:?}"))?;
    if print.is_in(&stamp) && folder.join("dossier.json").is_file() {
        progress::unchanged("Dossier of the Sallowmere boss");
        return Ok(folder);
    }
    let generator = profile.program("ganosis-demo");
    progress::step(
        &format!("Carving and painting the Sallowmere boss ({texture_px} px)"),
        || {
            // Made beside and moved at the end, so that a half-made dossier is never served.
            let fresh = work_in(&folder)?;
            let mut generate = process::command(&generator);
            generate
                .arg("--out")
                .arg(&fresh)
                .args(["--texture", &texture_px.to_string()]);
            if let Some(triangles) = triangles {
                generate.args(["--triangles", &triangles.to_string()]);
            }
            process::run(&mut generate)?;
            if !fresh.join("dossier.json").is_file() {
                bail!(
                    "the generator wrote no {}",
                    fresh.join("dossier.json").display()
                );
            }
            remove(&folder)?;
            std::fs::rename(&fresh, &folder)
                .with_context(|| format!("moving the dossier to {}", folder.display()))
        },
    )?;
    print.write(&stamp)?;
    Ok(folder)
}

/// An empty folder beside one that is to be made.
pub(crate) fn work_in(folder: &Path) -> Result<PathBuf> {
    let fresh = folder.with_extension("part");
    remove(&fresh)?;
    std::fs::create_dir_all(&fresh).with_context(|| format!("making {}", fresh.display()))?;
    Ok(fresh)
}

/// Removes a folder, if there is one.
pub(crate) fn remove(folder: &Path) -> Result<()> {
    match std::fs::remove_dir_all(folder) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(error).with_context(|| format!("removing {}", folder.display()))
        }
        _ => Ok(()),
    }
}
