//! The outer form: a GLB's chunks, or bare JSON (glTF 2.0 section 4).

use crate::SurfaceError;

/// JSON text and the binary chunk of a GLB.
pub(super) struct Container<'a> {
    pub(super) json: &'a [u8],
    pub(super) bin: Option<&'a [u8]>,
}

const JSON_CHUNK: &[u8] = b"JSON";
const BIN_CHUNK: &[u8] = b"BIN\0";

pub(super) fn split(bytes: &[u8]) -> Result<Container<'_>, SurfaceError> {
    if bytes.starts_with(b"glTF") {
        return split_glb(bytes);
    }
    // A byte order mark is not allowed, but harmless.
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match text.iter().find(|b| !b.is_ascii_whitespace()) {
        Some(b'{') => Ok(Container {
            json: text,
            bin: None,
        }),
        Some(_) => Err(SurfaceError::container(
            "the first bytes",
            "they are neither the mark of a .glb nor JSON text",
        )),
        None => Err(SurfaceError::container("the file", "it is empty")),
    }
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    let four = bytes.get(at..at.checked_add(4)?)?;
    Some(u32::from_le_bytes([four[0], four[1], four[2], four[3]]))
}

fn split_glb(bytes: &[u8]) -> Result<Container<'_>, SurfaceError> {
    let fail = |problem: String| SurfaceError::container("the GLB header", problem);
    let (Some(version), Some(length)) = (word(bytes, 4), word(bytes, 8)) else {
        return Err(fail(format!(
            "the file ends after {} of 12 bytes",
            bytes.len()
        )));
    };
    if version != 2 {
        return Err(fail(format!(
            "it says version {version}; only version 2 is supported"
        )));
    }
    let length = length as usize;
    if length < 12 || length > bytes.len() {
        return Err(fail(format!(
            "it says the file has {length} bytes, and {} are there (cut off?)",
            bytes.len()
        )));
    }
    let mut rest = &bytes[12..length];
    let mut chunks = Vec::new();
    while rest.len() >= 8 && chunks.len() < 2 {
        let size = word(rest, 0).unwrap_or_default() as usize;
        let Some(body) = size.checked_add(8).and_then(|end| rest.get(8..end)) else {
            return Err(SurfaceError::container(
                format!("GLB chunk {}", chunks.len()),
                format!("it says {size} bytes, and {} are left", rest.len() - 8),
            ));
        };
        chunks.push((&rest[4..8], body));
        rest = &rest[8 + size..];
    }
    match chunks.first() {
        Some((kind, json)) if *kind == JSON_CHUNK => {
            let bin = chunks.get(1).filter(|c| c.0 == BIN_CHUNK).map(|c| c.1);
            Ok(Container { json, bin })
        }
        _ => Err(SurfaceError::container(
            "GLB chunk 0",
            "it is not the JSON chunk",
        )),
    }
}
