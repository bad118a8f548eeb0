//! `ganosis register`: a photograph over another of the same set-up.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use ganosis_dossier::document::Origin;
use ganosis_imaging::Encoding;
use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::register::{Kind, Options, Plane, Registration, register, warp};
use ganosis_imaging::tiff_out::write_as_encoded;
use serde_json::json;

use super::chart_files as files;
use super::correct::{input, text_of, write_new};
use super::printing::printed;
use super::scale::Scale;
use crate::trouble::Trouble;

/// Bring a photograph over another of the same set-up
///
/// For bands photographed one after the other from one place: the tripod was
/// nudged, the focus shifts in infrared. Edges are compared by their
/// direction, so that contrast may be inverted or different; the shifts of
/// small squares all over the picture say the map, to parts of a pixel, and
/// how sure it is. Where too few squares agree, or two maps have nearly as
/// many for them, it is refused and nothing is written.
///
/// With -o the photograph is written as it lies over the other, as a 16-bit
/// TIFF in its own encoding, interpolated once in linear light. What it does
/// not show is 0. The record is in the field ImageDescription, with the unit
/// of the photograph where "ganosis bands" made it.
///
/// Exit code: 0 done, 2 not done or not sure, and nothing written.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// The photograph to move: 8- or 16-bit PNG, TIFF or JPEG, one or three
    /// channels
    moving: PathBuf,
    /// The photograph it is to lie over
    #[arg(long, value_name = "FIXED")]
    to: PathBuf,
    /// Kind of map: translation, similarity or homography [default: the
    /// plainest that explains the shifts]
    #[arg(long)]
    kind: Option<Kind>,
    /// How codes of both stand for light, where the files do not say it:
    /// linear, srgb
    #[arg(long)]
    encoding: Option<Encoding>,
    /// The photograph to write
    #[arg(short, long, value_name = "OUT.tif")]
    output: Option<PathBuf>,
    /// Write over a file that is there
    #[arg(long)]
    force: bool,
    /// Print the results as JSON, for other programs
    #[arg(long)]
    json: bool,
}

/// The same samples each time.
const SEED: u64 = 1;

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let outputs: Vec<PathBuf> = arguments.output.iter().cloned().collect();
    let inputs = [arguments.moving.as_path(), arguments.to.as_path()];
    let refuse = || files::refuse_overwriting(&outputs, &inputs, arguments.force);
    refuse()?;
    let encoding = || arguments.encoding.clone();
    let (fixed, fixed_record) = files::band(&arguments.to, encoding())?;
    let (moving, moving_record) = files::band(&arguments.moving, encoding())?;
    let options = Options {
        kind: arguments.kind,
        seed: SEED,
    };
    let found = register(&Plane::of(&fixed), &Plane::of(&moving), &options).map_err(|e| {
        let both = format!("{} over {}", moving.name, fixed.name);
        Trouble::error(e.what, both, e.advice)
    })?;
    let mut empty_percent = None;
    if let Some(output) = &arguments.output {
        let moved = warp(&moving, &found.map(), fixed.width_px, fixed.height_px);
        let pixels = (fixed.width_px * fixed.height_px) as f64;
        empty_percent = Some(100.0 * moved.empty_px as f64 / pixels);
        let mut origin = origin(&found, [&moving_record, &fixed_record]);
        // Moved values are still those values.
        if let Some(scale) = Scale::of(&arguments.moving) {
            scale.put(&mut origin);
        }
        refuse()?;
        write_new(output, arguments.force, |file: BufWriter<&File>| {
            write_as_encoded(file, &moved.photo, &text_of(&origin))
        })?;
    }
    printed(if arguments.json {
        as_json(arguments, &found, empty_percent)
    } else {
        as_text(arguments, &found, empty_percent)
    })?;
    Ok(ExitCode::SUCCESS)
}

fn origin(found: &Registration, records: [&InputRecord; 2]) -> Origin {
    let mut origin = Origin {
        command: "ganosis register".to_owned(),
        inputs: records.map(input).to_vec(),
        ..Origin::default()
    };
    let facts = [
        ("kind", json!(found.kind)),
        ("moving_from_fixed", json!(found.moving_from_fixed)),
        ("standard_error_px", json!(found.standard_error_px)),
    ];
    for (name, value) in facts {
        origin.parameters.insert(name.to_owned(), value);
    }
    origin
}

fn as_text(
    arguments: &Arguments,
    found: &Registration,
    empty_percent: Option<f64>,
) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(
        out,
        "{} over {}",
        arguments.moving.display(),
        arguments.to.display()
    )?;
    let [x, y] = found.shift_px;
    writeln!(
        out,
        "  map        {}: at the middle ({x:+.2}, {y:+.2}) px, turned {:+.3}°, scaled {:.5}; points move by {:.2} px (r.m.s.)",
        found.kind, found.turn_deg, found.scale, found.moved_rms_px
    )?;
    writeln!(
        out,
        "  agreement  {} of {} clear squares (of {}), each to {:.2} px (r.m.s.), correlation {:.2}",
        found.agreeing, found.clear, found.squares, found.rms_px, found.correlation
    )?;
    writeln!(
        out,
        "  sure to    {:.3} px where it is worst; by chance once in 10^{:.0} times",
        found.standard_error_px, -found.chance_log10
    )?;
    if found.level_px > 1.0 {
        writeln!(
            out,
            "  sharpness  found at {:.0} px: one of the two is blurred or has no finer edges",
            found.level_px
        )?;
    }
    for tried in &found.tried {
        let mark = if tried.kind == found.kind {
            "  taken"
        } else {
            ""
        };
        let error = tried.standard_error_px;
        writeln!(
            out,
            "  tried      {:<12} {:>4} squares to {:.2} px, standard error {} px{mark}",
            tried.kind.to_string(),
            tried.agreeing,
            tried.rms_px,
            error.map_or("-".to_owned(), |e| format!("{e:.3}"))
        )?;
    }
    if let (Some(output), Some(empty)) = (&arguments.output, empty_percent) {
        writeln!(
            out,
            "  written    {}, {empty:.1} % of it not shown by the photograph",
            output.display()
        )?;
    }
    Ok(())
}

fn as_json(
    arguments: &Arguments,
    found: &Registration,
    empty_percent: Option<f64>,
) -> io::Result<()> {
    let output = json!({
        "moving": arguments.moving.display().to_string(),
        "fixed": arguments.to.display().to_string(),
        "registration": found,
        "written": arguments.output.as_ref().map(|path| path.display().to_string()),
        "empty_percent": empty_percent,
    });
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, &output)?;
    writeln!(out)
}
