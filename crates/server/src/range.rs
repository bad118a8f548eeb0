//! Byte ranges: RFC 9110 section 14.

/// What a `Range` header asks of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wanted {
    /// The whole file: no range, one we do not understand, or several at once
    /// (section 14.2 lets a server ignore the header).
    Whole,
    /// Bytes from `first` to `last`, both included.
    Part {
        /// First byte, from 0.
        first: u64,
        /// Last byte.
        last: u64,
    },
    /// Beyond the end of the file (section 15.5.17).
    Unsatisfiable,
}

/// Reads a `Range` header for a file of `size` bytes.
pub(crate) fn wanted(header: &str, size: u64) -> Wanted {
    let Some((unit, set)) = header.split_once('=') else {
        return Wanted::Whole;
    };
    let Some((from, to)) = set.trim().split_once('-') else {
        return Wanted::Whole;
    };
    let number = |text: &str| {
        let plain = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        // A number too large for 64 bits is beyond any file.
        plain.then(|| text.parse().unwrap_or(u64::MAX))
    };
    // Section 14.1: range units are compared without case.
    if !unit.trim().eq_ignore_ascii_case("bytes") {
        return Wanted::Whole;
    }
    match (number(from), number(to)) {
        (Some(first), _) if !to.is_empty() && number(to).is_none_or(|last| last < first) => {
            Wanted::Whole
        }
        (Some(first), _) if first >= size => Wanted::Unsatisfiable,
        (Some(first), last) => Wanted::Part {
            first,
            last: last.unwrap_or(u64::MAX).min(size - 1),
        },
        (None, Some(0)) if from.is_empty() => Wanted::Unsatisfiable,
        (None, Some(_)) if from.is_empty() && size == 0 => Wanted::Unsatisfiable,
        (None, Some(count)) if from.is_empty() => Wanted::Part {
            first: size.saturating_sub(count),
            last: size - 1,
        },
        _ => Wanted::Whole,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 9110 section 14.1.2: the examples for a file of 10000 bytes.
    #[test]
    fn the_examples_of_rfc_9110_are_read() {
        let part = |first, last| Wanted::Part { first, last };
        for (header, expected) in [
            ("bytes=0-499", part(0, 499)),
            ("bytes=500-999", part(500, 999)),
            ("bytes=-500", part(9500, 9999)),
            ("bytes=9500-", part(9500, 9999)),
            ("bytes=0-0,-1", Wanted::Whole),
            ("bytes=9500-20000", part(9500, 9999)),
            ("bytes=-20000", part(0, 9999)),
            ("BYTES=0-0", part(0, 0)),
            ("bytes=10000-", Wanted::Unsatisfiable),
            ("bytes=99999999999999999999-", Wanted::Unsatisfiable),
            ("bytes=-0", Wanted::Unsatisfiable),
            ("bytes=5-2", Wanted::Whole),
            ("bytes=a-b", Wanted::Whole),
            ("bytes=1-x", Wanted::Whole),
            ("bytes=-", Wanted::Whole),
            ("lines=0-1", Wanted::Whole),
            ("nonsense", Wanted::Whole),
        ] {
            assert_eq!(wanted(header, 10_000), expected, "{header}");
        }
        assert_eq!(wanted("bytes=0-", 0), Wanted::Unsatisfiable);
        assert_eq!(wanted("bytes=-5", 0), Wanted::Unsatisfiable);
    }
}
