//! `ganosis open`: show a dossier in the browser.

use std::io::{self, Write};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};

use anyhow::Context;
use ganosis_dossier::store::{self, Opened, SourceKind};
use ganosis_server::{Site, Token};
use tokio::net::TcpListener;

use super::publish::{Published, published};
use super::reading::{document_of, folder_to_write};
use super::viewer_files::viewer_folder;
use crate::trouble::Trouble;

/// Port that is tried first when none is given. A choice of ours.
const USUAL_PORT: u16 = 8123;

/// Show a dossier or a 3D file in the browser
///
/// Serves the object to this machine and opens the browser: turn it, set two
/// states side by side, and read what each colour rests on. The first line
/// printed is the address. Nothing is sent to other machines, and nothing is
/// changed without --edit. Stop with Ctrl-C.
///
/// A folder that "ganosis publish" wrote is shown as it is, with the viewer
/// that lies in it, from a stick too.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// A dossier (folder or zip), a .glb or .gltf file, or a published folder
    path: PathBuf,
    /// Port of the address [usual: 8123, or any free one]
    #[arg(long, value_name = "N")]
    port: Option<u16>,
    /// Only print the address; do not open a browser
    #[arg(long)]
    no_browser: bool,
    /// Folder of the viewer's files, if they are not found by themselves
    #[arg(long, value_name = "DIR")]
    viewer: Option<PathBuf>,
    /// Address to listen on. With another than 127.0.0.1, everybody on the
    /// network can see the dossier
    #[arg(long, value_name = "ADDR", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    listen: IpAddr,
    /// Let the page change the dossier: pins, evidence, claims, regions. Needs
    /// a folder. The document before the last save is kept beside it as
    /// .dossier.previous.json
    #[arg(long)]
    edit: bool,
}

/// Runs the command until it is interrupted.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let token = token(arguments)?;
    let (site, page) = match published(&arguments.path)? {
        Some(published) => (site_of_published(arguments, &published)?, String::new()),
        None => site_of_source(arguments, token.as_ref())?,
    };
    let runtime = tokio::runtime::Runtime::new().context("the server could not be started")?;
    runtime.block_on(async {
        let listener = listen(arguments).await?;
        let address = address(listener.local_addr()?, &page, token.as_ref());
        let mut out = io::stdout();
        // Nobody may be reading; the server runs all the same.
        let _ = writeln!(out, "{address}").and_then(|()| out.flush());
        if !arguments.listen.is_loopback() {
            eprintln!(
                "Everybody who can reach this machine over the network can see this dossier."
            );
        }
        if let Some(token) = &token {
            eprintln!(
                "Those who open the address as printed can also change it. The token for writing is {}",
                token.word()
            );
        }
        if !arguments.no_browser {
            open_browser(&address);
        }
        let stop = async {
            // If it cannot be listened for, Ctrl-C ends the program at once.
            if tokio::signal::ctrl_c().await.is_err() {
                std::future::pending::<()>().await;
            }
        };
        ganosis_server::serve(listener, site, stop).await?;
        Ok(ExitCode::SUCCESS)
    })
}

/// A published folder, which has all it needs and is never written to.
fn site_of_published(arguments: &Arguments, published: &Published) -> anyhow::Result<Site> {
    if arguments.edit {
        return Err(Trouble::error(
            "a published folder is not edited",
            arguments.path.display(),
            "Edit the dossier that it was made from, and publish that again.",
        ));
    }
    for line in published.findings(&arguments.path) {
        eprintln!("{line}");
    }
    Ok(Site::published(&arguments.path)?)
}

/// The site of a dossier or a 3D file, and what follows the address.
fn site_of_source(arguments: &Arguments, token: Option<&Token>) -> anyhow::Result<(Site, String)> {
    let opened = opened(&arguments.path)?;
    let viewer = viewer_folder(arguments.viewer.as_deref())?;
    let source = match opened.kind {
        SourceKind::Model => format!("dossier/{}", percent_encoded(&opened.entry)),
        SourceKind::Folder | SourceKind::Zip => "dossier/".to_owned(),
    };
    let site = if arguments.edit {
        let folder = folder_to_write(&arguments.path, opened.kind)?;
        Site::editable(&viewer, &folder, token.cloned())?
    } else {
        Site::new(&viewer, opened.store)?
    };
    Ok((site, format!("?src={source}")))
}

/// Opens the source and reads its document once, so that a broken one is
/// told here and not first in the browser.
fn opened(path: &Path) -> anyhow::Result<Opened> {
    let could_not = |reason: String| {
        Trouble::error(
            format!("it could not be opened: {reason}"),
            path.display(),
            "Name a dossier (its folder or zip) or a .glb or .gltf file.",
        )
    };
    let opened = store::open(path).map_err(|error| could_not(error.to_string()))?;
    if opened.kind != SourceKind::Model {
        document_of(&opened).map_err(could_not)?;
    }
    Ok(opened)
}

async fn listen(arguments: &Arguments) -> anyhow::Result<TcpListener> {
    let at = |port| TcpListener::bind(SocketAddr::new(arguments.listen, port));
    let first = at(arguments.port.unwrap_or(USUAL_PORT)).await;
    let listener = match (first, arguments.port) {
        (Err(_), None) => at(0).await,
        (result, _) => result,
    };
    listener.map_err(|error| {
        let place = SocketAddr::new(arguments.listen, arguments.port.unwrap_or(0));
        Trouble::error(
            format!("this address cannot be served: {error}"),
            place,
            "Choose another --port, or leave it out and a free one is taken.",
        )
    })
}

/// What pages must show to write when others can reach the server.
fn token(arguments: &Arguments) -> anyhow::Result<Option<Token>> {
    if !arguments.edit || arguments.listen.is_loopback() {
        return Ok(None);
    }
    let token = Token::random().context("the system gives no random numbers for a token")?;
    Ok(Some(token))
}

/// The address to open; a server on all interfaces is opened on this machine.
/// The token stands after `#`, which a browser keeps to itself.
fn address(bound: SocketAddr, page: &str, token: Option<&Token>) -> String {
    let token = token.map_or(String::new(), |token| format!("#token={}", token.word()));
    let ip = match bound.ip() {
        ip if ip.is_unspecified() => IpAddr::V4(Ipv4Addr::LOCALHOST),
        ip => ip,
    };
    format!("http://{}/{page}{token}", SocketAddr::new(ip, bound.port()))
}

/// RFC 3986 section 2.3: everything but unreserved characters is encoded.
fn percent_encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                char::from(byte).to_string()
            }
            _ => format!("%{byte:02X}"),
        })
        .collect()
}

/// Asks the desktop to open the address; where there is none, the printed
/// address is enough.
fn open_browser(address: &str) {
    let program = if cfg!(target_os = "macos") {
        "open"
    } else if cfg!(windows) {
        "explorer"
    } else if ["DISPLAY", "WAYLAND_DISPLAY"]
        .iter()
        .any(|name| std::env::var_os(name).is_some())
    {
        "xdg-open"
    } else {
        return;
    };
    let started = Command::new(program)
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    if started.is_err() {
        eprintln!("No browser could be opened. Open the address above yourself.");
    }
}
