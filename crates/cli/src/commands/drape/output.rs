//! The files of a layer: made in the folder of what is in work, moved out when all are whole.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use ganosis_dossier::document::Origin;
use ganosis_imaging::drape::Drape;
use ganosis_imaging::drape::fill::Fill;
use ganosis_imaging::drape::sheet_out::{ColourFiles, Cut, KnownFiles, write_band, write_colour};

use super::kept::FOLDER;
use super::{Arguments, Inputs};
use crate::commands::chart_files::trouble;
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

/// An error if the layer is there already.
pub(super) fn refuse_overwriting(output: &Path, inputs: &Inputs) -> anyhow::Result<()> {
    let taken = inputs
        .surface
        .sheets
        .iter()
        .enumerate()
        .find_map(|(number, sheet)| {
            let path = output.join(format!("{}.png", file_stem(number, &sheet.name)));
            path.exists().then_some(path)
        });
    match taken {
        None => Ok(()),
        Some(path) => Err(Trouble::error(
            "there is a file already, and it is not written over",
            path.display(),
            "Name another id or output folder, or take the old files away.",
        )),
    }
}

/// Writes all images.
pub(super) fn write(
    arguments: &Arguments,
    drape: &Drape,
    fill: Option<&Fill>,
    output: &Path,
    origin: &Origin,
) -> anyhow::Result<Cut> {
    let work = output.join(FOLDER).join("images");
    fs::create_dir_all(&work).map_err(|e| failed(&work, &e))?;
    let mut made: Vec<PathBuf> = Vec::new();
    let mut create = |name: String| -> anyhow::Result<BufWriter<File>> {
        let path = work.join(&name);
        let file = File::create(&path).map_err(|e| failed(&path, &e))?;
        made.push(PathBuf::from(name));
        Ok(BufWriter::with_capacity(1 << 20, file))
    };
    let mut sum = Cut::default();
    for (number, sheet) in drape.mesh.sheets.iter().enumerate() {
        let stem = file_stem(number, &sheet.name);
        let mut known = |what: &str| create(format!("{stem}-{what}.png"));
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
            let text = serde_json::to_string(origin)?;
            write_colour(drape, number, fill, spaces, &text, files, known)
        };
        let cut = cut.map_err(trouble)?;
        sum.outside_space += cut.outside_space;
        sum.filled += cut.filled;
    }
    for name in &made {
        let (from, to) = (work.join(name), output.join(name));
        // On the disk before it has its name.
        File::open(&from)
            .and_then(|f| f.sync_all())
            .and_then(|()| fs::rename(&from, &to))
            .map_err(|e| failed(&to, &e))?;
    }
    Ok(sum)
}

/// Writes a small file whole or not at all.
pub(super) fn write_text(path: &Path, text: &str) -> anyhow::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let steps = || -> io::Result<()> {
        let mut temporary = tempfile::Builder::new()
            .prefix(".saving-")
            .tempfile_in(folder)?;
        temporary.write_all(text.as_bytes())?;
        temporary.as_file().sync_all()?;
        temporary.persist(path).map_err(|e| e.error)?;
        Ok(())
    };
    steps().map_err(|e| failed(path, &e))
}

fn failed(path: &Path, error: &io::Error) -> anyhow::Error {
    Trouble::error(
        format!("the file could not be written: {error}"),
        path.display(),
        "Check free space and the permissions of the folder, and run the same command again: what is \
         done is kept.",
    )
}
