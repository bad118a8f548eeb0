//! JSON Pointers (RFC 6901).

/// The parts of a pointer, unescaped (section 4); `None` if it is none.
pub(super) fn parts(pointer: &str) -> Option<Vec<String>> {
    if pointer.is_empty() {
        return Some(Vec::new());
    }
    let parts = pointer.strip_prefix('/')?.split('/');
    parts.map(unescaped).collect()
}

/// `~1` is a slash, `~0` a tilde; a tilde alone is an error (section 3).
fn unescaped(part: &str) -> Option<String> {
    let mut rest = part;
    let mut text = String::with_capacity(part.len());
    while let Some(at) = rest.find('~') {
        text.push_str(&rest[..at]);
        text.push(match rest.as_bytes().get(at + 1)? {
            b'0' => '~',
            b'1' => '/',
            _ => return None,
        });
        rest = &rest[at + 2..];
    }
    text.push_str(rest);
    Some(text)
}

/// A place in a list: digits without a leading zero (section 4).
pub(super) fn index(part: &str) -> Option<usize> {
    let plain = part.bytes().all(|b| b.is_ascii_digit()) && (part == "0" || !part.starts_with('0'));
    if plain { part.parse().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 6901, section 5.
    #[test]
    fn the_examples_of_the_standard_are_read() {
        let cases: [(&str, &[&str]); 8] = [
            ("", &[]),
            ("/foo", &["foo"]),
            ("/foo/0", &["foo", "0"]),
            ("/", &[""]),
            ("/a~1b", &["a/b"]),
            ("/c%d", &["c%d"]),
            ("/m~0n", &["m~n"]),
            ("/~01", &["~1"]),
        ];
        for (pointer, wanted) in cases {
            let wanted: Vec<String> = wanted.iter().map(|part| (*part).to_owned()).collect();
            assert_eq!(parts(pointer), Some(wanted), "{pointer}");
        }
        for wrong in ["foo", "/~", "/~2", "/a~"] {
            assert_eq!(parts(wrong), None, "{wrong}");
        }
        assert_eq!((index("0"), index("10")), (Some(0), Some(10)));
        assert_eq!((index("01"), index("-"), index("")), (None, None, None));
    }
}
