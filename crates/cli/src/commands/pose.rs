//! `ganosis pose`: where a photograph was taken from.

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use ganosis_dossier::write::write_atomically;
use ganosis_imaging::Encoding;
use ganosis_imaging::pose::{Free, PoseFit, PosedPhoto, Poses, Question, TriedFree};
use serde::Serialize;

use super::chart_files::{self as files};
use super::pose_inputs::{self as inputs, Given};
use super::printing::printed;
use super::{pose_by_layer, pose_model, pose_text};
use crate::trouble::Trouble;

/// Find where a photograph was taken from
///
/// From points marked in the photograph and known on the surface. With a
/// calibrated lens (--lens) four are enough; without, six or more also give
/// the focal length, and one or two terms of radial distortion where points
/// left out in turn come nearer with them. A pair that does not agree with
/// the others is left out and named. Then the pose is refined with the
/// Brown-Conrady model (k1 k2 k3 p1 p2) by least squares.
///
/// Prints each point's distance in pixels and in millimetres on the surface,
/// and its distance when it is left out: that one tells how far to trust the
/// pose between the points. Says what is weak about the arrangement: few
/// points, a plane with unknown focal length, all in one corner.
///
/// The table of points is a CSV with the columns name, x_px, y_px (from the
/// top left corner of the pixels as stored) and x_m, y_m, z_m (metres, in the
/// axes of the surface).
///
/// With --model the poses come from photogrammetry instead: a folder with
/// cameras.txt and images.txt in the COLMAP text format. Its scale and axes
/// are made right by three or more known points (--known).
///
/// With --by-layer a pose that is nearly right (--start) is brought into
/// agreement with a layer of a dossier, for bands in which points are hard to
/// see: the layer is rendered as the lens would show it, and squares of that
/// are found in the photograph by the direction of their edges. Says by how
/// many pixels it moved and how sure it is; where it is not, it is refused.
///
/// Exit code: 0 done, 1 done but a pair was wrong or the pose is weak, 2 not
/// done and nothing written.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// The photograph: PNG, TIFF, JPEG or WebP; only its size is read
    #[arg(required_unless_present = "model", conflicts_with = "model")]
    pub(super) photo: Option<PathBuf>,
    /// The surface: .glb or .gltf, in metres
    #[arg(long, value_name = "S.glb", required_unless_present_any = ["model", "by_layer"])]
    pub(super) surface: Option<PathBuf>,
    /// The points: name,x_px,y_px,x_m,y_m,z_m
    #[arg(long, value_name = "POINTS.csv", required_unless_present_any = ["model", "by_layer"])]
    pub(super) points: Option<PathBuf>,
    /// The lens: JSON of a lens, or poses of a photograph taken with it
    #[arg(long, value_name = "LENS.json")]
    pub(super) lens: Option<PathBuf>,
    /// What to find besides the pose, of focal,centre,k1,k2,k3,p or none
    /// [default: none with a lens; else the focal length and as much of the
    /// radial distortion as the points carry]
    #[arg(long, value_name = "LIST")]
    pub(super) solve: Option<Free>,
    /// How well points are marked: one standard deviation, in pixels
    /// [default: 1, or a five-thousandth of the diagonal where that is more]
    #[arg(long, value_name = "PX", value_parser = pixels)]
    pub(super) marked: Option<f64>,
    /// Where the points of a photograph that is turned by its EXIF flag were
    /// marked: in the picture as shown, or in the pixels as stored
    #[arg(long, value_name = "HOW", value_parser = ["shown", "stored"])]
    pub(super) marked_as: Option<String>,
    /// Poses from photogrammetry: a folder with cameras.txt and images.txt
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["points", "lens", "solve"])]
    pub(super) model: Option<PathBuf>,
    /// Points of the model known on the surface: x,y,z or point, and
    /// x_m,y_m,z_m
    #[arg(long, value_name = "KNOWN.csv", requires = "model")]
    pub(super) known: Option<PathBuf>,
    /// Bring a pose into agreement with the layer of this id
    #[arg(long, value_name = "LAYER", requires_all = ["dossier", "start"], conflicts_with_all = ["points", "surface", "lens", "solve", "marked", "marked_as", "model"])]
    pub(super) by_layer: Option<String>,
    /// The dossier (folder) that has the layer; its surface is taken
    #[arg(long, value_name = "FOLDER", requires = "by_layer")]
    pub(super) dossier: Option<PathBuf>,
    /// Poses to start from: of the photograph, or of one alone from nearly the
    /// same place and with the same lens
    #[arg(long, value_name = "POSES.json", requires = "by_layer")]
    pub(super) start: Option<PathBuf>,
    /// Node of the surface to leave out, such as a lost part that is restored
    #[arg(long, value_name = "NODE", requires = "by_layer")]
    pub(super) without: Option<String>,
    /// How codes of the photograph stand for light, where it does not say it:
    /// linear, srgb
    #[arg(long, requires = "by_layer")]
    pub(super) encoding: Option<Encoding>,
    /// The poses to write
    #[arg(short, long, value_name = "OUT.json", default_value = "poses.json")]
    pub(super) output: PathBuf,
    /// Write over a file that is there
    #[arg(long)]
    pub(super) force: bool,
    /// Print the results as JSON, for other programs
    #[arg(long)]
    pub(super) json: bool,
}

