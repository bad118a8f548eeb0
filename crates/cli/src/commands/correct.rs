//! `ganosis correct`: a photograph by a calibration.

use std::fs::{self, File};
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ganosis_dossier::Text;
use ganosis_dossier::document::{Calibration as Summary, Origin, OriginInput};
use ganosis_imaging::calibration::{Calibration, InputRecord};
use ganosis_imaging::correct::{Corrector, Limited};
use ganosis_imaging::icc::OutputSpace;
use ganosis_imaging::profiled::convert_in_place;
use ganosis_imaging::tiff_out::{correct_to_tiff, write_tiff};
use ganosis_imaging::{Encoding, Photo};
use serde_json::json;

use super::chart_files::{self as files, FieldFiles};
use crate::trouble::Trouble;

/// Correct the colour of a photograph
///
/// Applies a calibration made by "ganosis chart" to a photograph of the same
/// camera under the same light, and writes a 16-bit TIFF with the profile of
/// its colour space. The record of what was done, with the hashes of what
/// went in, is in its field ImageDescription.
///
/// Exit code: 0 done, 1 done but something is to be mended, 2 not done.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// The photograph: 8- or 16-bit PNG, TIFF or JPEG, or linear DNG
    photo: PathBuf,
    /// The calibration
    #[arg(
        long,
        value_name = "FILE.json",
        required_unless_present = "own_profile"
    )]
    calibration: Option<PathBuf>,
    /// Take the colour from the photograph's own ICC profile instead
    #[arg(long, conflicts_with_all = ["calibration", "flat", "dark", "encoding"])]
    own_profile: bool,
    /// Photograph of an even surface under the same light
    #[arg(long, value_name = "PHOTO")]
    flat: Option<PathBuf>,
    /// Photograph with the lens covered
    #[arg(long, value_name = "PHOTO")]
    dark: Option<PathBuf>,
    /// How codes stand for light, where the file does not say it: linear, srgb
    #[arg(long)]
    encoding: Option<Encoding>,
    /// Colour space to write: romm, srgb, display-p3
    #[arg(long, default_value = "romm")]
    space: OutputSpace,
    /// The photograph to write
    #[arg(short, long, value_name = "OUT.tif")]
    output: PathBuf,
    /// Write over a file that is there
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let inputs: Vec<&Path> = [
        Some(&arguments.photo),
        arguments.calibration.as_ref(),
        arguments.flat.as_ref(),
        arguments.dark.as_ref(),
    ]
    .into_iter()
    .flatten()
    .map(PathBuf::as_path)
    .collect();
    let outputs = [arguments.output.clone()];
    files::refuse_overwriting(&outputs, &inputs, arguments.force)?;
    let calibration = arguments.calibration.as_deref().map(read).transpose()?;
    let (mut photo, record) = files::photo(&arguments.photo, arguments.encoding.clone())?;
    let mut origin = Origin {
        command: "ganosis correct".to_owned(),
        inputs: vec![input(&record)],
        ..Origin::default()
    };
    let mut warnings = Vec::new();
    origin
        .parameters
        .insert("space".to_owned(), json!(arguments.space.title()));
    // Again, because reading takes a while.
    files::refuse_overwriting(&outputs, &inputs, arguments.force)?;
    match &calibration {
        Some((calibration, record)) => {
            origin.calibration = Some(summary(calibration));
            origin.inputs.push(input(record));
            by_calibration(arguments, &mut photo, calibration, origin, &mut warnings)?;
        }
        None => {
            convert_in_place(&mut photo, arguments.space).map_err(files::trouble)?;
            let by = json!("ICC profile of the photograph");
            origin.parameters.insert("colour".to_owned(), by);
            write(arguments, |file| {
                write_tiff(file, &photo, arguments.space, &text_of(&origin))
            })?;
        }
    }
    for warning in &warnings {
        eprintln!("ganosis: {warning}");
    }
    println!(
        "{}: {} × {} px, 16 bit, {}",
        arguments.output.display(),
        photo.width_px,
        photo.height_px,
        arguments.space.title()
    );
    Ok(ExitCode::from(u8::from(!warnings.is_empty())))
}

fn read(path: &Path) -> anyhow::Result<(Calibration, InputRecord)> {
    let text = files::text(path)?;
    let calibration =
        Calibration::read(&text, &path.display().to_string()).map_err(files::trouble)?;
    let record = InputRecord {
        file: files::name(path),
        sha256: files::sha256_of(text.as_bytes()),
    };
    Ok((calibration, record))
}

pub(super) fn input(record: &InputRecord) -> OriginInput {
    OriginInput {
        file: record.file.clone(),
        sha256: record.sha256.clone(),
        ..OriginInput::default()
    }
}

