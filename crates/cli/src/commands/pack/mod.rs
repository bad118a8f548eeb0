//! `ganosis pack`: images as tiles, the surface in levels.

mod surface;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

use ganosis_colorimetry::rgb::{Encoded, P3, RgbSpace, Srgb};
use ganosis_colorimetry::{LabD50, delta_e_2000};
use ganosis_dossier::document::{Dossier, FILE_NAME, LayerImage, LayerKind, Tiling, TilingLoss};
use ganosis_dossier::store::{self, SourceKind};
use ganosis_dossier::write::{write, write_atomically, write_renewable};
use ganosis_tiles::pack::{Index, Keep, Kind, Rows, Store, pack};
use ganosis_tiles::{BASE_PX, Pyramid};
use serde_json::json;

use super::chart_files as files;
use super::progress::Progress;
use super::reading;
use crate::trouble::Trouble;

/// Folder of the tiles in the dossier that is written.
const FOLDER: &str = "tiles";

/// Cut the images of a dossier into tiles, and its surface into levels
///
/// Writes a copy of a dossier whose layers and region maps are pyramids of
/// tiles: whoever looks then fetches what the screen shows, however large
/// the images are. The surface gets lighter copies beside it, the coarsest of
/// which comes first; how far each lies from it is measured and stands in the
/// dossier. What is measured is measured on the surface itself. Any web server serves it; the names of tiles are hashes of
/// their content, so that they may be cached for ever. Tiles hold every code
/// value of the images unless you say otherwise; what other tiles cost in
/// colour is measured, and stands in the dossier. Images of 512 px or less stay
/// as they are.
///
/// A run that was stopped goes on with the images that are not done.
///
/// Exit code: 0 done, 2 not done.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// The dossier: a folder or a zip
    dossier: PathBuf,
    /// The folder to write
    #[arg(short, long, value_name = "FOLDER")]
    output: PathBuf,
    /// What tiles keep of colour: exact (every code value), near (a bit less
    /// where it packs badly), small (as photographs for looking at)
    #[arg(long, default_value = "exact", value_name = "WHAT")]
    keep: Keep,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let opened = store::open(&arguments.dossier)?;
    if opened.kind == SourceKind::Model {
        return Err(Trouble::error(
            "a 3D file alone has no layers",
            arguments.dossier.display(),
            "Give a dossier: a folder or a zip with a dossier.json.",
        ));
    }
    refuse_same(&arguments.dossier, &arguments.output)?;
    let mut document = reading::document_of(&opened).map_err(|e| {
        Trouble::error(
            e,
            arguments.dossier.display(),
            "Mend the dossier first: ganosis check.",
        )
    })?;
    let packer = Packer {
        source: &*opened.store,
        output: &arguments.output,
        keep: arguments.keep,
    };
    fs::create_dir_all(arguments.output.join(FOLDER))?;
    let mut replaced = BTreeSet::new();
    let mut total = Total::default();
    for layer in &mut document.layers {
        let kind = if layer.kind == LayerKind::Band {
            Kind::Band
        } else {
            Kind::Colour
        };
        let wide = layer
            .colour_space
            .as_ref()
            .is_some_and(|s| s.as_str() == "display-p3");
        for image in &mut layer.images {
            packer.image(image, kind, wide, &mut replaced, &mut total)?;
        }
    }
    for image in document
        .region_map
        .iter_mut()
        .flat_map(|map| &mut map.images)
    {
        packer.image(image, Kind::Labels, false, &mut replaced, &mut total)?;
    }
    let surface = packer.surface(&mut document)?;
    packer.copy_rest(&document, &replaced)?;
    write(&arguments.output, &document)?;
    println!("{}: {total}\n{surface}", arguments.output.display());
    Ok(ExitCode::SUCCESS)
}

/// The copy may not lie over the original.
fn refuse_same(source: &Path, output: &Path) -> anyhow::Result<()> {
    let same = |path: &Path| path.canonicalize().ok();
    if let (Some(from), Some(to)) = (same(source), same(output))
        && (to.starts_with(&from) || from.starts_with(&to))
    {
        return Err(Trouble::error(
            "the copy would lie in the dossier itself, or over it",
            output.display(),
            "Give a folder elsewhere.",
        ));
    }
    Ok(())
}

/// What was done.
#[derive(Default)]
struct Total {
    images: usize,
    done_before: usize,
    texels: u64,
    bytes: u64,
    seconds: f64,
}

impl std::fmt::Display for Total {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} images in tiles", self.images + self.done_before)?;
        if self.done_before > 0 {
            write!(f, ", {} of them done before", self.done_before)?;
        }
        if self.seconds > 0.0 {
            let mega = self.texels as f64 / 1e6;
            let (mb, speed) = (self.bytes as f64 / 1e6, mega / self.seconds);
            write!(
                f,
                "; {mega:.0} megapixels of all levels, {mb:.1} MB, {speed:.1} megapixels a second"
            )?;
        }
        Ok(())
    }
}

struct Packer<'a> {
    source: &'a dyn store::Store,
    output: &'a Path,
    keep: Keep,
}

