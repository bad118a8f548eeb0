//! From a request to an answer: RFC 9110.

use axum::body::Body;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, Method, StatusCode, header};
use axum::response::Response;
use ganosis_dossier::gltf_json::percent_decoded;
use ganosis_dossier::store::{Store, StoreError};

use crate::Site;
use crate::edit;
use crate::media::{is_compressed_on_the_way, media_type};
use crate::policy::text;
use crate::range::{Wanted, wanted};

/// Answers one request.
pub(crate) fn answer(site: &Site, request: &Parts) -> Response {
    if request.method != Method::GET && request.method != Method::HEAD {
        let mut refused = text(
            StatusCode::METHOD_NOT_ALLOWED,
            "This server gives files, and takes them by PUT if it was told to.",
        );
        let allowed = edit::allowed(site.editing.as_ref());
        let allowed = header::HeaderValue::from_static(allowed);
        refused.headers_mut().insert(header::ALLOW, allowed);
        return refused;
    }
    let path = percent_decoded(request.uri.path());
    let path = path.strip_prefix('/').unwrap_or(&path);
    if edit::is_about(path) {
        return edit::about(site.editing.as_ref(), &request.headers);
    }
    let (store, path) = site.store_for(path);
    // What begins with a dot is not for readers: version control, temporary files.
    let hidden = path
        .split('/')
        .any(|part| part.starts_with('.') && part != "..");
    let result = if hidden {
        Err(StoreError::NotFound {
            path: path.clone().into_owned(),
        })
    } else {
        file(store, &path, request)
    };
    let mut response = result.unwrap_or_else(|error| refusal(&error));
    if let Some(policy) = site.policy_of(&path) {
        let policy = header::HeaderValue::from_static(policy);
        response
            .headers_mut()
            .insert(header::CONTENT_SECURITY_POLICY, policy);
    }
    response
}

/// The answer when the thread that should answer broke off.
pub(crate) fn failed() -> Response {
    text(
        StatusCode::INTERNAL_SERVER_ERROR,
        "The file could not be read. Try again.",
    )
}

fn refusal(error: &StoreError) -> Response {
    let status = match error {
        StoreError::BadPath { .. } => StatusCode::BAD_REQUEST,
        StoreError::NotFound { .. } => StatusCode::NOT_FOUND,
        StoreError::Refused { .. } => StatusCode::FORBIDDEN,
        StoreError::Unreadable { .. } => StatusCode::INTERNAL_SERVER_ERROR,
    };
    text(status, &error.to_string())
}

fn file(store: &dyn Store, path: &str, request: &Parts) -> Result<Response, StoreError> {
    let size = store.size(path)?;
    // Section 8.8.3.3: the compressed and the plain form of a file need
    // different strong tags; what may be compressed gets a weak one.
    let weak = if is_compressed_on_the_way(path) {
        "W/"
    } else {
        ""
    };
    let tag = format!("{weak}\"{}\"", store.stamp(path)?);
    let head = Head {
        tag: &tag,
        media_type: media_type(path),
        lasting: is_named_by_content(path),
    };
    let headers = &request.headers;
    if let Some(tags) = value(headers, header::IF_NONE_MATCH)
        && names_tag(tags, &tag)
    {
        return Ok(head.respond(StatusCode::NOT_MODIFIED, &[], Body::empty()));
    }
    let range = match value(headers, header::RANGE) {
        // Section 14.2: a range is for GET alone.
        Some(range) if request.method == Method::GET && may_be_part(headers, &tag) => {
            wanted(range, size)
        }
        _ => Wanted::Whole,
    };
    Ok(match range {
        Wanted::Unsatisfiable => {
            let mut refused = text(
                StatusCode::RANGE_NOT_SATISFIABLE,
                "The range lies beyond the end of the file.",
            );
            if let Ok(content_range) = format!("bytes */{size}").parse() {
                refused
                    .headers_mut()
                    .insert(header::CONTENT_RANGE, content_range);
            }
            refused
        }
        Wanted::Part { first, last } => {
            let bytes = store.read_range(path, first, last - first + 1)?;
            let range = (
                header::CONTENT_RANGE,
                format!("bytes {first}-{last}/{size}"),
            );
            head.respond(StatusCode::PARTIAL_CONTENT, &[range], bytes.into())
        }
        Wanted::Whole if request.method == Method::HEAD => {
            let length = (header::CONTENT_LENGTH, size.to_string());
            head.respond(StatusCode::OK, &[length], Body::empty())
        }
        Wanted::Whole => head.respond(StatusCode::OK, &[], store.read(path)?.into()),
    })
}

/// Always asked for again, answered with 304 where nothing changed.
const AGAIN: &str = "no-cache";
/// A year, the longest that is usual, and never asked for again meanwhile (RFC 8246).
const FOR_EVER: &str = "public, max-age=31536000, immutable";

/// Whether a file is named by the hash of its content, as tiles are: `…/ab/abcdef0123456789.webp`.
fn is_named_by_content(path: &str) -> bool {
    let mut steps = path.rsplit('/');
    let (Some(file), Some(folder)) = (steps.next(), steps.next()) else {
        return false;
    };
    let name = file.split('.').next().unwrap_or_default();
    folder.len() == 2
        && name.len() == 16
        && name.starts_with(folder)
        && name.bytes().all(|b| b.is_ascii_hexdigit())
}

/// What every answer about a file says of it.
struct Head<'a> {
    tag: &'a str,
    media_type: &'a str,
    /// The name never gets another content.
    lasting: bool,
}

impl Head<'_> {
    fn respond(&self, status: StatusCode, more: &[(HeaderName, String)], body: Body) -> Response {
        let mut builder = Response::builder()
            .status(status)
            .header(header::CONTENT_TYPE, self.media_type)
            .header(header::ETAG, self.tag)
            .header(header::ACCEPT_RANGES, "bytes")
            .header(
                header::CACHE_CONTROL,
                if self.lasting { FOR_EVER } else { AGAIN },
            );
        for (name, value) in more {
            builder = builder.header(name, value);
        }
        builder.body(body).unwrap_or_else(|_| failed())
    }
}

fn value(headers: &HeaderMap, name: HeaderName) -> Option<&str> {
    headers.get(name)?.to_str().ok()
}

/// Section 13.1.2: `*` or a list of tags, by weak comparison.
fn names_tag(tags: &str, tag: &str) -> bool {
    let plain = |tag: &str| tag.trim().trim_start_matches("W/").to_owned();
    tags.trim() == "*" || tags.split(',').any(|one| plain(one) == plain(tag))
}

/// Section 13.1.5: with `If-Range` a part is given only if the tag is the
/// same by strong comparison; a date never is, since no dates are sent.
fn may_be_part(headers: &HeaderMap, tag: &str) -> bool {
    match headers.get(header::IF_RANGE) {
        None => true,
        Some(condition) => !tag.starts_with("W/") && condition.as_bytes() == tag.as_bytes(),
    }
}
