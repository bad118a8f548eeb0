//! `ganosis pose --by-layer`: a pose brought into agreement with a layer that lies on the surface.

use std::io::{self, Cursor, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ganosis_dossier::Dossier;
use ganosis_dossier::store::{self, Store};
use ganosis_dossier::write::write_atomically;
use ganosis_imaging::Photo;
use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::pose::{Agreement, LaidLayer, PosedPhoto, Poses, agree_with_layer, read_lens};
use ganosis_imaging::register::Plane;
use ganosis_surface::Surface;
use serde_json::json;

use super::chart_files::{self as files, trouble};
use super::pose::Arguments;
use super::printing::printed;
use super::reading;
use crate::trouble::Trouble;

/// The longer side of the picture that agreement is sought in; larger photographs are halved until they
/// fit. Beyond, it takes longer and gains little (a choice of ours).
const SOUGHT_PX: usize = 2048;

/// Runs it. `refuse` says whether the output may be written.
pub(super) fn run(
    arguments: &Arguments,
    layer: &str,
    refuse: &dyn Fn() -> anyhow::Result<()>,
) -> anyhow::Result<ExitCode> {
    // clap asks for all three.
    let path = |path: &Option<PathBuf>| path.clone().unwrap_or_default();
    let (photo_path, folder) = (path(&arguments.photo), path(&arguments.dossier));
    let opened = store::open(&folder).map_err(|e| unreadable(&folder, e.to_string()))?;
    let document = reading::document_of(&opened).map_err(|e| unreadable(&folder, e))?;
    let file = document.surface.file.clone();
    let surface = reading::surface_in(&*opened.store, &file);
    let (surface, surface_records) = surface.map_err(|e| unreadable(&folder, e))?;
    let (photo, record) = files::band(&photo_path, arguments.encoding.clone())?;
    let start = start(&path(&arguments.start), &photo, &photo_path)?;
    let sheets = sheets(&document, &*opened.store, layer, &surface, &folder)?;
    let laid = LaidLayer::new(&surface, sheets, arguments.without.as_slice()).map_err(trouble)?;
    let plane = Plane::of(&photo);
    drop(photo);
    let (plane, level_px) = plane.at_most(SOUGHT_PX);
    let found =
        agree_with_layer(&plane, level_px, &start.lens, &start.pose, &laid).map_err(trouble)?;
    let posed = PosedPhoto {
        photo: record.clone(),
        lens: start.lens,
        pose: found.pose,
        fit: None,
    };
    let poses = Poses::new(surface_records, vec![posed]);
    refuse()?;
    write_atomically(&arguments.output, poses.text().as_bytes())?;
    printed(if arguments.json {
        as_json(arguments, layer, &record, &found)
    } else {
        as_text(arguments, layer, &record, &found)
    })?;
    Ok(ExitCode::SUCCESS)
}

fn unreadable(folder: &Path, reason: String) -> anyhow::Error {
    Trouble::error(
        format!("the dossier cannot be read: {reason}"),
        folder.display(),
        "Name the folder of a dossier.",
    )
}

/// The pose to start from.
fn start(path: &Path, photo: &Photo, photo_path: &Path) -> anyhow::Result<PosedPhoto> {
    let (text, place) = (files::text(path)?, path.display().to_string());
    let poses = Poses::read(&text, &place).map_err(trouble)?;
    let name = files::name(photo_path);
    // A photograph of another band from the same place goes by another name.
    let only = poses.photos.first().filter(|_| poses.photos.len() == 1);
    let Some(posed) = poses.of_photo(&name).or(only) else {
        return Err(Trouble::error(
            format!("it holds several photographs, and none is {name}"),
            place,
            "Give poses of this photograph, or of one alone that was taken from nearly the same place.",
        ));
    };
    let size_px = [photo.width_px, photo.height_px];
    read_lens(&text, &place, &posed.photo.file, size_px).map_err(trouble)?;
    Ok(posed.clone())
}

/// The light of the layer's image on each sheet of the surface.
fn sheets(
    document: &Dossier,
    store: &dyn Store,
    id: &str,
    surface: &Surface,
    folder: &Path,
) -> anyhow::Result<Vec<Option<Plane>>> {
    let Some(layer) = document.layers.iter().find(|l| l.id == id) else {
        let known: Vec<&str> = document.layers.iter().map(|l| l.id.as_str()).collect();
        return Err(Trouble::error(
            format!("the dossier has no layer “{id}”"),
            folder.display(),
            format!("Choose one of {}.", known.join(", ")),
        ));
    };
    let of_sheet = |material: &str| -> anyhow::Result<Option<Plane>> {
        let mut sheets = document.surface.sheets.iter();
        let own = sheets.find(|s| s.material == material);
        let image = own.and_then(|sheet| layer.images.iter().find(|i| i.sheet == sheet.id));
        let Some(image) = image else {
            return Ok(None);
        };
        let bytes = store
            .read(&image.file)
            .map_err(|e| unreadable(folder, e.to_string()))?;
        let photo = Photo::read_band(Cursor::new(bytes), &image.file, None).map_err(trouble)?;
        Ok(Some(Plane::of(&photo)))
    };
    surface.sheets.iter().map(|s| of_sheet(&s.name)).collect()
}

fn as_text(
    arguments: &Arguments,
    layer: &str,
    record: &InputRecord,
    found: &Agreement,
) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(out, "{}", record.file)?;
    writeln!(
        out,
        "  by layer   {layer}: {} of {} squares agree; by chance once in 10^{:.0}",
        found.agreeing, found.squares, -found.chance_log10
    )?;
    let [dx, dy] = found.shift_px;
    writeln!(
        out,
        "  shift      {dx:.2} px to the right, {dy:.2} px down in the mean; r.m.s. {:.2} px, at most {:.2} px",
        found.moved_rms_px, found.moved_most_px
    )?;
    writeln!(
        out,
        "  left       squares are off by {:.2} px (r.m.s.); what is seen is known to {:.2} px at worst",
        found.rms_px, found.standard_error_px
    )?;
    let [x, y, z] = found.pose.centre_m();
    writeln!(
        out,
        "  camera     at ({x:.4}, {y:.4}, {z:.4}) m, after {} rounds at 1 : {}",
        found.rounds, found.level_px
    )?;
    writeln!(out, "  poses: {}", arguments.output.display())
}

fn as_json(
    arguments: &Arguments,
    layer: &str,
    record: &InputRecord,
    found: &Agreement,
) -> io::Result<()> {
    let output = json!({
        "photo": record.file,
        "layer": layer,
        "camera_centre_m": found.pose.centre_m(),
        "agreement": found,
        "poses_file": arguments.output.display().to_string(),
    });
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, &output)?;
    writeln!(out)
}