impl Packer<'_> {
    /// Packs an image, unless it is small, and writes into its record where it is now.
    fn image(
        &self,
        image: &mut LayerImage,
        kind: Kind,
        wide: bool,
        replaced: &mut BTreeSet<String>,
        total: &mut Total,
    ) -> anyhow::Result<()> {
        if image.tiles.is_some() {
            return Ok(());
        }
        let bytes = self.source.read(&image.file)?;
        let unreadable = |e: ganosis_tiles::pack::PackError| {
            Trouble::error(
                e.to_string(),
                &image.file,
                "Then pack again; what is done stays.",
            )
        };
        let keep = if kind == Kind::Colour {
            self.keep
        } else {
            Keep::Exact
        };
        // Named by what it is made from, so that it is made once.
        let made_from = json!([
            files::sha256_of(&bytes),
            format!("{kind:?}"),
            keep.word(),
            wide
        ]);
        let name = files::sha256_of(made_from.to_string().as_bytes());
        let list = format!("{FOLDER}/{}.json", &name[..16]);
        let index = match self.done_before(&list) {
            Some(index) => {
                total.done_before += 1;
                index
            }
            None => {
                let rows = Rows::open(&bytes, kind).map_err(unreadable)?;
                if Pyramid::new(rows.size).tiles() == 0 {
                    return Ok(());
                }
                let told = Progress::new(false);
                let difference = if wide {
                    difference::<P3>
                } else {
                    difference::<Srgb>
                };
                let store = Tiles(self.output.join(FOLDER));
                let started = Instant::now();
                let packed = pack(rows, kind, keep, &difference, &store, &|done, of| {
                    told.tell(&image.file, done, of)
                })
                .map_err(unreadable)?;
                let seconds = started.elapsed().as_secs_f64();
                total.seconds += seconds;
                total.images += 1;
                total.texels += packed.texels;
                total.bytes += packed.bytes;
                told.end();
                let [width, height] = packed.index.size_px;
                let mb = packed.bytes as f64 / 1e6;
                eprintln!(
                    "{}: {width} × {height} px, {mb:.1} MB, {seconds:.1} s",
                    image.file
                );
                let text = serde_json::to_vec(&packed.index)?;
                write_atomically(&self.output.join(&list), &text)?;
                packed.index
            }
        };
        replaced.insert(std::mem::replace(
            &mut image.file,
            format!("{FOLDER}/{}", index.base),
        ));
        [image.width_px, image.height_px] = index.size_px;
        image.tiles = Some(Tiling {
            index: list,
            keep: index.keep,
            loss: index.loss.map(|loss| TilingLoss {
                mean_delta_e: rounded(loss.mean),
                percentile_99_delta_e: rounded(loss.percentile_99),
                ..TilingLoss::default()
            }),
            ..Tiling::default()
        });
        Ok(())
    }

    /// The list of an image that an earlier run has finished: it is written last.
    fn done_before(&self, list: &str) -> Option<Index> {
        let text = fs::read(self.output.join(list)).ok()?;
        let index: Index = serde_json::from_slice(&text).ok()?;
        let base = self.output.join(FOLDER).join(&index.base);
        base.is_file().then_some(index)
    }

    /// Everything else goes along as it is, but images that are tiles now.
    fn copy_rest(&self, document: &Dossier, replaced: &BTreeSet<String>) -> anyhow::Result<()> {
        let still = |path: &str| {
            let images = document.layers.iter().flat_map(|l| &l.images);
            let maps = document.region_map.iter().flat_map(|m| &m.images);
            images.chain(maps).any(|i| i.file == path)
        };
        for path in self.source.list()? {
            let left_out = path == FILE_NAME || (replaced.contains(&path) && !still(&path));
            if left_out {
                continue;
            }
            let to = self.output.join(&path);
            if fs::metadata(&to).is_ok_and(|m| self.source.size(&path) == Ok(m.len())) {
                continue;
            }
            if let Some(above) = to.parent() {
                fs::create_dir_all(above)?;
            }
            write_atomically(&to, &self.source.read(&path)?)?;
        }
        Ok(())
    }
}

/// Four digits: more are noise in a sample.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

/// CIEDE2000 of two encoded colours.
fn difference<S: RgbSpace>(a: [u8; 3], b: [u8; 3]) -> f64 {
    if a == b {
        return 0.0;
    }
    let lab = |code| LabD50::from(Encoded::<S>::from_u8(code).decode().to_xyz_d50());
    delta_e_2000(lab(a), lab(b))
}

/// The folder of the tiles.
struct Tiles(PathBuf);

impl Store for Tiles {
    fn write(&self, path: &str, bytes: &[u8]) -> std::io::Result<()> {
        let path = self.0.join(path);
        // The name is the hash of the content; only a crash leaves a shorter file.
        if fs::metadata(&path).is_ok_and(|m| m.len() == bytes.len() as u64) {
            return Ok(());
        }
        // Most files find their folder there: it is not asked for each of them.
        if write_renewable(&path, bytes).is_ok() {
            return Ok(());
        }
        fs::create_dir_all(path.parent().unwrap_or(&self.0))?;
        write_renewable(&path, bytes).map_err(std::io::Error::other)
    }
}

/// Said here because the text of the command says it.
const _: () = assert!(BASE_PX == 512);
