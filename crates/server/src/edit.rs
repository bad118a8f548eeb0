//! Writing to the dossier; see the README of this crate for the interface.

mod kinds;

use axum::body::{Body, to_bytes};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use ganosis_dossier::check::new_errors;
use ganosis_dossier::document::FILE_NAME;
use ganosis_dossier::store::{FolderStore, Store, StoreError};
use ganosis_dossier::write::{
    Put, WriteError, clear_leftovers, expect_writable, put_file, save_keeping_previous,
};
use ganosis_dossier::{Dossier, Finding, document_from_bytes};
use serde_json::{Value, json};

use crate::token::Token;
use kinds::{expect_extension, expect_kind, extensions};

/// Most bytes of a document. 50,000 observations of 500 bytes are 25 MB.
const LARGEST_DOCUMENT_BYTES: usize = 64 << 20;

/// Most bytes of another file; it is held in memory while it is written. A
/// choice of ours, above any attachment or label image one edits by hand.
const LARGEST_FILE_BYTES: usize = 256 << 20;

/// Where the address of an attachment or label image begins.
const FILES: &str = "files/";

/// What the page asks for to learn whether it may write.
const ABOUT: &str = "edit";

/// A dossier that may be written to.
pub(crate) struct Editing {
    store: FolderStore,
    token: Option<Token>,
}

impl Editing {
    pub(crate) fn new(store: FolderStore, token: Option<Token>) -> Self {
        clear_leftovers(store.root());
        Self { store, token }
    }

    fn token_accepted(&self, headers: &HeaderMap) -> bool {
        let Some(token) = &self.token else {
            return true;
        };
        let header = headers.get(header::AUTHORIZATION);
        header
            .and_then(|value| value.to_str().ok())
            .is_some_and(|value| token.is_in(value))
    }

    fn document(&self) -> Result<Dossier, Refusal> {
        let reading = document_from_bytes(&self.store.read(FILE_NAME)?)
            .map_err(|error| Refusal::new(StatusCode::CONFLICT, error.to_string()))?;
        if reading.findings.is_empty() {
            return Ok(reading.document);
        }
        // What could not be read is not in what the page has, and would be lost.
        let text = format!(
            "{FILE_NAME} on the disk has values of the wrong type, which saving would lose. Correct them with an editor for text, and load the dossier again."
        );
        Err(Refusal::new(StatusCode::CONFLICT, text).with("findings", json!(reading.findings)))
    }
}

/// Why something was not written; nothing has changed then.
struct Refusal {
    status: StatusCode,
    body: Value,
}

impl Refusal {
    fn new(status: StatusCode, error: impl Into<String>) -> Self {
        let error: String = error.into();
        let body = json!({"error": error});
        Self { status, body }
    }

    fn with(mut self, name: &str, value: Value) -> Self {
        self.body[name] = value;
        self
    }

    fn findings(findings: &[Finding]) -> Self {
        let text = "The document is not saved, because it would have errors that it did not have. Correct what the findings say and save again.";
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, text).with("findings", json!(findings))
    }

    fn revision(found: u64) -> Self {
        let text = format!(
            "The dossier was saved by somebody else meanwhile and is at revision {found}. Load it again and repeat the changes."
        );
        Self::new(StatusCode::PRECONDITION_FAILED, text).with("revision", found.into())
    }
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        let status = match &error {
            StoreError::BadPath { .. } => StatusCode::BAD_REQUEST,
            StoreError::NotFound { .. } => StatusCode::NOT_FOUND,
            StoreError::Refused { .. } => StatusCode::FORBIDDEN,
            StoreError::Unreadable { .. } => StatusCode::INTERNAL_SERVER_ERROR,
        };
        Self::new(status, error.to_string())
    }
}

impl From<WriteError> for Refusal {
    fn from(error: WriteError) -> Self {
        let text = error.to_string();
        match error {
            WriteError::Revision { found, .. } => Self::revision(found),
            WriteError::Path(error) => error.into(),
            WriteError::Taken { free, .. } => {
                Self::new(StatusCode::CONFLICT, text).with("free", free.into())
            }
            WriteError::Incomplete { .. } => Self::new(StatusCode::UNPROCESSABLE_ENTITY, text),
            WriteError::Existing(_) => Self::new(StatusCode::CONFLICT, text),
            WriteError::Io { .. } => Self::new(StatusCode::INTERNAL_SERVER_ERROR, text),
        }
    }
}

