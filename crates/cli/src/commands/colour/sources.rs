//! What stands at the prompt: colours, files of swatches, dossiers.

use std::path::Path;

use ganosis_colorimetry::css::{CssColour, CssError};
use ganosis_colorimetry::{LabD50, Spectrum};
use ganosis_dossier::document::PaletteEntry;
use ganosis_dossier::store::{self, SourceKind, Store};

use super::super::reading::document_of;
use super::swatch_file;
use crate::trouble::Trouble;

/// What is known of a colour.
pub(super) enum Known {
    /// CIELAB D50 only.
    Lab(LabD50),
    /// Its reflectance; the colour follows.
    Spectrum(Spectrum),
}

/// A colour with its name.
pub(super) struct Swatch {
    pub(super) name: String,
    pub(super) known: Known,
}

/// All of them, in the order of the prompt.
pub(super) fn read(arguments: &[String]) -> anyhow::Result<Vec<Swatch>> {
    let mut swatches = Vec::new();
    for argument in arguments {
        match argument.parse::<CssColour>() {
            Ok(colour) => {
                if colour.alpha != Some(1.0) {
                    eprintln!(
                        "ganosis: {argument}: alpha is left aside, a colour alone has no ground"
                    );
                }
                swatches.push(Swatch {
                    name: argument.trim().to_owned(),
                    known: Known::Lab(colour.to_lab()),
                });
            }
            Err(error) => swatches.extend(from_path(argument, &error)?),
        }
    }
    Ok(swatches)
}

fn from_path(argument: &str, error: &CssError) -> anyhow::Result<Vec<Swatch>> {
    let path = Path::new(argument);
    if path.is_dir() || (path.is_file() && has_extension(path, "zip")) {
        return palette(path);
    }
    if path.is_file() {
        let bytes = std::fs::read(path).map_err(|error| {
            Trouble::error(
                format!("the swatches could not be read: {error}"),
                path.display(),
                "See whether the file may be read.",
            )
        })?;
        return swatch_file::read(&path.display().to_string(), &bytes);
    }
    // Something with a bracket or a hash was meant as a colour, anything else perhaps as a file.
    let advice = if argument.contains(['(', '#']) {
        "Correct the colour; in a shell, put it in quotes."
    } else {
        "Write a colour in quotes, or the path of a CSV or dossier that is there."
    };
    Err(Trouble::error(
        format!("no colour and no file: {error}"),
        format!("{argument:?}"),
        advice,
    ))
}

fn has_extension(path: &Path, wanted: &str) -> bool {
    path.extension()
        .is_some_and(|found| found.eq_ignore_ascii_case(wanted))
}

fn palette(path: &Path) -> anyhow::Result<Vec<Swatch>> {
    let could_not = |reason: String| {
        Trouble::error(
            format!("the palette could not be read: {reason}"),
            path.display(),
            "Name the folder or zip of a dossier; correct what \"ganosis check\" says first.",
        )
    };
    let opened = store::open(path).map_err(|error| could_not(error.to_string()))?;
    if opened.kind == SourceKind::Model {
        return Err(could_not("a 3D file has no palette".to_owned()));
    }
    let document = document_of(&opened).map_err(could_not)?;
    if document.palette.is_empty() {
        return Err(could_not("it has no entries".to_owned()));
    }
    let mut swatches = Vec::new();
    for entry in &document.palette {
        match known(entry, &*opened.store).map_err(could_not)? {
            Some(known) => swatches.push(Swatch {
                name: entry.id.clone(),
                known,
            }),
            None => eprintln!(
                "ganosis: {}: neither colour nor spectrum, left out",
                entry.id
            ),
        }
    }
    Ok(swatches)
}

/// The spectrum where there is one, else the stated colour.
fn known(entry: &PaletteEntry, store: &dyn Store) -> Result<Option<Known>, String> {
    let Some(file) = &entry.spectrum else {
        return Ok(entry.lab_d50.map(|lab| Known::Lab(LabD50::from_array(lab))));
    };
    let says = |reason: String| format!("{file}, spectrum of {}: {reason}", entry.id);
    let bytes = store.read(file).map_err(|error| says(error.to_string()))?;
    let spectrum = Spectrum::reflectance_from_csv(&String::from_utf8_lossy(&bytes))
        .map_err(|error| says(error.to_string()))?;
    Ok(Some(Known::Spectrum(spectrum)))
}
