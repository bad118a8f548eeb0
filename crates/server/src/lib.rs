//! The local server: the viewer's files and one dossier, or a published site.
//!
//! It speaks to this machine unless told otherwise, answers only to
//! addresses that no foreign page can borrow, sends a strict policy with
//! every answer, and gives nothing but files below its two roots. It writes
//! only if told so, and then as the README of this crate says.

mod answer;
mod edit;
mod media;
mod policy;
mod range;
mod token;

pub use token::Token;

use std::borrow::Cow;
use std::future::Future;
use std::io;
use std::path::Path;
use std::sync::Arc;

use axum::Router;
use axum::extract::{Request, State};
use axum::http::Method;
use axum::middleware;
use axum::response::Response;
use edit::Editing;
use ganosis_dossier::gltf_json::percent_decoded;
use ganosis_dossier::store::{FolderStore, Store, StoreError};
use tokio::net::TcpListener;
use tower_http::compression::CompressionLayer;

/// Where the address of everything in the dossier begins.
const DOSSIER: &str = "dossier/";

/// What is served: the viewer's files at `/`, a dossier at `/dossier/`; or one
/// published folder, which has both.
pub struct Site {
    viewer: FolderStore,
    dossier: Option<Box<dyn Store>>,
    editing: Option<Editing>,
}

impl Site {
    /// A site of the viewer's files in the folder `viewer` and one dossier.
    ///
    /// # Errors
    /// [`StoreError`] if `viewer` is no folder.
    pub fn new(viewer: &Path, dossier: Box<dyn Store>) -> Result<Self, StoreError> {
        let viewer = FolderStore::open(viewer)?;
        Ok(Self {
            viewer,
            dossier: Some(dossier),
            editing: None,
        })
    }

    /// A site of the viewer's files in the folder `viewer` and the dossier in
    /// `folder`, which pages of this site may write to. With a `token` only
    /// those that send it.
    ///
    /// # Errors
    /// [`StoreError`] if either is no folder.
    pub fn editable(
        viewer: &Path,
        folder: &Path,
        token: Option<Token>,
    ) -> Result<Self, StoreError> {
        let store = FolderStore::open(folder)?;
        let mut site = Self::new(viewer, Box::new(store.clone()))?;
        site.editing = Some(Editing::new(store, token));
        Ok(site)
    }

    /// A site that was published into `folder`.
    ///
    /// # Errors
    /// [`StoreError`] if it is no folder.
    pub fn published(folder: &Path) -> Result<Self, StoreError> {
        Ok(Self {
            viewer: FolderStore::open(folder)?,
            dossier: None,
            editing: None,
        })
    }

    /// The store that answers for an address, and the path in it. The address
    /// of a folder is that of its page.
    fn store_for<'a>(&self, path: &'a str) -> (&dyn Store, Cow<'a, str>) {
        match (path.strip_prefix(DOSSIER), &self.dossier) {
            (Some(rest), Some(dossier)) => (&**dossier, rest.into()),
            _ if path.is_empty() || path.ends_with('/') => {
                (&self.viewer, format!("{path}index.html").into())
            }
            _ => (&self.viewer, path.into()),
        }
    }

    /// The policy of a page that needs one of its own: a report in a published
    /// site is styled within, and forbids itself everything else.
    fn policy_of(&self, path: &str) -> Option<&'static str> {
        let report = path.rsplit('/').next() == Some("report.html");
        (report && self.dossier.is_none()).then_some(policy::OF_REPORTS)
    }
}

/// The service, for tests and for other shells.
pub fn router(site: Site) -> Router {
    Router::new()
        .fallback(handle)
        .with_state(Arc::new(site))
        .layer(CompressionLayer::new().compress_when(media::WorthCompressing))
        .layer(middleware::from_fn(policy::apply))
}

/// Serves until `stop` is done; running answers are finished first.
///
/// # Errors
/// What the operating system says of the listener.
pub async fn serve(
    listener: TcpListener,
    site: Site,
    stop: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    axum::serve(listener, router(site))
        .with_graceful_shutdown(stop)
        .await
}

/// Files are read and written on a thread that may block.
async fn handle(State(site): State<Arc<Site>>, request: Request) -> Response {
    let (parts, body) = request.into_parts();
    if parts.method == Method::PUT {
        let path = percent_decoded(parts.uri.path());
        let path = path.strip_prefix('/').unwrap_or(&path);
        // What is not of the dossier is refused there like any other path.
        let path = path.strip_prefix(DOSSIER).unwrap_or("").to_owned();
        return edit::put(site, path, parts, body).await;
    }
    tokio::task::spawn_blocking(move || answer::answer(&site, &parts))
        .await
        .unwrap_or_else(|_| answer::failed())
}
