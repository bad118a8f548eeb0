//! What `ganosis pose` reads, and what is wrong with it.

use std::path::Path;

use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::drape::mesh::LARGEST_OBJECT_M;
use ganosis_imaging::lens::Lens;
use ganosis_imaging::photo::About;
use ganosis_imaging::pose::{Pair, read_lens, read_pairs};
use ganosis_surface::Surface;
use ganosis_surface::pick::Picker;
use glam::Vec3;
use serde::Serialize;

use super::chart_files::{self as files, trouble};
use super::pose::Arguments;
use super::reading;
use crate::trouble::Trouble;

/// Something about the input that is to be looked at.
#[derive(Debug, Serialize)]
pub(super) struct Found {
    /// What is so.
    pub(super) text: String,
    /// What to do.
    pub(super) advice: String,
}

/// Everything read.
pub(super) struct Given {
    pub(super) about: About,
    pub(super) photo_record: InputRecord,
    pub(super) surface_records: Vec<InputRecord>,
    pub(super) lens: Option<Lens>,
    pub(super) pairs: Vec<Pair>,
    pub(super) findings: Vec<Found>,
}

/// A point further from the surface than this share of its size is not on it (a choice of ours: several
/// times what a click on the surface is off).
const OFF_SHARE: f32 = 0.01;

/// Points off the surface that are named one by one; of more the cause is one and the same, as a rule (a
/// choice of ours).
const MOST_NAMED: usize = 3;
/// Points are of another unit or object where more than half lie further away than this share (a choice
/// of ours).
const FOREIGN_SHARE: f32 = 0.05;
/// One smaller than a coin may be in kilometres (a choice of ours).
const SMALLEST_M: f64 = 0.004;

impl Given {
    /// Reads it.
    pub(super) fn read(arguments: &Arguments) -> anyhow::Result<Self> {
        // clap asks for all three where there is no model.
        let path = |path: &Option<std::path::PathBuf>| path.clone().unwrap_or_default();
        let (photo, points) = (path(&arguments.photo), path(&arguments.points));
        let surface_path = path(&arguments.surface);
        let about = about(&photo)?;
        let mut pairs =
            read_pairs(&files::text(&points)?, &points.display().to_string()).map_err(trouble)?;
        as_stored(arguments, &about, &photo, &mut pairs)?;
        let place = points.display();
        let outside = |p: &&Pair| {
            let [x, y] = p.pixel;
            let within = |v: f64, px: usize| (0.0..=px as f64).contains(&v);
            !within(x, about.width_px) || !within(y, about.height_px)
        };
        if let Some(pair) = pairs.iter().find(outside) {
            return Err(Trouble::error(
                format!(
                    "point “{}” at ({}, {}) px lies outside the photograph of {} × {} px",
                    pair.name, pair.pixel[0], pair.pixel[1], about.width_px, about.height_px
                ),
                place,
                "Mark the points in this very file, at its full size.",
            ));
        }
        let (surface, surface_records) = surface(&surface_path)?;
        let mut findings = Vec::new();
        on_surface(&surface, &surface_path, &pairs, &mut findings)?;
        let lens = arguments.lens.as_deref();
        Ok(Self {
            lens: lens.map(|path| lens_of(path, &about, &photo)).transpose()?,
            about,
            photo_record: files::record(&photo)?,
            surface_records,
            pairs,
            findings,
        })
    }
}

fn about(path: &Path) -> anyhow::Result<About> {
    About::read(files::open(path)?, &path.display().to_string()).map_err(trouble)
}

/// Points marked in a picture that is shown turned are brought to the pixels as stored.
fn as_stored(
    arguments: &Arguments,
    about: &About,
    photo: &Path,
    pairs: &mut [Pair],
) -> anyhow::Result<()> {
    if !about.turned.is_turned() {
        return Ok(());
    }
    match arguments.marked_as.as_deref() {
        Some("shown") => {
            for pair in pairs {
                pair.pixel = about.stored_of_shown(pair.pixel);
            }
            Ok(())
        }
        Some(_) => Ok(()),
        None => Err(Trouble::error(
            format!(
                "the photograph is turned by its EXIF flag ({}), and it is not known where the points \
                 were marked",
                about.turned.exif()
            ),
            photo.display(),
            "Add --marked-as shown if the program you marked them in turned the picture upright, else \
             --marked-as stored.",
        )),
    }
}

