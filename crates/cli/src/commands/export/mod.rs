//! `ganosis export`: a dossier as a file that other programs open.

mod bag;
mod fresh;

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;
use ganosis_dossier::Dossier;
use ganosis_dossier::document::NARRATION_FIELD;
use ganosis_dossier::store::Store;
use ganosis_dossier::write::write_atomically;
use ganosis_exchange::solid::{self, Purpose, Solid};
use ganosis_exchange::usd::{Narration, to_usdz};
use ganosis_exchange::{ExportError, collection, glb, iiif, table};

pub(super) use fresh::FreshFolder;

use super::printing::printed;
use super::public;
use crate::trouble::Trouble;

/// Write a dossier as a file or folder that other programs open
///
/// glb: one binary glTF 2.0 file, states as material variants, pins as nodes.
/// usdz: one USD package, states as a variant set, in metres. bag: a folder to
/// be archived (BagIt, RFC 8493) with everything, a report, the schema and a
/// README for somebody without this program; "ganosis check" verifies it.
/// annotations: pins and observations as Web Annotations. table: a folder with
/// claims and observations as CSV. iiif: a manifest by the draft of the
/// Presentation API 4.0 for a published site (--address), which has a glb
/// beside it.
///
/// With --public, what is withheld is left out and listed. Each comes back by
/// "ganosis import", with all that its format can hold.
///
/// Exit code: 0 written, 2 could not.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// A dossier (folder or zip)
    path: PathBuf,
    /// What to write
    #[arg(long = "as", value_name = "KIND")]
    kind: Kind,
    /// File to write; a new folder for bag and table
    #[arg(short, long, value_name = "PATH")]
    output: PathBuf,
    /// What glb and usdz are for, which decides their size: web pictures up to
    /// 2048 px and a million triangles, ar 1024 px and a hundred thousand (in a
    /// room, through a telephone), archive as large as the layers and the mesh
    /// and every code value kept. How far a reduced mesh is off is measured,
    /// told, and written into the file [usual: web for glb, ar for usdz]
    #[arg(long = "for", value_name = "PURPOSE")]
    purpose: Option<PurposeName>,
    /// Leave out what is not cleared for the public
    #[arg(long)]
    public: bool,
    /// With --public: go on although texts or files name something that is withheld
    #[arg(long, requires = "public")]
    despite_mentions: bool,
    /// With usdz: take spoken narration of the views along (m4a, mp3, wav)
    #[arg(long)]
    narration: bool,
    /// With iiif: address of the published site
    #[arg(long, value_name = "URL")]
    address: Option<String>,
    /// With iiif: path of the glb from that address
    #[arg(long, value_name = "PATH", default_value = "object.glb")]
    model: String,
    /// With bag: leave pictures of the object out of the report
    #[arg(long)]
    without_pictures: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Kind {
    /// Binary glTF 2.0
    Glb,
    /// USD package
    Usdz,
    /// Archive (BagIt)
    Bag,
    /// W3C Web Annotations
    Annotations,
    /// CSV
    Table,
    /// IIIF manifest
    Iiif,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum PurposeName {
    /// For pages
    Web,
    /// For looking at it in a room, through a telephone
    Ar,
    /// To be kept
    Archive,
}

impl From<PurposeName> for Purpose {
    fn from(name: PurposeName) -> Self {
        match name {
            PurposeName::Web => Self::Web,
            PurposeName::Ar => Self::Room,
            PurposeName::Archive => Self::Archive,
        }
    }
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let (document, store) = public::dossier(&arguments.path, "exported")?;
    if !arguments.public {
        write(arguments, &document, &*store)?;
    } else {
        let copy = public::copy(
            &arguments.path,
            &document,
            &*store,
            arguments.despite_mentions,
        )?;
        write(arguments, copy.document(), &copy)?;
        public::tell(&copy)?;
    }
    printed(writeln!(
        io::stdout(),
        "written: {}",
        arguments.output.display()
    ))?;
    Ok(ExitCode::SUCCESS)
}

fn write(arguments: &Arguments, document: &Dossier, store: &dyn Store) -> anyhow::Result<()> {
    let file = |bytes: &[u8]| {
        write_atomically(&arguments.output, bytes).context("the file could not be written")
    };
    let refused = |error: ExportError| {
        Trouble::error(
            format!("it could not be exported: {error}"),
            arguments.path.display(),
            "Correct what \"ganosis check\" says first. Nothing was written.",
        )
    };
    let look = |usual: Purpose, reduced: bool| -> anyhow::Result<Solid> {
        let purpose = arguments.purpose.map_or(usual, Purpose::from);
        let mut solid = solid::solid(document, store, purpose).map_err(refused)?;
        if reduced {
            solid::reduce(&mut solid, purpose);
        }
        for note in &solid.notes {
            eprintln!("ganosis: {note}");
        }
        Ok(solid)
    };
    match arguments.kind {
        Kind::Glb => {
            let solid = look(Purpose::Web, true)?;
            file(&glb::to_glb(document, &solid).map_err(refused)?)
        }
        Kind::Usdz => {
            let solid = look(Purpose::Room, true)?;
            let spoken = if arguments.narration {
                narrations(document, store)?
            } else {
                Vec::new()
            };
            file(&to_usdz(document, &solid, &spoken).map_err(refused)?)
        }
        Kind::Bag => bag::write(
            &arguments.output,
            document,
            store,
            !arguments.without_pictures,
        ),
        Kind::Annotations => {
            let mut json = serde_json::to_vec_pretty(&collection(document))?;
            json.push(b'\n');
            file(&json)
        }
        Kind::Table => {
            let mut folder = FreshFolder::beside(&arguments.output)?;
            for (name, bytes) in table::tables(document) {
                folder.put(name, &bytes)?;
            }
            folder.finish()
        }
        Kind::Iiif => {
            let Some(address) = arguments.address.as_deref() else {
                return Err(Trouble::error(
                    "a manifest needs the address of the site that it is for",
                    arguments.path.display(),
                    "Say --address https://www.example.org/boss/, where the site is published.",
                ));
            };
            let address = super::publish::site_address(address)?;
            // Places only: pictures as small as they come.
            let solid = look(Purpose::Room, false)?;
            let manifest = iiif::manifest(document, &solid, &address, &arguments.model);
            let mut json = serde_json::to_vec_pretty(&manifest)?;
            json.push(b'\n');
            file(&json)
        }
    }
}

/// Narration of the views in the first language of the dossier that has one.
fn narrations(document: &Dossier, store: &dyn Store) -> anyhow::Result<Vec<Narration>> {
    let mut found = Vec::new();
    for view in &document.views {
        let Some(spoken) = view.other.get(NARRATION_FIELD).and_then(|n| n.as_object()) else {
            continue;
        };
        let languages = document.languages.iter();
        let own = languages.filter_map(|tag| Some((tag, spoken.get(tag)?)));
        let any = spoken.iter();
        let Some((tag, path)) = own
            .chain(any)
            .find_map(|(tag, s)| Some((tag, s.get("audio")?.as_str()?)))
        else {
            continue;
        };
        let end = path.rsplit('.').next().unwrap_or("").to_ascii_lowercase();
        if !["m4a", "mp3", "wav"].contains(&end.as_str()) {
            eprintln!(
                "ganosis: the narration {path} stays out: a USD package holds m4a, mp3 and wav"
            );
            continue;
        }
        let bytes = store
            .read(path)
            .with_context(|| format!("the narration of the view {}", view.id))?;
        found.push(Narration {
            title: view.title.get(tag).to_owned(),
            view: view.id.clone(),
            language: tag.clone(),
            file: format!("narration/{}.{end}", found.len()),
            bytes,
        });
    }
    Ok(found)
}

/// The name of a folder or file for messages.
pub(super) fn shown(path: &Path) -> String {
    path.display().to_string()
}
