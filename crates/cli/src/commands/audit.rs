//! `ganosis audit`: what in a dossier does not hold.

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use ganosis_audit::decoded::FileSources;
use ganosis_audit::{Audit, Severity, Sources};
use ganosis_dossier::Dossier;
use ganosis_dossier::store::{self, SourceKind, Store};
use serde::Serialize;

use super::paged::{Paper, Printing};
use super::printing::printed;
use super::reading::document_of;
use super::report::Targets;
use crate::trouble::Trouble;

/// Find what in a dossier does not hold
///
/// Goes through claims, evidence, states and layers and says what rests on
/// nothing, what contradicts itself, and what would settle it: coloured
/// surface that no claim covers, analyses outside the region they are said to
/// be of, painted colour that is not the claimed one, elements that
/// contradict a pigment, and more. It changes nothing, and it does not decide
/// who is right. A finding can be set aside in the dossier with a reason.
///
/// Exit code: 0 nothing at or above the severity remains, 1 something
/// remains, 2 the dossier could not be read.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// A dossier (folder or zip)
    path: PathBuf,
    /// Print the findings as JSON, for other programs
    #[arg(long)]
    json: bool,
    /// Least severity that counts for the exit code: note, warning or error
    #[arg(long, value_name = "SEVERITY", default_value = "warning")]
    at_least: Severity,
    /// Also write a report: one HTML file to read, print and send
    #[arg(long, value_name = "OUT.html")]
    report: Option<PathBuf>,
    /// Also write the report as a PDF, printed by an installed Chromium
    #[arg(long, value_name = "OUT.pdf")]
    pdf: Option<PathBuf>,
    /// Paper of the PDF
    #[arg(long, value_name = "PAPER", default_value = "a4", requires = "pdf")]
    paper: Paper,
}

/// What `--json` prints.
#[derive(Serialize)]
struct Output<'a> {
    path: String,
    #[serde(flatten)]
    audit: &'a Audit,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let (document, store) = read(arguments)?;
    let pdf = arguments.pdf.as_deref();
    let pdf = pdf
        .map(|path| Printing::to(path, arguments.paper))
        .transpose()?;
    let bytes_of = |path: &str| store.read(path).map_err(|error| error.to_string());
    let sources = FileSources::new(&document, &bytes_of);
    for problem in sources.problems() {
        eprintln!("ganosis: {problem}");
    }
    let audit = ganosis_audit::run(&document, &sources as &dyn Sources);
    for problem in sources.problems_with_images() {
        eprintln!("ganosis: {problem}");
    }
    let targets = Targets {
        html: arguments.report.as_deref(),
        pdf: pdf.as_ref(),
    };
    super::report::write(targets, &document, &audit, &*store)?;
    printed(print(arguments, &audit))?;
    Ok(ExitCode::from(u8::from(audit.remains(arguments.at_least))))
}

fn read(arguments: &Arguments) -> anyhow::Result<(Dossier, Box<dyn Store>)> {
    let could_not = |reason: String| {
        Trouble::error(
            format!("it could not be audited: {reason}"),
            arguments.path.display(),
            "Name the folder or zip of a dossier; correct what \"ganosis check\" says first.",
        )
    };
    let opened = store::open(&arguments.path).map_err(|error| could_not(error.to_string()))?;
    if opened.kind == SourceKind::Model {
        return Err(could_not("a 3D file alone holds no claims".to_owned()));
    }
    let document = document_of(&opened).map_err(could_not)?;
    Ok((document, opened.store))
}

fn print(arguments: &Arguments, audit: &Audit) -> io::Result<()> {
    let mut out = io::stdout().lock();
    if arguments.json {
        let path = arguments.path.display().to_string();
        serde_json::to_writer_pretty(&mut out, &Output { path, audit })?;
        return writeln!(out);
    }
    for finding in &audit.findings {
        writeln!(out, "{finding}\n")?;
    }
    for what in &audit.not_examined {
        writeln!(out, "not examined: {}", what.message)?;
    }
    let count = |severity| {
        audit
            .findings
            .iter()
            .filter(|f| f.severity == severity)
            .count()
    };
    writeln!(
        out,
        "errors: {}, warnings: {}, notes: {}, set aside: {}",
        count(Severity::Error),
        count(Severity::Warning),
        count(Severity::Note),
        audit.set_aside.len()
    )
}
