//! `ganosis pose --model`: poses that come from photogrammetry.

use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

use ganosis_dossier::write::write_atomically;
use ganosis_imaging::pose::colmap::{CAMERAS, IMAGES, Model, POINTS};
use ganosis_imaging::pose::similarity::SimilarityFit;
use ganosis_imaging::pose::{Known, Poses, bring_to_surface, read_known};
use serde_json::json;

use super::chart_files::{self as files, trouble};
use super::pose::Arguments;
use super::pose_inputs;
use super::printing::printed;

/// Runs it. `refuse` says whether the output may be written.
pub(super) fn run(
    arguments: &Arguments,
    folder: &Path,
    refuse: &dyn Fn() -> anyhow::Result<()>,
) -> anyhow::Result<ExitCode> {
    let cameras = files::text(&folder.join(CAMERAS))?;
    let images = files::text(&folder.join(IMAGES))?;
    let points = folder.join(POINTS);
    let points = points.exists().then(|| files::text(&points)).transpose()?;
    let place = folder.display().to_string();
    let model = Model::read(&cameras, &images, points.as_deref(), &place).map_err(trouble)?;
    let surface = arguments.surface.as_deref();
    let surface = surface.map(pose_inputs::surface).transpose()?;
    let surface = surface.map_or_else(Vec::new, |(_, records)| records);
    let (poses, brought) = match &arguments.known {
        None => (Poses::new(surface, model.photos.clone()), None),
        Some(path) => {
            let place = path.display().to_string();
            let known = read_known(&files::text(path)?, &place, &model).map_err(trouble)?;
            let (poses, fit) =
                bring_to_surface(&model, &known, surface, &place).map_err(trouble)?;
            (poses, Some((known, fit)))
        }
    };
    refuse()?;
    write_atomically(&arguments.output, poses.text().as_bytes())?;
    printed(if arguments.json {
        as_json(arguments, &model, &poses, brought.as_ref())
    } else {
        as_text(arguments, &model, &poses, brought.as_ref())
    })?;
    // Without known points the unit is the model's, which is to be mended.
    Ok(ExitCode::from(u8::from(brought.is_none())))
}

fn as_text(
    arguments: &Arguments,
    model: &Model,
    poses: &Poses,
    brought: Option<&(Vec<Known>, SimilarityFit)>,
) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(
        out,
        "  photograph                     focal px   points  r.m.s. px    max px"
    )?;
    for (i, one) in poses.photos.iter().enumerate() {
        let fit = model.reprojection(i);
        let number = |value: Option<f64>| value.map_or("-".to_owned(), |v| format!("{v:.3}"));
        writeln!(
            out,
            "  {:<28} {:>10.1} {:>8} {:>10} {:>9}",
            one.photo.file,
            one.lens.focal_px[0],
            fit.map_or(0, |f| f.points),
            number(fit.map(|f| f.rms_px)),
            number(fit.map(|f| f.max_px))
        )?;
    }
    match brought {
        None => writeln!(
            out,
            "  found: the poses are in the unit and axes of the model\n    do:  Give three or more points known on the surface with --known."
        )?,
        Some((known, fit)) => {
            writeln!(
                out,
                "  known points: one unit of the model is {:.6} m; r.m.s. {:.2} mm",
                fit.similarity.scale, fit.rms_mm
            )?;
            for (point, mm) in known.iter().zip(&fit.residuals_mm) {
                writeln!(out, "    {:<20} {mm:>9.2} mm", point.name)?;
            }
            if known.len() == 3 {
                writeln!(
                    out,
                    "  weak:  three points fit whatever their errors\n    do:  Give more, all over the object."
                )?;
            }
        }
    }
    writeln!(out, "  poses: {}", arguments.output.display())
}

fn as_json(
    arguments: &Arguments,
    model: &Model,
    poses: &Poses,
    brought: Option<&(Vec<Known>, SimilarityFit)>,
) -> io::Result<()> {
    let photos: Vec<_> = poses
        .photos
        .iter()
        .enumerate()
        .map(|(i, one)| {
            let fit = model.reprojection(i);
            json!({
                "photo": one.photo.file,
                "camera_centre_m": brought.map(|_| one.pose.centre_m()),
                "points": fit.map_or(0, |f| f.points),
                "rms_px": fit.map(|f| f.rms_px),
                "max_px": fit.map(|f| f.max_px),
            })
        })
        .collect();
    let output = json!({
        "photos": photos,
        "similarity": brought.map(|(_, fit)| fit),
        "known": brought.map(|(known, _)| known.iter().map(|k| &k.name).collect::<Vec<_>>()),
        "poses_file": arguments.output.display().to_string(),
    });
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, &output)?;
    writeln!(out)
}
