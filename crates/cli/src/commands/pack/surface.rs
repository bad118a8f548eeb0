//! The surface in levels.

use std::fs;

use ganosis_dossier::document::{Dossier, LayerKind, SurfaceLevel};
use ganosis_dossier::write::{write_atomically, write_renewable};
use ganosis_surface::levels::{Level, expected_levels, levels};
use ganosis_surface::{Surface, gltf_in};
use serde_json::json;

use super::{Packer, files, rounded};
use crate::commands::progress::Progress;
use crate::trouble::Trouble;

/// Folder of the levels in the dossier that is written.
const FOLDER: &str = "surface";

/// What levels are made by: another number makes them anew.
const MAKER: u32 = 3;

impl Packer<'_> {
    /// Writes the levels and names them in the document; says what was done, or why nothing was.
    pub(super) fn surface(&self, document: &mut Dossier) -> anyhow::Result<String> {
        let file = document.surface.file.clone();
        if !document.surface.levels.is_empty() {
            return Ok(format!("{file}: has its levels"));
        }
        let unreadable = |message: String| {
            Trouble::error(message, &file, "Mend the surface first: ganosis check.")
        };
        let beside = |name: &str| self.source.read(&ganosis_surface::beside(&file, name)).ok();
        let read = self.source.read(&file).map_err(|e| e.to_string());
        let read = read.and_then(|bytes| {
            let surface = gltf_in::read(&bytes, &beside).map_err(|e| e.to_string())?;
            Ok((bytes, surface))
        });
        let (bytes, surface) = match read {
            Ok(read) => read,
            // The images are packed all the same; `ganosis check` says more.
            Err(why) => return Ok(format!("{file}: stays as it is, since {why}")),
        };
        if let Some(why) = why_whole(document, &surface) {
            return Ok(format!("{file}: stays whole, since {why}"));
        }
        let made_from = json!([files::sha256_of(&bytes), needed(&bytes, &beside), MAKER]);
        let name = files::sha256_of(made_from.to_string().as_bytes());
        let list = self
            .output
            .join(FOLDER)
            .join(format!("{}.json", &name[..16]));
        let done = fs::read(&list)
            .ok()
            .and_then(|text| serde_json::from_slice::<Vec<SurfaceLevel>>(&text).ok())
            .filter(|levels| levels.iter().all(|l| self.output.join(&l.file).is_file()));
        let levels = match done {
            Some(levels) => levels,
            None => {
                let told = Progress::new(false);
                let mut number = 0;
                let total = expected_levels(surface.triangle_count());
                let made = levels(&surface, &mut |_| {
                    number += 1;
                    let all = total.max(number) as u64;
                    told.tell(
                        &format!("{file}: levels of the surface"),
                        number as u64,
                        all,
                    );
                });
                told.end();
                let made = made.map_err(|e| unreadable(e.to_string()))?;
                let kept: anyhow::Result<Vec<SurfaceLevel>> =
                    made.iter().map(|level| self.keep(level)).collect();
                let kept = kept?;
                // Written last: who finds it finds all levels.
                write_atomically(&list, &serde_json::to_vec(&kept)?)?;
                kept
            }
        };
        let steps: Vec<String> = levels
            .iter()
            .map(|l| format!("{} triangles ({} mm)", l.triangles, l.error_mm))
            .collect();
        document.surface.levels = levels;
        Ok(format!(
            "{file}: {} levels, {}",
            steps.len(),
            steps.join(", ")
        ))
    }

    /// Writes a level under the hash of its content.
    fn keep(&self, level: &Level) -> anyhow::Result<SurfaceLevel> {
        let hash = files::sha256_of(&level.file);
        let name = format!("{FOLDER}/{}/{}.glb", &hash[..2], &hash[..16]);
        let path = self.output.join(&name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder)?;
        }
        write_renewable(&path, &level.file)?;
        Ok(SurfaceLevel {
            file: name,
            triangles: level.triangles as u64,
            error_mm: rounded(level.deviation.error_mm),
            shift_mm: rounded(level.deviation.shift_mm),
            closed: level.closed,
            ..SurfaceLevel::default()
        })
    }
}

/// Hashes of the files that the mesh names.
fn needed(bytes: &[u8], beside: &dyn Fn(&str) -> Option<Vec<u8>>) -> Vec<String> {
    let names = gltf_in::needed_files(bytes).unwrap_or_default();
    let hashes = names.iter().filter_map(|name| beside(name));
    hashes.map(|bytes| files::sha256_of(&bytes)).collect()
}

/// Levels have no pictures of their own and no variants: what shows these stays whole.
fn why_whole(document: &Dossier, surface: &Surface) -> Option<&'static str> {
    let is_colour = |id: &String| {
        let layer = document.layers.iter().find(|l| l.id == *id);
        layer.is_some_and(|l| l.kind != LayerKind::Band)
    };
    let own = |state: &ganosis_dossier::document::State| !state.layers.iter().any(is_colour);
    if !surface.variants.is_empty() {
        return Some("it has variants of its own");
    }
    let pictures = surface.sheets.iter().any(|s| s.texture.is_some());
    if pictures && document.states.iter().any(own) {
        return Some("a state shows the pictures that are in it");
    }
    if surface.patches.iter().all(|p| p.indices.is_empty()) {
        return Some("it has no triangle");
    }
    None
}
