//! `ganosis import`: what was exported, back into a dossier.

use std::fs::{self, File};
use std::io::{self, Read as _, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;
use ganosis_dossier::document::{FILE_NAME, Pin};
use ganosis_dossier::store::{self, FolderStore, Store as _};
use ganosis_dossier::write::save_keeping_previous;
use ganosis_dossier::{Dossier, Text};
use ganosis_exchange::{ImportError, TakenIn, glb, iiif, merge, table, usd};

use super::bags::{FolderBag, is_bag};
use super::export::{FreshFolder, shown};
use super::printing::printed;
use super::reading::{document_of, folder_to_write};
use crate::trouble::Trouble;

/// Most bytes of a file that is read whole: as large as a binary glTF can be.
const LARGEST_BYTES: u64 = 4 << 30;

/// Bring back what "ganosis export" wrote
///
/// A glb, usdz or bag becomes a new dossier (--to): a bag whole and verified,
/// the others with all that they hold; what they had no room for is listed.
/// Annotations, tables and manifests are read into a dossier (--into): rows
/// and pins whose id is known replace what was there, others are added, and
/// nothing is taken away. The document before is kept beside it as
/// .dossier.previous.json.
///
/// Exit code: 0 done, 2 could not.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// A .glb, .usdz, .jsonld or manifest .json file, or the folder of a bag or of tables
    path: PathBuf,
    /// Folder of the new dossier
    #[arg(long, value_name = "DIR", required_unless_present = "into")]
    to: Option<PathBuf>,
    /// Dossier (folder) to read annotations, tables or a manifest into
    #[arg(long, value_name = "DOSSIER", conflicts_with = "to")]
    into: Option<PathBuf>,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let mut said = match (&arguments.to, &arguments.into) {
        (Some(to), _) => new_dossier(&arguments.path, to)?,
        (None, Some(into)) => into_dossier(&arguments.path, into)?,
        (None, None) => Vec::new(),
    };
    if said.is_empty() {
        said.push("everything came back".to_owned());
    }
    let mut text = said.join("\n");
    text.push('\n');
    printed(io::stdout().lock().write_all(text.as_bytes()))?;
    Ok(ExitCode::SUCCESS)
}

fn could_not(path: &Path, reason: impl std::fmt::Display, advice: &str) -> anyhow::Error {
    Trouble::error(
        format!("it could not be imported: {reason}"),
        path.display(),
        format!("{advice} Nothing was written."),
    )
}

/// A new dossier; gives what was lost, a line each.
fn new_dossier(path: &Path, to: &Path) -> anyhow::Result<Vec<String>> {
    if path.is_dir() {
        return from_bag(path, to).map(|()| Vec::new());
    }
    let bytes = read_whole(path)?;
    let taken: Result<TakenIn, ImportError> = if bytes.starts_with(b"glTF") {
        glb::from_glb(&bytes)
    } else if bytes.starts_with(b"PK\x03\x04") {
        usd::from_usdz(&bytes)
    } else {
        let advice = "Name a .glb, a .usdz or the folder of a bag; read annotations, tables and manifests in with --into.";
        return Err(could_not(path, "no dossier is made of such a file", advice));
    };
    let advice =
        "A 3D file of another program becomes a dossier when you put a dossier.json beside it.";
    let taken = taken.map_err(|error| could_not(path, error, advice))?;
    let mut folder = FreshFolder::beside(to)?;
    for (file, bytes) in &taken.files {
        folder.put(file, bytes)?;
    }
    let mut json = serde_json::to_vec_pretty(&taken.document.to_value())?;
    json.push(b'\n');
    folder.put(FILE_NAME, &json)?;
    folder.finish()?;
    let lost = taken.lost.into_iter();
    Ok(lost
        .map(|what| format!("not in the file: {what}"))
        .collect())
}

fn from_bag(path: &Path, to: &Path) -> anyhow::Result<()> {
    let advice =
        "Take another copy of the bag; \"ganosis check\" says what is wrong with this one.";
    if !is_bag(path) {
        return Err(could_not(path, "this folder is no bag", advice));
    }
    let bag = FolderBag::open(path).map_err(|error| could_not(path, error, advice))?;
    let findings =
        ganosis_exchange::bag::findings(&bag).map_err(|error| could_not(path, error, advice))?;
    if let Some(first) = findings.first() {
        let reason = format!("{} (findings in all: {})", first.message, findings.len());
        return Err(could_not(path, reason, advice));
    }
    let source = FolderStore::open(&path.join("data/dossier"))?;
    let mut folder = FreshFolder::beside(to)?;
    for file in source.list()? {
        folder.put(&file, &source.read(&file)?)?;
    }
    folder.finish()
}

