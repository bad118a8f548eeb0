//! The whole way from photographs to layers by the commands, on photographs whose truth is known.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod by_layer;
mod layers;
mod poses;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;

/// Pixels across a photograph: about a millimetre of the boss each.
const WIDTH_PX: usize = 600;
/// And of larger ones, of which a texel covers more than four pixels each way.
const LARGER_PX: usize = 900;
/// Texels along a sheet: coarse enough that a photograph resolves them.
const TEXTURE_PX: usize = 256;

/// The dossier and the photographs, and what the commands said.
pub(crate) struct Made {
    folder: PathBuf,
    said: Vec<(String, String)>,
}

impl Made {
    pub(crate) fn dossier(&self) -> PathBuf {
        self.folder.join("dossier")
    }

    pub(crate) fn photographs(&self) -> PathBuf {
        self.folder.join("photographs")
    }

    /// What the command with these words printed.
    pub(crate) fn said(&self, words: &str) -> &str {
        let said = self.said.iter().find(|(line, _)| line.contains(words));
        &said.unwrap().1
    }
}

/// Made once for all tests here.
pub(crate) static MADE: LazyLock<Made> = LazyLock::new(|| made(WIDTH_PX, &|_| true));

/// Only the colour photographs.
pub(crate) static LARGER: LazyLock<Made> = LazyLock::new(|| {
    let of_grey = ["flat.toml", "register", "photographs/g", "--band", "irfc"];
    made(LARGER_PX, &|line| {
        of_grey.iter().all(|words| !line.contains(words))
    })
});

/// What the commands that are `wanted` make of photographs so wide.
fn made(width_px: usize, wanted: &dyn Fn(&str) -> bool) -> Made {
    // A folder of cargo's for tests: what is kept for the whole run is not taken away at its end.
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("photographed-{width_px}"));
    let _ = std::fs::remove_dir_all(&folder);
    let dossier = folder.join("dossier");
    let photographs = folder.join("photographs");
    let options = ganosis_demo::Options {
        texture: TEXTURE_PX,
        triangles: 40_000,
        ..ganosis_demo::Options::default()
    };
    ganosis_demo::generate(&dossier, &options, &|_| {}).unwrap();
    let options = ganosis_demo::photographs::Options {
        seed: options.seed,
        width_px,
        texture_px: TEXTURE_PX,
    };
    ganosis_demo::photographs::take(&dossier, &photographs, &options, &|_| {}).unwrap();
    let chain = std::fs::read_to_string(photographs.join("chain.txt")).unwrap();
    let mut said = Vec::new();
    for line in chain.lines().filter(|line| wanted(line)) {
        let line = line.replace("DOSSIER", dossier.to_str().unwrap());
        let words = shlex::split(&line).unwrap();
        let words: Vec<&str> = words.iter().skip(1).map(String::as_str).collect();
        let text = ran(&photographs, &words);
        said.push((line, text));
    }
    Made { folder, said }
}

/// Runs a command that must do its work; with 1 it says that something is to be looked at.
pub(crate) fn ran(folder: &Path, words: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .args(words)
        .current_dir(folder)
        .output()
        .unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    let code = out.status.code();
    let error = String::from_utf8_lossy(&out.stderr);
    assert!(
        matches!(code, Some(0 | 1)),
        "{words:?}: {code:?}\n{text}\n{error}"
    );
    text
}
