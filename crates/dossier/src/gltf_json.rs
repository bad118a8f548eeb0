//! The JSON of a glTF file, for names and addresses only; the surface itself
//! is read elsewhere.

use serde_json::Value;

/// The JSON of a `.gltf`, or of the first chunk of a `.glb` (glTF 2.0 section
/// 4.4); `None` if it is neither.
#[must_use]
pub fn json_of(bytes: &[u8]) -> Option<Value> {
    let json = match bytes.strip_prefix(b"glTF") {
        None => bytes,
        Some(rest) => {
            // After the magic: version, length, then chunk length and chunk type.
            let length = u32::from_le_bytes(rest.get(8..12)?.try_into().ok()?);
            if rest.get(12..16)? != b"JSON" {
                return None;
            }
            rest.get(16..16 + usize::try_from(length).ok()?)?
        }
    };
    let json = json.strip_prefix(b"\xef\xbb\xbf").unwrap_or(json);
    let value: Value = serde_json::from_slice(json).ok()?;
    value.get("asset").is_some().then_some(value)
}

/// Names of all entries of a list such as `materials` or `nodes`.
pub fn names<'a>(gltf: &'a Value, list: &str) -> impl Iterator<Item = &'a str> {
    entries(gltf, list).filter_map(|entry| entry.get("name")?.as_str())
}

/// Relative addresses of outside files that the glTF names, decoded.
pub fn outside_files(gltf: &Value) -> impl Iterator<Item = String> {
    entries(gltf, "buffers")
        .chain(entries(gltf, "images"))
        .filter_map(|entry| entry.get("uri")?.as_str())
        .filter(|uri| !uri.starts_with("data:"))
        .map(percent_decoded)
}

fn entries<'a>(gltf: &'a Value, list: &str) -> impl Iterator<Item = &'a Value> {
    gltf.get(list)
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
}

/// RFC 3986 section 2.1. A `%` that starts no valid triplet stays; bytes that
/// are not UTF-8 become U+FFFD.
#[must_use]
pub fn percent_decoded(text: &str) -> String {
    let mut out = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((&byte, after)) = rest.split_first() {
        let code = after
            .get(..2)
            .filter(|_| byte == b'%')
            .and_then(|two| std::str::from_utf8(two).ok())
            .filter(|two| two.bytes().all(|b| b.is_ascii_hexdigit()))
            .and_then(|two| u8::from_str_radix(two, 16).ok());
        if let Some(code) = code {
            out.push(code);
            rest = &after[2..];
        } else {
            out.push(byte);
            rest = after;
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}