/// What a dossier says of the calibration.
fn summary(calibration: &Calibration) -> Summary {
    let model = calibration.model.kind.title();
    let left_out = calibration.left_out_delta_e_00.mean;
    Summary {
        chart: Text::from(calibration.reference_title.as_str()),
        method: Text::from(format!(
            "{model}; patches left out in turn: mean ΔE00 {left_out:.2}"
        )),
        mean_delta_e: Some(calibration.fit_delta_e_00.mean),
        largest_delta_e: Some(calibration.fit_delta_e_00.max),
        ..Summary::default()
    }
}

fn by_calibration(
    arguments: &Arguments,
    photo: &mut Photo,
    calibration: &Calibration,
    mut origin: Origin,
    warnings: &mut Vec<String>,
) -> anyhow::Result<()> {
    if !calibration.encoding.agrees(&photo.encoding) {
        return Err(Trouble::error(
            format!(
                "the photograph is read as {} ({}), the calibration was made from {}",
                photo.encoding, photo.encoding_from, calibration.encoding.name
            ),
            &photo.name,
            "Develop both photographs in the same way, or say --encoding if the file does not.",
        ));
    }
    let field = FieldFiles::read(arguments.flat.as_deref(), arguments.dark.as_deref(), photo)?;
    let both = [
        (
            calibration.flat.is_some(),
            field.flat.is_some(),
            "flat field",
        ),
        (
            calibration.dark.is_some(),
            field.dark.is_some(),
            "dark frame",
        ),
    ];
    for (calibrated, given, what) in both {
        if calibrated != given {
            let (with, without) = if calibrated {
                ("with", "without")
            } else {
                ("without", "with")
            };
            warnings.push(format!(
                "the calibration was made {with} a {what}, and this photograph is corrected {without} one"
            ));
        }
    }
    origin
        .inputs
        .extend(field.flat.iter().chain(&field.dark).map(input));
    let (space, model) = (arguments.space, &calibration.model);
    origin.parameters.insert("model".to_owned(), json!(model));
    let describe = |limited: Limited| {
        let counts = [
            ("pixels_below_space", limited.below),
            ("pixels_above_space", limited.above),
        ];
        for (name, count) in counts {
            origin.parameters.insert(name.to_owned(), json!(count));
        }
        text_of(&origin)
    };
    let corrector = Corrector::new(photo, field.field.as_ref(), model, space);
    let Limited { below, above } = write(arguments, |file| {
        correct_to_tiff(file, photo, &corrector, space, describe)
    })?;
    let pixels = (photo.width_px * photo.height_px) as f64;
    let percent = |n: usize| 100.0 * n as f64 / pixels;
    // A hundredth of the picture is no longer a few highlights (common practice, no source).
    for (count, how) in [
        (below, "more colourful or darker"),
        (above, "lighter or more colourful"),
    ] {
        if percent(count) > 1.0 {
            warnings.push(format!(
                "{:.1} % of the pixels are {how} than {} can hold; they were brought to its edge",
                percent(count),
                space.title(),
            ));
        }
    }
    Ok(())
}

fn write<T>(
    arguments: &Arguments,
    put: impl FnOnce(BufWriter<&File>) -> ganosis_imaging::Result<T>,
) -> anyhow::Result<T> {
    write_new(&arguments.output, arguments.force, put)
}

/// To a temporary file beside it, then renamed.
pub(super) fn write_new<T>(
    output: &Path,
    force: bool,
    put: impl FnOnce(BufWriter<&File>) -> ganosis_imaging::Result<T>,
) -> anyhow::Result<T> {
    let folder = output.parent().filter(|f| !f.as_os_str().is_empty());
    let failed = |e: &std::io::Error| {
        Trouble::error(
            format!("the file could not be written: {e}"),
            output.display(),
            "Check free space and the permissions of the folder.",
        )
    };
    let temporary = tempfile::Builder::new()
        .prefix(".saving-")
        .tempfile_in(folder.unwrap_or(Path::new(".")))
        .map_err(|e| failed(&e))?;
    let file: &File = temporary.as_file();
    let done = put(BufWriter::with_capacity(1 << 20, file)).map_err(files::trouble)?;
    readable(file, output).map_err(|e| failed(&e))?;
    let kept = if force {
        temporary.persist(output)
    } else {
        temporary.persist_noclobber(output)
    };
    kept.map_err(|e| failed(&e.error))?;
    Ok(done)
}

/// The record as JSON, in the letters that the TIFF field may have.
pub(super) fn text_of(origin: &Origin) -> String {
    // Plain data with text keys: it cannot fail, and a photograph is not lost for its record.
    ascii(&serde_json::to_string(origin).unwrap_or_default())
}

fn ascii(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c.is_ascii() {
            out.push(c);
        } else {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        }
    }
    out
}

/// A temporary file is private; a new photograph is as readable as a file commonly is.
#[cfg(unix)]
fn readable(file: &File, output: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let permissions = match fs::metadata(output) {
        Ok(about) => about.permissions(),
        Err(_) => fs::Permissions::from_mode(0o644),
    };
    file.set_permissions(permissions)
}

#[cfg(not(unix))]
fn readable(_: &File, _: &Path) -> std::io::Result<()> {
    Ok(())
}
