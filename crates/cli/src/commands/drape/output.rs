//! The files of a layer: made in the folder of what is in work, moved out when all are whole.

use std::fs::{self, File};
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};

use ganosis_dossier::document::Origin;
use ganosis_imaging::drape::Drape;
use ganosis_imaging::drape::fill::Fill;
use ganosis_imaging::drape::sheet_out::{ColourFiles, Cut, KnownFiles, write_band, write_colour};

use super::kept::FOLDER;
use super::record::LAYER_FILE;
use super::{Arguments, Inputs};
use crate::commands::chart_files::trouble;
use crate::commands::correct::text_of;
use crate::commands::moved::{move_out, take_back};
use crate::trouble::Trouble;

/// What is known of each texel: the end of the file's name, and what it is.
pub(super) const KNOWN: [&str; 4] = ["coverage", "views", "resolution", "photo"];

/// The name of a sheet as part of a file's name.
pub(super) fn file_stem(number: usize, name: &str) -> String {
    let sound = |c: char| {
        if c.is_ascii_alphanumeric() || matches!(c, '-' | '_') {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    let stem: String = name.chars().map(sound).take(40).collect();
    if stem.chars().any(|c| c.is_ascii_alphanumeric()) {
        format!("{}-{stem}", number + 1)
    } else {
        format!("{}", number + 1)
    }
}

/// Names of all files of the layer, sheet after sheet; the record last.
fn names<'a>(arguments: &Arguments, sheets: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut names = Vec::new();
    for (number, sheet) in sheets.enumerate() {
        let stem = file_stem(number, sheet);
        names.extend(KNOWN.map(|what| format!("{stem}-{what}.png")));
        names.push(format!("{stem}.png"));
        if arguments.band.is_none() {
            names.push(format!("{stem}.tif"));
        }
    }
    names.push(LAYER_FILE.to_owned());
    names
}

fn work_folder(output: &Path) -> PathBuf {
    output.join(FOLDER).join("images")
}

/// Takes back what a run that was killed had moved out before the layer was whole: for one of a
/// dossier, before the dossier named it.
pub(super) fn take_back_unfinished(output: &Path, inputs: &Inputs) -> anyhow::Result<()> {
    let is_whole = match &inputs.dossier {
        None => output.join(LAYER_FILE).exists(),
        Some((document, folder)) => {
            let mut images = document.layers.iter().flat_map(|layer| &layer.images);
            images.any(|image| folder.join(&image.file).parent() == Some(output))
        }
    };
    if is_whole {
        return Ok(());
    }
    take_back(&work_folder(output), output).map_err(|e| failed(output, &e))
}

/// An error if a file of the layer is there already.
pub(super) fn refuse_overwriting(
    arguments: &Arguments,
    output: &Path,
    inputs: &Inputs,
) -> anyhow::Result<()> {
    let sheets = inputs.surface.sheets.iter().map(|s| s.name.as_str());
    let mut paths = names(arguments, sheets).into_iter().map(|n| output.join(n));
    match paths.find(|path| path.exists()) {
        None => Ok(()),
        Some(path) => Err(Trouble::error(
            "there is a file already, and it is not written over",
            path.display(),
            "Name another id or output folder, or take the old files away.",
        )),
    }
}

/// Writes all images and the record of the layer.
pub(super) fn write(
    arguments: &Arguments,
    drape: &Drape,
    fill: Option<&Fill>,
    output: &Path,
    origin: &Origin,
    record: &str,
) -> anyhow::Result<Cut> {
    let work = work_folder(output);
    fs::create_dir_all(&work).map_err(|e| failed(&work, &e))?;
    let create = |name: String| -> anyhow::Result<BufWriter<File>> {
        let path = work.join(name);
        let file = File::create(&path).map_err(|e| failed(&path, &e))?;
        Ok(BufWriter::with_capacity(1 << 20, file))
    };
    let mut sum = Cut::default();
    for (number, sheet) in drape.mesh.sheets.iter().enumerate() {
        let stem = file_stem(number, &sheet.name);
        let known = |what: &str| create(format!("{stem}-{what}.png"));
        let known = KnownFiles {
            coverage: known(KNOWN[0])?,
            views: known(KNOWN[1])?,
            resolution: known(KNOWN[2])?,
            photo: known(KNOWN[3])?,
        };
        let image = create(format!("{stem}.png"))?;
        let cut = if arguments.band.is_some() {
            write_band(drape, number, fill, image, known)
        } else {
            let files = ColourFiles {
                master: create(format!("{stem}.tif"))?,
                image,
            };
            let spaces = (arguments.space, arguments.image_space);
            let text = text_of(origin);
            write_colour(drape, number, fill, spaces, &text, files, known)
        };
        let cut = cut.map_err(trouble)?;
        sum.outside_space += cut.outside_space;
        sum.filled += cut.filled;
    }
    let path = work.join(LAYER_FILE);
    fs::write(&path, record).map_err(|e| failed(&path, &e))?;
    let sheets = drape.mesh.sheets.iter().map(|s| s.name.as_str());
    move_out(&work, output, &names(arguments, sheets)).map_err(|e| failed(output, &e))?;
    Ok(sum)
}

fn failed(path: &Path, error: &io::Error) -> anyhow::Error {
    Trouble::error(
        format!("the file could not be written: {error}"),
        path.display(),
        "Check free space and the permissions of the folder, and run the same command again: what is \
         done is kept.",
    )
}
