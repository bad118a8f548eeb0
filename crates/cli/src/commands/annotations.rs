//! `ganosis annotations`: pins and observations as Web Annotations.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;
use ganosis_dossier::Dossier;
use ganosis_dossier::store::{self, SourceKind};
use ganosis_dossier::write::{save_keeping_previous, write_atomically};
use ganosis_exchange::{LARGEST_BYTES, Merged, collection, merge};

use super::printing::printed;
use super::reading::{document_of, folder_to_write};
use crate::trouble::Trouble;

/// Write pins and observations as Web Annotations, or read annotations in
///
/// The file is JSON-LD as the W3C Web Annotation Data Model has it. Its
/// addresses are relative: it belongs beside dossier.json. When one is read,
/// annotations of pins of this dossier change their text and place, others
/// become new pins, the same ones each time; observations are never changed,
/// and nothing is taken away. The document before is kept beside it as
/// .dossier.previous.json.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// A dossier (folder or zip; only a folder can be read into)
    path: PathBuf,
    /// Write the annotations to this file instead of printing them
    #[arg(short, long, value_name = "FILE.jsonld", conflicts_with = "read")]
    output: Option<PathBuf>,
    /// Read annotations from this file into the dossier
    #[arg(long, value_name = "FILE.jsonld")]
    read: Option<PathBuf>,
    /// With --read: only say what would change
    #[arg(long, requires = "read")]
    dry_run: bool,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let could_not = |reason: String| {
        Trouble::error(
            format!("it could not be read: {reason}"),
            arguments.path.display(),
            "Name the folder or zip of a dossier.",
        )
    };
    let opened = store::open(&arguments.path).map_err(|error| could_not(error.to_string()))?;
    if opened.kind == SourceKind::Model {
        return Err(could_not("a 3D file alone holds no pins".to_owned()));
    }
    let document = document_of(&opened).map_err(could_not)?;
    match &arguments.read {
        Some(file) => read(arguments, file, opened.kind, &document),
        None => write(arguments, &document),
    }
}

fn write(arguments: &Arguments, document: &Dossier) -> anyhow::Result<ExitCode> {
    let mut json = serde_json::to_vec_pretty(&collection(document))?;
    json.push(b'\n');
    match &arguments.output {
        Some(file) => {
            write_atomically(file, &json).context("the annotations could not be written")?;
        }
        None => printed(io::stdout().lock().write_all(&json))?,
    }
    Ok(ExitCode::SUCCESS)
}

fn read(
    arguments: &Arguments,
    file: &Path,
    kind: SourceKind,
    document: &Dossier,
) -> anyhow::Result<ExitCode> {
    let folder = folder_to_write(&arguments.path, kind)?;
    let could_not = |reason: String| {
        Trouble::error(
            format!("no annotations were read: {reason}"),
            file.display(),
            "Nothing was changed. Choose another file, or export it again.",
        )
    };
    let mut bytes = Vec::new();
    File::open(file)
        .and_then(|file| file.take(LARGEST_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|error| could_not(error.to_string()))?;
    if bytes.len() as u64 > LARGEST_BYTES {
        return Err(could_not(format!(
            "it is larger than {} MiB",
            LARGEST_BYTES >> 20
        )));
    }
    let merged = merge(document, &bytes).map_err(|error| could_not(error.to_string()))?;
    let differs = !merged.added.is_empty() || !merged.changed.is_empty();
    if differs && !arguments.dry_run {
        save_keeping_previous(&folder, &merged.document)?;
    }
    // What was done has been done, whoever listens.
    let _ = print(&merged, arguments.dry_run);
    Ok(ExitCode::SUCCESS)
}

fn print(merged: &Merged, dry_run: bool) -> io::Result<()> {
    let mut out = io::stdout().lock();
    for note in &merged.notes {
        writeln!(out, "not as the model has it: {note}")?;
    }
    for left in &merged.left_out {
        writeln!(out, "left out: {}: {}", left.annotation, left.reason)?;
    }
    for id in &merged.added {
        writeln!(out, "new pin: {id}")?;
    }
    for change in &merged.changed {
        writeln!(
            out,
            "changed pin: {} ({})",
            change.pin,
            change.what.join(", ")
        )?;
    }
    writeln!(
        out,
        "new: {}, changed: {}, the same: {}, left out: {}{}",
        merged.added.len(),
        merged.changed.len(),
        merged.unchanged,
        merged.left_out.len(),
        if dry_run { "; nothing was saved" } else { "" }
    )
}