/// Reads a surface with its records: its own, then those of the files beside it that hold its geometry.
pub(super) fn surface(path: &Path) -> anyhow::Result<(Surface, Vec<InputRecord>)> {
    let bytes = files::bytes(path)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let beside = |name: &str| std::fs::read(folder.join(name)).ok();
    reading::surface_with_records(&bytes, path, &beside).map_err(|e| {
        Trouble::error(
            format!("the surface cannot be read: {e}"),
            path.display(),
            "Give a glTF 2.0 file (.glb or .gltf).",
        )
    })
}

fn on_surface(
    surface: &Surface,
    path: &Path,
    pairs: &[Pair],
    findings: &mut Vec<Found>,
) -> anyhow::Result<()> {
    let Some(bounds) = surface.bounds() else {
        return Err(Trouble::error(
            "the surface has no triangles",
            path.display(),
            "Export the mesh again.",
        ));
    };
    let size_m = 2.0 * bounds.radius_m();
    if !(SMALLEST_M..=LARGEST_OBJECT_M).contains(&f64::from(size_m)) {
        findings.push(Found {
            text: format!(
                "the surface measures {size_m:.4} m from corner to corner; glTF is in metres"
            ),
            advice:
                "If the mesh was made in millimetres or another unit, scale it when exporting, \
                     and the points with it."
                    .to_owned(),
        });
    }
    let picker = Picker::new(surface);
    let far: Vec<f32> = pairs
        .iter()
        .map(|pair| {
            let place = Vec3::from(pair.surface_m.map(|v| v as f32));
            let hit = picker.nearest(place, f32::MAX.sqrt(), &|_| true);
            hit.map_or(f32::INFINITY, |hit| hit.distance_m)
        })
        .collect();
    let foreign = far.iter().filter(|&&d| d > FOREIGN_SHARE * size_m).count();
    if 2 * foreign > pairs.len() {
        return Err(Trouble::error(
            format!(
                "{foreign} of {} points lie far off the surface, which measures {size_m:.3} m: {}",
                pairs.len(),
                unit_guess(pairs, size_m)
            ),
            path.display(),
            "Give surface and points in metres and in the same axes (glTF: y up).",
        ));
    }
    let off: Vec<(&str, f32)> = pairs
        .iter()
        .zip(far)
        .filter(|(_, far)| *far > OFF_SHARE * size_m)
        .map(|(pair, far)| (pair.name.as_str(), 1000.0 * far))
        .collect();
    if off.len() > MOST_NAMED {
        let most = off.iter().map(|o| o.1).fold(0.0, f32::max);
        let names: Vec<&str> = off.iter().map(|o| o.0).collect();
        findings.push(Found {
            text: format!(
                "{} of {} points lie off the surface, by up to {most:.1} mm: {}",
                off.len(),
                pairs.len(),
                names.join(", ")
            ),
            advice: "Take their places from the surface again, in its unit and axes.".to_owned(),
        });
        return Ok(());
    }
    for (name, mm) in off {
        findings.push(Found {
            text: format!("point “{name}” lies {mm:.1} mm off the surface"),
            advice: "Take its place from the surface again.".to_owned(),
        });
    }
    Ok(())
}

/// What the sizes of surface and points say of their units.
fn unit_guess(pairs: &[Pair], size_m: f32) -> String {
    let points = pairs
        .iter()
        .map(|p| Vec3::from(p.surface_m.map(|v| v as f32)));
    let extent = ganosis_surface::Bounds::of(points).map_or(0.0, |b| 2.0 * b.radius_m());
    let ratio = extent / size_m;
    // The points may take up as little as a seventh of the object.
    let about = |factor: f32| (0.15 * factor..=1.1 * factor).contains(&ratio);
    if about(1000.0) {
        "the points seem to be in millimetres and the surface in metres".to_owned()
    } else if about(0.001) {
        "the surface seems to be in millimetres and the points in metres".to_owned()
    } else if about(100.0) {
        "the points seem to be in centimetres and the surface in metres".to_owned()
    } else {
        format!("the points measure {extent:.3} m, so they are of other axes or another object")
    }
}

fn lens_of(path: &Path, about: &About, photo: &Path) -> anyhow::Result<Lens> {
    let text = files::text(path)?;
    let size_px = [about.width_px, about.height_px];
    let place = path.display().to_string();
    read_lens(&text, &place, &files::name(photo), size_px).map_err(trouble)
}
