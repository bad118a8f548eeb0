//! The demonstration by way of photographs: simulated cameras take them, the commands make layers of
//! them, and the dossier that comes out has these beside the layers that were photographed.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail};

use super::demo::{remove, work_in};
use crate::fingerprint::{Fingerprint, stamp_of};
use crate::{process, progress, workspace};

/// What comes out depends on these.
const INPUTS: [&str; 7] = [
    "Cargo.lock",
    "demo",
    "crates/cli",
    "crates/colorimetry",
    "crates/dossier",
    "crates/imaging",
    "crates/surface",
];

/// Stands for the dossier's folder in the list of commands.
const DOSSIER: &str = "DOSSIER";

/// Makes photographs and layers unless they are there and up to date; gives the dossier's folder.
pub(crate) fn dossier(generator: &Path, ganosis: &Path, texture_px: u32) -> Result<PathBuf> {
    let folder = workspace::target().join("demo/sallowmere-boss-photographed");
    let stamp = stamp_of(&folder);
    let print = Fingerprint::of(&INPUTS, &texture_px.to_string())?;
    let dossier = folder.join("dossier");
    if print.is_in(&stamp) && dossier.join("dossier.json").is_file() {
        progress::unchanged("Dossier of the photographed Sallowmere boss");
        return Ok(dossier);
    }
    // Made beside and moved at the end, so that a half-made dossier is never served.
    let fresh = work_in(&folder)?;
    let photographs = fresh.join("photographs");
    progress::step("Carving, painting and photographing the boss", || {
        let mut generate = process::command(generator);
        generate.arg("--out").arg(fresh.join("dossier"));
        generate.args(["--texture", &texture_px.to_string()]);
        generate.arg("--photographs").arg(&photographs);
        process::run(&mut generate)
    })?;
    progress::step("From the photographs to layers", || {
        let path = photographs.join("chain.txt");
        let chain = std::fs::read_to_string(&path)
            .with_context(|| format!("reading {}", path.display()))?;
        let dossier = fresh.join("dossier");
        let mut lines = chain.lines();
        lines.try_for_each(|line| step(line, ganosis, &photographs, &dossier))
    })?;
    remove(&folder)?;
    std::fs::rename(&fresh, &folder)
        .with_context(|| format!("moving the dossier to {}", folder.display()))?;
    print.write(&stamp)?;
    Ok(dossier)
}

/// One command of the list. With 1 it says that something is to be looked at, such as a wrong pair.
fn step(line: &str, ganosis: &Path, photographs: &Path, dossier: &Path) -> Result<()> {
    println!("  {line}");
    let mut command = process::command(ganosis);
    command.current_dir(photographs);
    let words = shlex::split(line).with_context(|| format!("quotes are left open in “{line}”"))?;
    for word in words.into_iter().skip(1) {
        match word.strip_prefix(DOSSIER) {
            Some(rest) => command.arg(format!("{}{rest}", dossier.display())),
            None => command.arg(word),
        };
    }
    let status = command
        .status()
        .with_context(|| format!("starting {}", ganosis.display()))?;
    if !matches!(status.code(), Some(0 | 1)) {
        bail!("“{line}” ended with {status}");
    }
    Ok(())
}
