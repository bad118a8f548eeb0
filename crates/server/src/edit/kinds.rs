//! Kinds of file that may be added: known by name, and the content must be of it.

/// How content shows its kind.
#[derive(Clone, Copy)]
enum Sign {
    /// The first bytes, one of several.
    Start(&'static [&'static [u8]]),
    /// Bytes at a place.
    At(usize, &'static [u8]),
    /// UTF-8 without NUL.
    Text,
}

/// Extension and sign. What a browser would run (HTML, SVG, scripts) is not
/// among them. PNG (third edition) section 5.2; JPEG, ITU-T T.81 section
/// B.1.1.3; RFC 9649 section 2.4; TIFF 6.0 section 2; ISO 32000-1 section 7.5.2.
const KINDS: &[(&str, Sign)] = &[
    ("png", Sign::Start(&[b"\x89PNG\r\n\x1a\n"])),
    ("jpg", Sign::Start(&[b"\xff\xd8\xff"])),
    ("jpeg", Sign::Start(&[b"\xff\xd8\xff"])),
    ("webp", Sign::At(8, b"WEBP")),
    ("tif", Sign::Start(&[b"II*\0", b"MM\0*"])),
    ("tiff", Sign::Start(&[b"II*\0", b"MM\0*"])),
    ("pdf", Sign::Start(&[b"%PDF-"])),
    ("csv", Sign::Text),
    ("json", Sign::Text),
    ("txt", Sign::Text),
    ("md", Sign::Text),
];

/// The extensions that are taken.
pub(super) fn extensions() -> Vec<&'static str> {
    KINDS.iter().map(|(extension, _)| *extension).collect()
}

/// Looks at the name alone; the error is a sentence for people.
pub(super) fn expect_extension(path: &str) -> Result<(), String> {
    match kind(path) {
        Some(_) => Ok(()),
        None => Err(format!(
            "{path} is of no kind that is taken. Save it as one of: {}.",
            extensions().join(", ")
        )),
    }
}

fn kind(path: &str) -> Option<(&'static str, Sign)> {
    let (_, extension) = path.rsplit_once('.')?;
    KINDS
        .iter()
        .copied()
        .find(|(known, _)| extension.eq_ignore_ascii_case(known))
}

/// Compares content with the name; the error is a sentence for people.
pub(super) fn expect_kind(path: &str, bytes: &[u8]) -> Result<(), String> {
    let Some((extension, sign)) = kind(path) else {
        return expect_extension(path);
    };
    let fits = match sign {
        Sign::Start(starts) => starts.iter().any(|start| bytes.starts_with(start)),
        Sign::At(at, what) => bytes.get(at..at + what.len()) == Some(what),
        Sign::Text => !bytes.contains(&0) && std::str::from_utf8(bytes).is_ok(),
    };
    if fits {
        return Ok(());
    }
    let what = match sign {
        Sign::Text => "text in UTF-8".to_owned(),
        _ => format!("a {extension} file"),
    };
    Err(format!(
        "The content of {path} is not {what}. Save it again, or correct the end of its name."
    ))
}

#[cfg(test)]
mod tests {
    use super::expect_kind;

    #[test]
    fn name_and_content_must_agree() {
        for (path, bytes) in [
            ("a.png", &b"\x89PNG\r\n\x1a\n..."[..]),
            ("a.JPG", b"\xff\xd8\xff\xe0"),
            ("a.webp", b"RIFF\0\0\0\0WEBPVP8 "),
            ("a.csv", "wavelength_nm,µ\n".as_bytes()),
            ("a.csv", b""),
        ] {
            expect_kind(path, bytes).unwrap();
        }
        for (path, bytes) in [
            ("a.png", &b"<script>"[..]),
            ("a.webp", b"RIFF"),
            ("a.csv", b"a\0b"),
            ("a.txt", b"\xff\xfe"),
            ("a.html", b"<p>"),
            ("a.svg", b"<svg/>"),
            ("a", b"x"),
            ("png", b"\x89PNG\r\n\x1a\n"),
        ] {
            assert!(expect_kind(path, bytes).is_err(), "{path}");
        }
    }
}
