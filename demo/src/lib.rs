//! The Sallowmere boss, made from a seed: an invented object with its whole dossier, truth
//! included, to show what the tool does and to test it against what is known.
//!
//! * `sculpt`: the carving as a signed distance. * `surface`: mesh, charts, sheets, glTF.
//! * `paint`: all layers, texel by texel. * `photographs`: the boss before simulated cameras. * `record`: anchors, attachments, the document.
//!
//! The same options give the same bytes on every machine: random numbers come from the seed,
//! transcendental functions from `libm`, and parallel work never adds up in changing order.

mod files;
mod maths;
mod noise;
mod paint;
pub mod photographs;
mod record;
mod region;
mod sculpt;
mod story;
mod surface;
mod words;

pub use region::Region;

use anyhow::{Result, ensure};
use paint::layers::{Painter, encoding};
use paint::remains::Usual;
use paint::scheme;
use record::anchors::{Finder, noise_seed};
use record::document::{self, Run};
use serde_json::json;
use std::path::Path;

/// Seed of the demonstration.
pub const DEFAULT_SEED: u64 = 1340;
/// Texels along the side of a sheet.
pub const DEFAULT_TEXTURE: usize = 2048;
/// Triangles at least.
pub const DEFAULT_TRIANGLES: usize = 400_000;

/// What to make.
#[derive(Debug, Clone)]
pub struct Options {
    /// Everything random comes from it.
    pub seed: u64,
    /// Texels along the side of a sheet: 256 to 16384, a multiple of 128.
    pub texture: usize,
    /// The boss has at least so many triangles: 2000 and more.
    pub triangles: usize,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            seed: DEFAULT_SEED,
            texture: DEFAULT_TEXTURE,
            triangles: DEFAULT_TRIANGLES,
        }
    }
}

/// Makes the dossier in a folder. `say` is told what is being done.
///
/// # Errors
/// Options out of range, and files that cannot be written.
pub fn generate(dir: &Path, options: &Options, say: &dyn Fn(&str)) -> Result<()> {
    let Options {
        seed,
        texture,
        triangles,
    } = *options;
    ensure!(
        (256..=16384).contains(&texture) && texture.is_multiple_of(128),
        "--texture {texture}: sheets have 256 to 16384 texels a side, a multiple of 128"
    );
    ensure!(
        triangles >= 2000,
        "--triangles {triangles}: the carving needs 2000 at least"
    );
    let story = story::read()?;
    say("carving");
    let sculpture = sculpt::Sculpture::new(seed);
    let (boss, bill) = surface::mesh::build(&sculpture, seed, triangles, say)?;
    say("cutting and packing the sheets");
    let meshes = [&boss, &bill];
    let sheets = surface::unwrap::unwrap(&meshes);
    for s in &sheets {
        say(&format!(
            "sheet {}: {} charts, {:.2} mm a texel",
            s.id,
            s.charts,
            10.0 * surface::packing::GRID as f32 / s.cells_per_cm / texture as f32
        ));
    }
    files::write(
        &dir.join("surface.glb"),
        &surface::glb::write(&meshes, &sheets)?,
    )?;
    let painter = Painter {
        sculpture: &sculpture,
        meshes,
        seed: noise_seed(seed),
        truth: scheme::of_truth(&story)?,
        states: [
            scheme::of_state(&story, "evidence-based")?,
            scheme::of_state(&story, "hypothesis-a")?,
            scheme::of_state(&story, "hypothesis-b")?,
        ],
        priming: scheme::paint(&story, "lead-white")?,
        bole: scheme::paint(&story, "bole")?,
        usual: Usual::of(&sculpture, &boss),
        encode: encoding(),
    };
    for sheet in &sheets {
        painter.write(dir, sheet, texture, say)?;
    }
    say("writing evidence and document");
    let finder = Finder::new(&sculpture, meshes, &sheets, noise_seed(seed), texture);
    document::write(
        &Run {
            dir,
            seed,
            texture,
            triangles,
        },
        &story,
        &finder,
    )
}

/// What was really on the boss, region by region, as JSON: for tests of the whole chain.
///
/// # Errors
/// Only if the built-in story is broken.
pub fn truth(options: &Options) -> Result<String> {
    let story = story::read()?;
    let value = json!({
        "notice": "Invented. The paint that the program put on each region before it aged.",
        "seed": options.seed,
        "paint": story.truth,
    });
    Ok(serde_json::to_string_pretty(&value)?)
}
