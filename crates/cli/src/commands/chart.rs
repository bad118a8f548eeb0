//! `ganosis chart`: from photographs of a colour chart to characterised cameras.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;
use ganosis_dossier::write::write_atomically;
use ganosis_imaging::agreement::agreements;
use ganosis_imaging::calibration::{Calibration, InputRecord, Inputs};
use ganosis_imaging::characterisation::{Characterisation, compare};
use ganosis_imaging::chart::Severity;
use ganosis_imaging::geometry::Point;
use ganosis_imaging::photo::LinearPhoto;
use ganosis_imaging::tolerance::{Judgement, judge};
use ganosis_imaging::{Encoding, Photo, Reference, editions};

use super::chart_files::{self as files, FieldFiles};
use super::{chart_json, chart_report, chart_text};
use crate::trouble::Trouble;

/// Characterise a camera by a photograph of a colour chart
///
/// Finds the chart in the photograph (24 patches, or a grid with --grid, at
/// any turn and in mild perspective), reads its patches and fits white
/// balance and a camera model by the smallest mean ΔE00. Each model is also
/// fitted with every patch left out in turn; the model that foretells the
/// patch it has not seen is preferred, never one that only fits better.
/// Without --reference the published editions of the 24-patch chart are
/// compared, and it is said which fits.
///
/// Writes a calibration for "ganosis correct" and a report, one HTML file to
/// read, print and send. Nothing is written over without --force.
///
/// Exit code: 0 done, 1 done but something is to be mended or a tolerance
/// set that was named is missed, 2 not done and nothing written.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// Photographs of the chart: 8- or 16-bit PNG, TIFF or JPEG, or linear DNG
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    /// Table of the chart's patches in CIELAB (D50, 2°); several are compared
    #[arg(long, value_name = "FILE.csv")]
    reference: Vec<PathBuf>,
    /// Only this edition of the built-in tables, e.g. "2005"
    #[arg(long, value_name = "NAME", conflicts_with = "reference")]
    edition: Option<String>,
    /// Columns and rows of the chart, where the table does not say it
    #[arg(long, value_name = "COLSxROWS", value_parser = grid)]
    grid: Option<(usize, usize)>,
    /// Outer corners of the field of patches, in pixels from the top left, in
    /// order around it; with several photographs once for each
    #[arg(long, value_name = "X,Y", num_args = 4, value_parser = corner)]
    corners: Vec<Point>,
    /// Photograph of an even surface under the same light; one for all, or
    /// one for each photograph
    #[arg(long, value_name = "PHOTO")]
    flat: Vec<PathBuf>,
    /// Photograph with the lens covered; one for all, or one for each
    #[arg(long, value_name = "PHOTO")]
    dark: Vec<PathBuf>,
    /// How codes stand for light, where the file does not say it: linear, srgb
    #[arg(long)]
    encoding: Option<Encoding>,
    /// Hold against this set of tolerances only, e.g. "FADGI 2016"
    #[arg(long, value_name = "NAME")]
    tolerance_set: Vec<String>,
    /// Also try each model with a tone curve
    #[arg(long)]
    tone: bool,
    /// The calibration to write; several photographs add their names to it
    #[arg(
        short,
        long,
        value_name = "OUT.json",
        default_value = "calibration.json"
    )]
    output: PathBuf,
    /// The report to write [default: beside the calibration, .html]
    #[arg(long, value_name = "OUT.html")]
    report: Option<PathBuf>,
    /// Write over calibrations and reports that are there
    #[arg(long)]
    force: bool,
    /// Print the results as JSON, for other programs
    #[arg(long)]
    json: bool,
}

/// One photograph and everything found out about it.
pub(super) struct Examined {
    pub(super) photo: Photo,
    pub(super) field: FieldFiles,
    /// The references tried, the best first.
    pub(super) compared: Vec<Characterisation>,
    pub(super) judgements: Vec<Judgement>,
    pub(super) calibration: Calibration,
    pub(super) written_to: PathBuf,
}

impl Examined {
    /// By the best reference.
    pub(super) fn best(&self) -> &Characterisation {
        &self.compared[0]
    }
}

fn pair<T: std::str::FromStr>(text: &str, between: char) -> Option<(T, T)> {
    let (a, b) = text.split_once(between)?;
    Some((a.trim().parse().ok()?, b.trim().parse().ok()?))
}