fn pixels(text: &str) -> Result<f64, String> {
    let read = text.parse::<f64>().ok();
    read.filter(|v| v.is_finite() && *v > 0.0)
        .ok_or_else(|| "say pixels above 0, e.g. 0.5".to_owned())
}

/// Everything found out, for printing.
#[derive(Serialize)]
pub(super) struct Output {
    pub(super) photo: String,
    pub(super) poses_file: String,
    pub(super) camera_centre_m: [f64; 3],
    pub(super) fit: PoseFit,
    pub(super) tried: Vec<TriedFree>,
    pub(super) findings: Vec<inputs::Found>,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let read = [
        &arguments.photo,
        &arguments.surface,
        &arguments.points,
        &arguments.lens,
        &arguments.known,
        &arguments.start,
    ];
    let read: Vec<_> = read.into_iter().flatten().map(PathBuf::as_path).collect();
    let outputs = [arguments.output.clone()];
    let refuse = || files::refuse_overwriting(&outputs, &read, arguments.force);
    refuse()?;
    if let Some(folder) = &arguments.model {
        return pose_model::run(arguments, folder, &refuse);
    }
    if let Some(layer) = &arguments.by_layer {
        return pose_by_layer::run(arguments, layer, &refuse);
    }
    let given = Given::read(arguments)?;
    let (fit, tried) = solved(arguments, &given)?;
    let posed = PosedPhoto {
        photo: given.photo_record.clone(),
        lens: fit.lens,
        pose: fit.pose,
        fit: Some(fit.summary),
    };
    let poses = Poses::new(given.surface_records.clone(), vec![posed]);
    refuse()?;
    write_atomically(&arguments.output, poses.text().as_bytes())?;
    let output = Output {
        photo: given.photo_record.file.clone(),
        poses_file: arguments.output.display().to_string(),
        camera_centre_m: fit.pose.centre_m(),
        fit,
        tried,
        findings: given.findings,
    };
    printed(if arguments.json {
        json(&output)
    } else {
        pose_text::print(&output, &given.pairs)
    })?;
    let weak = !output.fit.weaknesses.is_empty() || !output.findings.is_empty();
    Ok(ExitCode::from(u8::from(weak)))
}

fn solved(arguments: &Arguments, given: &Given) -> anyhow::Result<(PoseFit, Vec<TriedFree>)> {
    let question = Question {
        size_px: [given.about.width_px, given.about.height_px],
        lens: given.lens,
        free: arguments.solve,
        marked_px: arguments.marked,
    };
    question
        .answer(&given.pairs)
        .map_err(|e| of_points(arguments, e))
}

fn of_points(arguments: &Arguments, error: ganosis_imaging::ImagingError) -> anyhow::Error {
    // What is wrong with an option keeps its place.
    let of_option = error.place.starts_with("--");
    let points = arguments.points.as_ref().filter(|_| !of_option);
    let place = points.map_or(error.place, |path| path.display().to_string());
    Trouble::error(error.what, place, error.advice)
}

fn json(output: &Output) -> io::Result<()> {
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, output)?;
    writeln!(out)
}
