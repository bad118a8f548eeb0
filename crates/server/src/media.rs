//! Media types by file name, and which of them are worth compressing.

use axum::http::{Response, header};
use tower_http::compression::Predicate;

/// Extension, media type (IANA registry; text is UTF-8 throughout), and
/// whether compressing pays: images and archives are packed already.
const TYPES: &[(&str, &str, bool)] = &[
    ("html", "text/html; charset=utf-8", true),
    ("js", "text/javascript; charset=utf-8", true), // RFC 9239
    ("mjs", "text/javascript; charset=utf-8", true),
    ("css", "text/css; charset=utf-8", true),
    ("json", "application/json", true),
    ("map", "application/json", true),
    ("webmanifest", "application/manifest+json", true),
    ("wasm", "application/wasm", true),
    ("ftl", "text/plain; charset=utf-8", true),
    ("txt", "text/plain; charset=utf-8", true),
    ("md", "text/markdown; charset=utf-8", true), // RFC 7763
    ("csv", "text/csv; charset=utf-8", true),     // RFC 4180
    ("vtt", "text/vtt; charset=utf-8", true),
    ("svg", "image/svg+xml", true),
    ("xml", "application/xml", true),
    ("glb", "model/gltf-binary", true),
    ("gltf", "model/gltf+json", true),
    ("bin", "application/octet-stream", true),
    ("png", "image/png", false),
    ("jpg", "image/jpeg", false),
    ("jpeg", "image/jpeg", false),
    ("webp", "image/webp", false), // RFC 9649
    ("avif", "image/avif", false),
    ("tif", "image/tiff", false),
    ("tiff", "image/tiff", false),
    ("ktx2", "image/ktx2", false),
    ("ico", "image/vnd.microsoft.icon", false),
    ("woff2", "font/woff2", false), // RFC 8081
    ("pdf", "application/pdf", false),
    ("zip", "application/zip", false),
    ("mp3", "audio/mpeg", false),
    ("ogg", "audio/ogg", false),
    ("mp4", "video/mp4", false),
];

fn entry(path: &str) -> Option<&'static (&'static str, &'static str, bool)> {
    let (_, extension) = path.rsplit_once('.')?;
    TYPES
        .iter()
        .find(|(known, ..)| extension.eq_ignore_ascii_case(known))
}

/// Media type of a file; `application/octet-stream` for what is not listed.
pub(crate) fn media_type(path: &str) -> &'static str {
    entry(path).map_or("application/octet-stream", |(_, media_type, _)| media_type)
}

/// True if answers with this file may be compressed on the way.
pub(crate) fn is_compressed_on_the_way(path: &str) -> bool {
    entry(path).is_some_and(|(.., pays)| *pays)
}

/// Compresses what pays by its type.
#[derive(Clone, Copy)]
pub(crate) struct WorthCompressing;

impl Predicate for WorthCompressing {
    fn should_compress<B>(&self, response: &Response<B>) -> bool {
        let media_type = response.headers().get(header::CONTENT_TYPE);
        // A part of a file is a part of its uncompressed bytes.
        !response.headers().contains_key(header::CONTENT_RANGE)
            && TYPES
                .iter()
                .any(|(_, known, pays)| *pays && media_type.is_some_and(|t| t == known))
    }
}