fn grid(text: &str) -> Result<(usize, usize), String> {
    pair(text, 'x')
        // The largest charts in use have a few hundred patches.
        .filter(|&(c, r)| (1..=100).contains(&c) && (1..=100).contains(&r))
        .ok_or_else(|| "say columns and rows, e.g. 14x10".to_owned())
}

fn corner(text: &str) -> Result<Point, String> {
    pair::<f64>(text, ',')
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .map(|(x, y)| [x, y])
        .ok_or_else(|| "say x and y in pixels, e.g. 272.9,156.9".to_owned())
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let outputs = Outputs::of(arguments);
    let refuse = || files::refuse_overwriting(&outputs.all(), &inputs(arguments), arguments.force);
    refuse()?;
    let sets = chosen_sets(&arguments.tolerance_set)?;
    let references = references(arguments)?;
    let mut results = Vec::new();
    for (i, path) in arguments.photos.iter().enumerate() {
        let written_to = outputs.calibrations[i].clone();
        results.push(examine(arguments, i, path, &references, &sets, written_to)?);
    }
    let best: Vec<&Characterisation> = results.iter().map(Examined::best).collect();
    let agreements = agreements(&best);
    refuse()?;
    for result in &results {
        let mut text = serde_json::to_string_pretty(&result.calibration)?;
        text.push('\n');
        write_atomically(&result.written_to, text.as_bytes())?;
    }
    let page = chart_report::page(&results, &agreements);
    write_atomically(&outputs.report, page.as_bytes())?;
    let printed = if arguments.json {
        chart_json::print(&results, &agreements, &outputs.report)
    } else {
        chart_text::print(&results, &agreements, &outputs.report)
    };
    match printed.and_then(|()| io::stdout().flush()) {
        // The reader of a pipe may leave early; that is no fault.
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            return Err(error).context("the results could not be printed");
        }
        _ => {}
    }
    let named = !arguments.tolerance_set.is_empty();
    Ok(ExitCode::from(u8::from(to_mend(&results, named))))
}

fn to_mend(results: &[Examined], sets_named: bool) -> bool {
    results.iter().any(|r| {
        let mut findings = r.best().reading.findings.iter();
        findings.any(|f| f.kind.severity() > Severity::Note)
            || sets_named && r.judgements.iter().any(|j| j.level.is_none())
    })
}

/// What will be written.
struct Outputs {
    calibrations: Vec<PathBuf>,
    report: PathBuf,
}

impl Outputs {
    fn of(arguments: &Arguments) -> Self {
        let output = &arguments.output;
        let stem = |path: &Path| {
            path.file_stem()
                .map_or_else(String::new, |s| s.to_string_lossy().into_owned())
        };
        let mut calibrations: Vec<PathBuf> = Vec::new();
        for photo in &arguments.photos {
            let mut path = output.clone();
            if arguments.photos.len() > 1 {
                path = output.with_file_name(format!("{}-{}.json", stem(output), stem(photo)));
            }
            let mut n = 2;
            while calibrations.contains(&path) {
                path = output.with_file_name(format!("{}-{}-{n}.json", stem(output), stem(photo)));
                n += 1;
            }
            calibrations.push(path);
        }
        let beside = || output.with_extension("html");
        Self {
            calibrations,
            report: arguments.report.clone().unwrap_or_else(beside),
        }
    }

    fn all(&self) -> Vec<PathBuf> {
        let mut all = self.calibrations.clone();
        all.push(self.report.clone());
        all
    }
}

fn inputs(arguments: &Arguments) -> Vec<&Path> {
    [
        &arguments.photos,
        &arguments.reference,
        &arguments.flat,
        &arguments.dark,
    ]
    .into_iter()
    .flatten()
    .map(PathBuf::as_path)
    .collect()
}

fn chosen_sets(wanted: &[String]) -> anyhow::Result<Vec<String>> {
    let all = ganosis_imaging::tolerance::sets();
    if wanted.is_empty() {
        return Ok(all);
    }
    let mut chosen = Vec::new();
    for name in wanted {
        let lower = name.to_lowercase();
        let before = chosen.len();
        chosen.extend(
            all.iter()
                .filter(|set| set.to_lowercase().starts_with(&lower))
                .cloned(),
        );
        if lower.is_empty() || chosen.len() == before {
            return Err(Trouble::error(
                format!("no set of tolerances is called “{name}”"),
                "--tolerance-set",
                format!("Name one of: {}.", all.join(", ")),
            ));
        }
    }
    Ok(chosen)
}

