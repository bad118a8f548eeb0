//! `ganosis check`: what is wrong with a dossier.

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context;
use ganosis_dossier::check::{Report, check, check_model};
use ganosis_dossier::store::{self, SourceKind};
use ganosis_dossier::{Finding, Severity};
use serde::Serialize;

use super::bags::{FolderBag, is_bag};
use super::check_tiles;
use super::publish::published;

use crate::trouble::Trouble;

/// Check that a dossier is whole and consistent
///
/// Reads the dossier with every image and says what is wrong, in which file
/// and at which place, and what to do: ids that nothing answers to, files
/// that are missing, images of another size than stated, numbers in the
/// region map that no region has, words, dates and languages that are not
/// what they should be. Tiles of a packed dossier are compared with the hashes
/// in their names. It changes nothing, and it does not judge arguments.
///
/// Of an archived folder (bag) every file is compared with its digests first;
/// of a published folder, with the list of what was written.
///
/// Exit code: 0 nothing found, 1 something found, 2 could not be read.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// A dossier (folder or zip), a .glb or .gltf file, a bag, or a published folder
    path: PathBuf,
    /// Print the findings as JSON, for other programs
    #[arg(long)]
    json: bool,
}

/// What `--json` prints.
#[derive(Serialize)]
struct Output<'a> {
    path: String,
    findings: &'a [ganosis_dossier::Finding],
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let findings = findings(arguments)?;
    match print(arguments, &findings) {
        // The reader of a pipe may leave early; that is no fault.
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            return Err(error).context("the findings could not be printed");
        }
        _ => {}
    }
    Ok(ExitCode::from(u8::from(!findings.is_empty())))
}

/// Of the folder around a dossier first, then of the dossier.
fn findings(arguments: &Arguments) -> anyhow::Result<Vec<Finding>> {
    let path = &arguments.path;
    if let Some(published) = published(path)? {
        let changed = published.findings(path).into_iter();
        return Ok(changed
            .map(|message| Finding {
                rule: "published-file",
                severity: Severity::Error,
                file: String::new(),
                path: String::new(),
                message,
                advice: "Publish again, or copy the folder again.".to_owned(),
            })
            .collect());
    }
    if !is_bag(path) {
        return Ok(report(arguments)?.findings);
    }
    let bag = FolderBag::open(path)?;
    let mut findings = ganosis_exchange::bag::findings(&bag)?;
    // A bag that is whole may still hold a dossier that is not.
    if findings.is_empty() {
        findings.extend(report(arguments)?.findings);
    }
    Ok(findings)
}

fn report(arguments: &Arguments) -> anyhow::Result<Report> {
    let could_not = |reason: String| {
        Trouble::error(
            format!("it could not be checked: {reason}"),
            arguments.path.display(),
            "Correct this first, then check again.",
        )
    };
    let opened = store::open(&arguments.path).map_err(|error| could_not(error.to_string()))?;
    let report = match opened.kind {
        SourceKind::Model => check_model(&*opened.store, &opened.entry),
        SourceKind::Folder | SourceKind::Zip => check(&*opened.store),
    };
    let mut report = report.map_err(|error| could_not(error.to_string()))?;
    if let Some(document) = &report.document {
        let tiles = check_tiles::findings(document, &*opened.store);
        report.findings.extend(tiles);
    }
    Ok(report)
}

fn print(arguments: &Arguments, findings: &[ganosis_dossier::Finding]) -> io::Result<()> {
    let mut out = io::stdout().lock();
    if arguments.json {
        let path = arguments.path.display().to_string();
        serde_json::to_writer_pretty(&mut out, &Output { path, findings })?;
        return writeln!(out);
    }
    for finding in findings {
        writeln!(out, "{finding}\n")?;
    }
    match findings.len() {
        0 => writeln!(out, "nothing found"),
        1 => writeln!(out, "1 finding"),
        many => writeln!(out, "{many} findings"),
    }
}
