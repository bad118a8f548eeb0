//! `ganosis publish`: a site of static files.

mod build;
mod place;

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use ganosis_dossier::Dossier;
use ganosis_dossier::store::Store;

pub(super) use place::{Published, published};

use super::printing::printed;
use super::public;
use super::viewer_files::viewer_folder;
use crate::trouble::Trouble;

/// Write a site of static files: viewer, dossier, report, page for frames
///
/// The folder works from any web server, from any path below it, and from a
/// stick by "ganosis open". What is withheld ("public": false on a person,
/// layer, state, region, palette entry, observation, attachment, claim,
/// review, pin or view) is in none of its files; what was left out is listed.
/// Several dossiers make a catalogue.
///
/// The site is made beside the folder and put there when it is whole. Done
/// again, it replaces what it wrote before and nothing else.
///
/// Exit code: 0 written, 2 could not.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// Dossiers (folders or zips)
    #[arg(required = true, value_name = "DOSSIER")]
    paths: Vec<PathBuf>,
    /// Folder of the site
    #[arg(long, value_name = "DIR")]
    to: PathBuf,
    /// Address that the site will have, for what needs whole addresses:
    /// sitemap.xml, links, oembed.json
    #[arg(long, value_name = "URL")]
    address: Option<String>,
    /// Title of the catalogue, when there are several
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// Leave out pictures of the object (preview, report), which take a while
    /// without a graphics card
    #[arg(long)]
    without_pictures: bool,
    /// Publish although texts or files name something that is withheld
    #[arg(long)]
    despite_mentions: bool,
    /// Folder of the viewer's files, if they are not found by themselves
    #[arg(long, value_name = "DIR")]
    viewer: Option<PathBuf>,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let address = arguments.address.as_deref().map(site_address).transpose()?;
    let viewer = viewer_folder(arguments.viewer.as_deref())?;
    let mut place = place::Place::prepare(&arguments.to)?;
    let read = |path: &PathBuf| public::dossier(path, "published");
    let sources: Vec<(Dossier, Box<dyn Store>)> =
        arguments.paths.iter().map(read).collect::<Result<_, _>>()?;
    let mut copies = Vec::new();
    for (path, (document, store)) in arguments.paths.iter().zip(&sources) {
        copies.push(public::copy(
            path,
            document,
            &**store,
            arguments.despite_mentions,
        )?);
    }
    let options = build::Options {
        address: address.as_deref(),
        title: arguments.title.as_deref(),
        pictures: !arguments.without_pictures,
    };
    build::site(&mut place, &viewer, &copies, options)?;
    let written = place.finish()?;
    for (path, copy) in arguments.paths.iter().zip(&copies) {
        if copies.len() > 1 {
            printed(writeln!(io::stdout(), "{}:", path.display()))?;
        }
        public::tell(copy)?;
    }
    let said = writeln!(
        io::stdout(),
        "written: {} files in {}",
        written,
        arguments.to.display()
    );
    printed(said)?;
    Ok(ExitCode::SUCCESS)
}

/// An address that ends with `/` and has no more than a path.
pub(super) fn site_address(text: &str) -> anyhow::Result<String> {
    let rest = ["https://", "http://"]
        .iter()
        .find_map(|scheme| text.strip_prefix(scheme));
    let sound = rest.is_some_and(|rest| {
        let host = rest.split('/').next().unwrap_or("");
        !host.is_empty() && !text.contains(['?', '#', ' ', '"', '<', '>', '\\'])
    });
    if !sound || text.chars().any(char::is_control) {
        return Err(Trouble::error(
            "this is no address of a site",
            text,
            "Write it as https://www.example.org/boss/, without ? and #.",
        ));
    }
    let end = if text.ends_with('/') { "" } else { "/" };
    Ok(format!("{text}{end}"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail by panic")]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_one_of_the_web_with_a_path_and_no_more() {
        for (text, wanted) in [
            ("https://a.example", "https://a.example/"),
            ("http://a.example/b/", "http://a.example/b/"),
        ] {
            assert_eq!(site_address(text).unwrap(), wanted);
        }
        for bad in [
            "",
            "a.example",
            "ftp://a",
            "https://",
            "https://a/?b",
            "https://a/#c",
            "https://a b/",
        ] {
            assert!(site_address(bad).is_err(), "{bad}");
        }
    }
}