fn read_whole(path: &Path) -> anyhow::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let read =
        File::open(path).and_then(|file| file.take(LARGEST_BYTES + 1).read_to_end(&mut bytes));
    read.map_err(|error| could_not(path, error, "Look whether it is there and may be read."))?;
    if bytes.len() as u64 > LARGEST_BYTES {
        return Err(could_not(
            path,
            "it is larger than 4 GiB",
            "Take a smaller one.",
        ));
    }
    Ok(bytes)
}

/// Into a dossier that is there; gives what was changed, a line each.
fn into_dossier(path: &Path, into: &Path) -> anyhow::Result<Vec<String>> {
    let opened =
        store::open(into).map_err(|e| could_not(into, e, "Name the folder of a dossier."))?;
    let folder = folder_to_write(into, opened.kind)?;
    let document = document_of(&opened).map_err(|e| could_not(into, e, "Correct it first."))?;
    let advice = "Export it again, or choose another file.";
    let (changed, said) = if path.is_dir() {
        let table = |name: &str| fs::read(path.join(name)).ok();
        let (claims, evidence) = (table(table::CLAIMS), table(table::EVIDENCE));
        if claims.is_none() && evidence.is_none() {
            let reason = format!(
                "there is neither {} nor {} in it",
                table::CLAIMS,
                table::EVIDENCE
            );
            return Err(could_not(path, reason, advice));
        }
        table::merge_tables(&document, claims.as_deref(), evidence.as_deref())
            .map_err(|error| could_not(path, error, advice))?
    } else {
        let bytes = read_whole(path)?;
        match iiif::pins(&bytes) {
            Ok(pins) => with_pins(&document, pins),
            Err(_) => annotations(path, &document, &bytes)?,
        }
    };
    if changed != document {
        let store = &*opened.store;
        let wrong = ganosis_dossier::check::new_errors(&document, &changed, store);
        if let Some(first) = wrong.first() {
            let reason = format!("it would bring an error in: {}", first.message);
            return Err(could_not(path, reason, "Correct it there."));
        }
        save_keeping_previous(&folder, &changed)
            .with_context(|| format!("{} could not be saved", shown(&folder)))?;
    }
    if said.is_empty() {
        return Ok(vec!["nothing differs".to_owned()]);
    }
    Ok(said)
}

fn annotations(
    path: &Path,
    document: &Dossier,
    bytes: &[u8],
) -> anyhow::Result<(Dossier, Vec<String>)> {
    let advice = "Export it again, or choose another file.";
    let merged = merge(document, bytes).map_err(|error| could_not(path, error, advice))?;
    let mut said: Vec<String> = merged
        .added
        .iter()
        .map(|id| format!("new: pin {id}"))
        .collect();
    let changed = merged.changed.iter();
    said.extend(changed.map(|c| format!("changed: pin {} ({})", c.pin, c.what.join(", "))));
    let left = merged.left_out.iter();
    said.extend(left.map(|l| format!("left out: {}: {}", l.annotation, l.reason)));
    Ok((merged.document, said))
}

/// Pins of a manifest, which say title, text and place and nothing else.
fn with_pins(document: &Dossier, pins: Vec<Pin>) -> (Dossier, Vec<String>) {
    let mut changed = document.clone();
    let mut said = Vec::new();
    for pin in pins {
        match changed.pins.iter_mut().find(|known| known.id == pin.id) {
            Some(known) => {
                let mut differs = false;
                let mut take = |mine: &mut Text, theirs: Text| {
                    if *mine != theirs && !theirs.is_empty() {
                        *mine = theirs;
                        differs = true;
                    }
                };
                take(&mut known.title, pin.title);
                take(&mut known.text, pin.text);
                if differs {
                    said.push(format!("changed: pin {}", known.id));
                }
            }
            None => {
                said.push(format!("new: pin {}", pin.id));
                let mut pin = pin;
                if let (Some(anchor), [sheet]) =
                    (pin.anchor.as_mut(), document.surface.sheets.as_slice())
                {
                    anchor.sheet.clone_from(&sheet.id);
                }
                changed.pins.push(pin);
            }
        }
    }
    (changed, said)
}
