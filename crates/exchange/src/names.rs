//! Names of annotations from ids, and ids from names.

use ganosis_dossier::Dossier;
#[cfg(feature = "files")]
use ganosis_dossier::Text;
use ganosis_dossier::document::Pin;
use ganosis_dossier::gltf_json::percent_decoded;
use sha2::{Digest, Sha256};

use crate::FROM;

/// What an annotation of ours is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Pin,
    Evidence,
    Collection,
    Page,
}

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Self::Pin => "pin",
            Self::Evidence => "evidence",
            Self::Collection => "annotations",
            Self::Page => "page",
        }
    }
}

/// The same name for the same thing, always: a UUID of version 8 made from
/// SHA-256 of dossier, kind and id (RFC 9562, sections 5.8 and B.2).
pub(crate) fn name_of(dossier: &str, kind: Kind, id: &str) -> String {
    let mut hash = Sha256::new();
    for part in ["ganosis", dossier, kind.word(), id] {
        hash.update(part.as_bytes());
        // A byte that no UTF-8 text has keeps the parts apart.
        hash.update([0xff]);
    }
    let mut bytes: [u8; 16] = first(&hash.finalize());
    bytes[6] = 0x80 | (bytes[6] & 0x0f);
    bytes[8] = 0x80 | (bytes[8] & 0x3f);
    let hex = hex(&bytes);
    format!(
        "urn:uuid:{}-{}-{}-{}-{}",
        &hex[..8],
        &hex[8..12],
        &hex[12..16],
        &hex[16..20],
        &hex[20..]
    )
}

/// The annotation that a pin is: where it came from, or one of ours.
pub(crate) fn name_of_pin(document: &Dossier, pin: &Pin) -> String {
    let from = pin
        .other
        .get(FROM)
        .and_then(|from| from.get("id")?.as_str());
    from.map_or_else(|| name_of(&document.id, Kind::Pin, &pin.id), str::to_owned)
}

/// The id of a pin that is made from an annotation: the same each time it is read.
pub(crate) fn pin_of(name: &str) -> String {
    let bytes: [u8; 8] = first(&Sha256::digest(name.as_bytes()));
    format!("note-{}", hex(&bytes))
}

fn first<const N: usize>(hash: &[u8]) -> [u8; N] {
    std::array::from_fn(|i| hash.get(i).copied().unwrap_or(0))
}

/// Bytes in hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A text in a language, or the id of what has none.
#[cfg(feature = "files")]
pub(crate) fn titled<'a>(text: &'a Text, id: &'a str, language: &str) -> &'a str {
    let text = text.get(language);
    if text.is_empty() { id } else { text }
}

/// A path as a relative address: RFC 3986 section 3.3.
pub(crate) fn address_of(path: &str) -> String {
    encoded(path, b"-._~/!$&'()*+,;=@")
}

/// Bytes that are neither alphanumeric nor in `kept`, percent-encoded.
pub(crate) fn encoded(text: &str, kept: &[u8]) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || kept.contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// Splits an address into what is before `#`, without the query, and after.
pub(crate) fn split(address: &str) -> (&str, Option<&str>) {
    let (before, fragment) = match address.split_once('#') {
        Some((before, fragment)) => (before, Some(fragment)),
        None => (address, None),
    };
    (before.split('?').next().unwrap_or(before), fragment)
}

/// True if an address, relative or not, is that of a file of the dossier.
pub(crate) fn is_of(address: &str, file: &str) -> bool {
    let path = percent_decoded(split(address).0);
    let path = path.trim_start_matches("./");
    path == file
        || path
            .strip_suffix(file)
            .is_some_and(|rest| rest.ends_with('/'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_and_differ() {
        let name = name_of("boss", Kind::Pin, "p1");
        assert_eq!(name, name_of("boss", Kind::Pin, "p1"));
        // RFC 9562 section 4: version in the 13th digit, variant in the 17th.
        assert_eq!((name.len(), &name[23..24]), (45, "8"));
        assert!("89ab".contains(&name[28..29]), "{name}");
        for other in [
            name_of("boss", Kind::Evidence, "p1"),
            name_of("boss", Kind::Pin, "p2"),
            name_of("bossp", Kind::Pin, "1"),
        ] {
            assert_ne!(name, other);
        }
        assert_eq!(pin_of("http://example.org/1").len(), 21);
    }

    #[test]
    fn addresses_are_compared_as_paths() {
        assert_eq!(address_of("a b/ü.csv"), "a%20b/%C3%BC.csv");
        for address in [
            "s/boss.glb",
            "./s/boss.glb",
            "http://h/x/s/boss.glb?v=1#t",
            "s/bos%73.glb",
        ] {
            assert!(is_of(address, "s/boss.glb"), "{address}");
        }
        for address in ["boss.glb", "xs/boss.glb", "http://h/s/boss.glb/x", ""] {
            assert!(!is_of(address, "s/boss.glb"), "{address}");
        }
    }
}
