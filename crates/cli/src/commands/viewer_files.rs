//! Where the files of the viewer are.

use std::path::{Path, PathBuf};

use crate::trouble::Trouble;

/// The folder with the viewer's files: as told, by the environment, beside
/// the program, as installed, or as built in the source tree.
pub(super) fn viewer_folder(told: Option<&Path>) -> anyhow::Result<PathBuf> {
    let is_viewer = |folder: &Path| folder.join("index.html").is_file();
    let told = told
        .map(Path::to_path_buf)
        .or_else(|| std::env::var_os("GANOSIS_VIEWER_DIR").map(PathBuf::from));
    if let Some(folder) = told {
        if is_viewer(&folder) {
            return Ok(folder);
        }
        return Err(Trouble::error(
            "there is no index.html of the viewer in the folder given",
            folder.display(),
            "Correct --viewer or GANOSIS_VIEWER_DIR, or build the viewer with: cargo xtask demo",
        ));
    }
    let program = std::env::current_exe().ok();
    let beside = program.as_deref().and_then(Path::parent);
    let target = option_env!("CARGO_TARGET_DIR").map(PathBuf::from);
    let tree = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target");
    let places: Vec<PathBuf> = beside
        .iter()
        .flat_map(|folder| {
            [
                folder.join("viewer"),
                folder.join("../share/ganosis/viewer"),
            ]
        })
        .chain(
            target
                .into_iter()
                .chain([tree])
                .map(|target| target.join("viewer")),
        )
        .collect();
    places
        .iter()
        .find(|folder| is_viewer(folder))
        .cloned()
        .ok_or_else(|| {
            let places: Vec<String> = places
                .iter()
                .map(|place| place.display().to_string())
                .collect();
            Trouble::error(
                "the viewer's files were not found",
                places.join(", "),
                "Build them with: cargo xtask demo, or name their folder with --viewer",
            )
        })
}
