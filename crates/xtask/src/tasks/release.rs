//! One folder, and an archive of it, with all that somebody needs who builds nothing: the program, the viewer's
//! files, the demonstration, what to read first, and the licences.

mod licences;

use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail};

use super::demo::{self, Fineness, Profile};
use super::web::{self, Build};
use crate::{process, progress, workspace};

/// What to make.
#[derive(clap::Args, Clone, Default)]
pub(crate) struct Options {
    /// Width and height of the demonstration's layers in pixels
    #[arg(long, value_name = "N", default_value_t = DEFAULT_TEXTURE_PX)]
    texture: u32,
}

/// Half of what `cargo xtask demo` shows: the archive is sent to people.
const DEFAULT_TEXTURE_PX: u32 = 1024;

/// What stands in the folder for whoever opens it.
const READ_ME: &str = include_str!("release/READ-ME.txt");

/// The demonstration within the folder.
const DEMONSTRATION: &str = "demonstration";

/// Builds, and makes folder and archive in `target/release-folder`.
pub(crate) fn run(options: &Options) -> Result<()> {
    web::make(Build::Full)?;
    let ganosis = demo::build_programs(Profile::Release)?;
    let fineness = Fineness::given(options.texture);
    let archive = pack(&ganosis, Profile::Release, fineness)?;
    println!("{}", archive.display());
    Ok(())
}

/// Makes folder and archive of what is built already; gives the archive.
pub(crate) fn pack(ganosis: &Path, profile: Profile, fineness: Fineness) -> Result<PathBuf> {
    let dossier = demo::dossier(profile, fineness)?;
    let name = format!(
        "ganosis-{}-{}-{}",
        env!("CARGO_PKG_VERSION"),
        std::env::consts::OS,
        std::env::consts::ARCH
    );
    let above = workspace::target().join(match profile {
        Profile::Release => "release-folder",
        Profile::Shown | Profile::Tested => "release-folder-tested",
    });
    progress::step(&format!("Putting {name} together"), || {
        demo::remove(&above)?;
        let folder = above.join(&name);
        std::fs::create_dir_all(&folder).with_context(|| format!("making {}", folder.display()))?;
        let program = format!("ganosis{}", std::env::consts::EXE_SUFFIX);
        copy(ganosis, &folder.join(program))?;
        copy_folder(&workspace::site(), &folder.join("viewer"))?;
        copy_folder(&dossier, &folder.join(DEMONSTRATION))?;
        for licence in ["LICENSE-MIT", "LICENSE-APACHE"] {
            copy(&workspace::root().join(licence), &folder.join(licence))?;
        }
        write(&folder.join("READ-ME.txt"), READ_ME)?;
        write(&folder.join("LICENCES-OF-OTHERS.txt"), &licences::text()?)?;
        let archive = format!("{name}.tar.gz");
        // The program `tar` is on Linux, macOS and Windows alike.
        let mut tar = process::command("tar");
        tar.current_dir(&above).args(["-czf", &archive, &name]);
        process::run(&mut tar)?;
        Ok(above.join(archive))
    })
}

fn copy_folder(from: &Path, to: &Path) -> Result<()> {
    let files = workspace::files_below(from);
    if files.is_empty() {
        bail!("there is nothing in {}", from.display());
    }
    for file in files {
        let below = file.strip_prefix(from).unwrap_or(&file);
        copy(&file, &to.join(below))?;
    }
    Ok(())
}

fn copy(from: &Path, to: &Path) -> Result<()> {
    if let Some(folder) = to.parent() {
        std::fs::create_dir_all(folder).with_context(|| format!("making {}", folder.display()))?;
    }
    std::fs::copy(from, to)
        .map(drop)
        .with_context(|| format!("copying {} to {}", from.display(), to.display()))
}

fn write(to: &Path, text: &str) -> Result<()> {
    std::fs::write(to, text).with_context(|| format!("writing {}", to.display()))
}