/// `GET edit`: whether and how this dossier may be written to.
pub(crate) fn about(editing: Option<&Editing>, headers: &HeaderMap) -> Response {
    let body = match editing {
        None => json!({
            "editable": false,
            "why": "The dossier was opened to be looked at. Start it again with: ganosis open PATH --edit",
        }),
        Some(editing) => match editing.document() {
            Err(refusal) => json!({
                "editable": false,
                "why": refusal.body["error"],
                "findings": refusal.body["findings"],
            }),
            Ok(document) => json!({
                "editable": true,
                "revision": document.revision,
                "token_needed": editing.token.is_some(),
                "token_accepted": editing.token_accepted(headers),
                "largest_document_bytes": LARGEST_DOCUMENT_BYTES,
                "largest_file_bytes": LARGEST_FILE_BYTES,
                "file_types": extensions(),
            }),
        },
    };
    answer(StatusCode::OK, &body)
}

/// `PUT`: writes the document or a file. `path` is below the dossier.
pub(crate) async fn put(
    site: std::sync::Arc<crate::Site>,
    path: String,
    parts: Parts,
    body: Body,
) -> Response {
    let result = async {
        let editing = site.editing.as_ref();
        let work = admit(editing, &path, &parts)?;
        let largest = match work {
            Work::Document { .. } => LARGEST_DOCUMENT_BYTES,
            Work::File { .. } => LARGEST_FILE_BYTES,
        };
        let bytes = bytes_of(&parts.headers, body, largest).await?;
        tokio::task::spawn_blocking(move || {
            let Some(editing) = site.editing.as_ref() else {
                return Err(not_editable());
            };
            match work {
                Work::Document { revision } => save(editing, revision, &bytes),
                Work::File { path } => add(editing, &path, &bytes),
            }
        })
        .await
        .unwrap_or_else(|_| {
            let text = "It could not be written. Try again.";
            Err(Refusal::new(StatusCode::INTERNAL_SERVER_ERROR, text))
        })
    };
    let mut response = match result.await {
        Ok((status, body)) => answer(status, &body),
        Err(refusal) => answer(refusal.status, &refusal.body),
    };
    if response.status() == StatusCode::UNAUTHORIZED {
        let bearer = HeaderValue::from_static("Bearer");
        response
            .headers_mut()
            .insert(header::WWW_AUTHENTICATE, bearer);
    }
    response
}

enum Work {
    Document { revision: u64 },
    File { path: String },
}

/// Everything that can be said before the body is read.
fn admit(editing: Option<&Editing>, path: &str, parts: &Parts) -> Result<Work, Refusal> {
    let headers = &parts.headers;
    expect_own_page(headers)?;
    let Some(editing) = editing else {
        return Err(not_editable());
    };
    if !editing.token_accepted(headers) {
        let text = "Writing needs the token that was printed when the server was started.";
        return Err(Refusal::new(StatusCode::UNAUTHORIZED, text));
    }
    if path == FILE_NAME {
        let revision = revision_of(headers)?;
        return Ok(Work::Document { revision });
    }
    let Some(path) = path.strip_prefix(FILES) else {
        let text = format!("Only {FILE_NAME} and {FILES}… can be written.");
        return Err(Refusal::new(StatusCode::NOT_FOUND, text));
    };
    expect_writable(path)?;
    expect_extension(path).map_err(other_kind)?;
    let path = path.to_owned();
    Ok(Work::File { path })
}

fn other_kind(text: String) -> Refusal {
    Refusal::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, text)
}

fn not_editable() -> Refusal {
    let text = "The dossier was opened to be looked at, so nothing is written. Start it again with: ganosis open PATH --edit";
    Refusal::new(StatusCode::FORBIDDEN, text)
}