/// The tables to compare, each with its record.
fn references(arguments: &Arguments) -> anyhow::Result<Vec<(Reference, InputRecord)>> {
    if arguments.reference.is_empty() {
        return built_in(arguments.edition.as_deref());
    }
    let mut all = Vec::new();
    for path in &arguments.reference {
        let text = files::text(path)?;
        let record = InputRecord {
            file: files::name(path),
            sha256: files::sha256_of(text.as_bytes()),
        };
        let read = Reference::read(&text, &path.display().to_string(), arguments.grid);
        let read = read.map_err(files::trouble)?;
        all.extend(read.into_iter().map(|one| (one, record.clone())));
    }
    Ok(all)
}

fn built_in(edition: Option<&str>) -> anyhow::Result<Vec<(Reference, InputRecord)>> {
    let record = InputRecord {
        file: editions::FILE.to_owned(),
        sha256: files::sha256_of(editions::TABLE.as_bytes()),
    };
    let mut all = editions::editions().map_err(files::trouble)?;
    if let Some(wanted) = edition {
        let titles: Vec<String> = all.iter().map(|e| e.title.clone()).collect();
        let lower = wanted.to_lowercase();
        all.retain(|e| e.title == wanted || e.title.strip_prefix("edition ") == Some(&lower));
        if all.is_empty() {
            return Err(Trouble::error(
                format!("no edition is called “{wanted}”"),
                "--edition",
                format!("Name one of: {}.", titles.join(", ")),
            ));
        }
    }
    Ok(all.into_iter().map(|one| (one, record.clone())).collect())
}

/// One for all, or the one of this photograph.
fn of_photo<'a>(
    given: &'a [PathBuf],
    i: usize,
    photos: usize,
    option: &str,
) -> anyhow::Result<Option<&'a Path>> {
    match given.len() {
        0 => Ok(None),
        1 => Ok(Some(&given[0])),
        n if n == photos => Ok(Some(&given[i])),
        n => Err(Trouble::error(
            format!("{n} files for {photos} photographs"),
            option,
            "Name one for all, or one for each photograph in their order.",
        )),
    }
}

fn corners_of(arguments: &Arguments, i: usize) -> anyhow::Result<Option<[Point; 4]>> {
    let corners = &arguments.corners;
    if corners.is_empty() {
        return Ok(None);
    }
    if corners.len() != 4 * arguments.photos.len() {
        return Err(Trouble::error(
            format!(
                "{} corners for {} photographs",
                corners.len(),
                arguments.photos.len()
            ),
            "--corners",
            "Give four for each photograph, in their order.",
        ));
    }
    Ok(Some([0, 1, 2, 3].map(|k| corners[4 * i + k])))
}

fn examine(
    arguments: &Arguments,
    i: usize,
    path: &Path,
    references: &[(Reference, InputRecord)],
    sets: &[String],
    written_to: PathBuf,
) -> anyhow::Result<Examined> {
    let n = arguments.photos.len();
    let (photo, record) = files::photo(path, arguments.encoding.clone())?;
    let field = FieldFiles::read(
        of_photo(&arguments.flat, i, n, "--flat")?,
        of_photo(&arguments.dark, i, n, "--dark")?,
        &photo,
    )?;
    let tables: Vec<Reference> = references.iter().map(|r| r.0.clone()).collect();
    let view = LinearPhoto::new(&photo, field.field.as_ref());
    let compared = compare(&view, &tables, corners_of(arguments, i)?, arguments.tone)
        .map_err(files::trouble)?;
    let best = &compared[0];
    if let Some(fault) = best.fault(arguments.tone) {
        return Err(Trouble::error(
            format!("{}; nothing was written", fault.text),
            path.display(),
            fault.advice.clone(),
        ));
    }
    let reference = references
        .iter()
        .find(|r| r.0.title == best.reference.title)
        .map(|r| r.1.clone())
        .context("the reference has no record")?;
    let inputs = Inputs {
        photo: record,
        reference,
        flat: field.flat.clone(),
        dark: field.dark.clone(),
    };
    let calibration = Calibration::of(best, &photo, inputs);
    let mut judgements = judge(&best.assessment, field.flat_percent());
    judgements.retain(|j| sets.contains(&j.scheme));
    Ok(Examined {
        calibration,
        judgements,
        compared,
        photo,
        field,
        written_to,
    })
}