/// A page of another site must not write, whatever the browser lets through.
/// Browsers send `Origin` with every PUT (Fetch Standard, "append a request
/// `Origin` header"); a program that is no browser sends neither.
fn expect_own_page(headers: &HeaderMap) -> Result<(), Refusal> {
    let text = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or(""));
    let host = text(header::HOST).unwrap_or("");
    let foreign_origin =
        text(header::ORIGIN).is_some_and(|origin| origin != format!("http://{host}"));
    // Fetch Metadata Request Headers (W3C), section 2.3.
    let site = text(HeaderName::from_static("sec-fetch-site"));
    let foreign_site = site.is_some_and(|site| site != "same-origin" && site != "none");
    if foreign_origin || foreign_site {
        let text = "Only the page that this server gave may write.";
        return Err(Refusal::new(StatusCode::FORBIDDEN, text));
    }
    Ok(())
}

/// `If-Match: "7"` (RFC 9110 section 13.1.1).
fn revision_of(headers: &HeaderMap) -> Result<u64, Refusal> {
    let Some(value) = headers.get(header::IF_MATCH) else {
        // RFC 6585 section 3.
        let text = "Saving needs the header If-Match with the revision that was changed, such as \"7\" in quotes.";
        return Err(Refusal::new(StatusCode::PRECONDITION_REQUIRED, text));
    };
    let revision = value.to_str().ok().and_then(|text| {
        let number = text.trim().strip_prefix('"')?.strip_suffix('"')?;
        let digits = !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| number.parse().ok()).flatten()
    });
    revision.ok_or_else(|| {
        let text = "The header If-Match is no revision in quotes, such as \"7\".";
        Refusal::new(StatusCode::BAD_REQUEST, text)
    })
}

async fn bytes_of(
    headers: &HeaderMap,
    body: Body,
    largest: usize,
) -> Result<axum::body::Bytes, Refusal> {
    let too_large = || {
        let text = format!("It is larger than {} MiB. Make it smaller.", largest >> 20);
        Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, text)
    };
    let stated = headers
        .get(header::CONTENT_LENGTH)
        .and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
    if stated.is_some_and(|stated| stated > largest as u64) {
        return Err(too_large());
    }
    to_bytes(body, largest).await.map_err(|error| {
        use std::error::Error;
        // The limit is told by the source of the error; else the sender went away.
        let limit = error
            .source()
            .is_some_and(|source| source.to_string().contains("length limit"));
        if limit {
            too_large()
        } else {
            Refusal::new(
                StatusCode::BAD_REQUEST,
                "It did not arrive whole. Send it again.",
            )
        }
    })
}

fn save(editing: &Editing, revision: u64, bytes: &[u8]) -> Result<(StatusCode, Value), Refusal> {
    let before = editing.document()?;
    if before.revision != revision {
        return Err(Refusal::revision(before.revision));
    }
    let reading = document_from_bytes(bytes).map_err(|error| {
        Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, error.to_string())
            .with("findings", json!([]))
    })?;
    if !reading.findings.is_empty() {
        return Err(Refusal::findings(&reading.findings));
    }
    let mut document = reading.document;
    let errors = new_errors(&before, &document, &editing.store);
    if !errors.is_empty() {
        return Err(Refusal::findings(&errors));
    }
    // The revision is looked at again under the lock that holds until the end.
    document.revision = revision;
    let revision = save_keeping_previous(editing.store.root(), &document)?;
    Ok((StatusCode::OK, json!({"revision": revision})))
}

fn add(editing: &Editing, path: &str, bytes: &[u8]) -> Result<(StatusCode, Value), Refusal> {
    expect_kind(path, bytes).map_err(other_kind)?;
    let status = match put_file(editing.store.root(), path, bytes)? {
        Put::Written => StatusCode::CREATED,
        Put::Same => StatusCode::OK,
    };
    Ok((status, json!({"file": path})))
}

/// The answer to a method that is neither reading nor writing.
pub(crate) fn allowed(editing: Option<&Editing>) -> &'static str {
    match editing {
        None => "GET, HEAD",
        Some(_) => "GET, HEAD, PUT",
    }
}

/// True if a path of the site is that of [`about`].
pub(crate) fn is_about(path: &str) -> bool {
    path.strip_prefix(crate::DOSSIER) == Some(ABOUT)
}

fn answer(status: StatusCode, body: &Value) -> Response {
    let headers = [
        (header::CONTENT_TYPE, "application/json"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    (status, headers, format!("{body}\n")).into_response()
}
