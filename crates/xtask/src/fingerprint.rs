//! Skips a step whose inputs have not changed since it last succeeded.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result};

use crate::workspace;

/// Offset basis and prime of 64-bit FNV-1a (RFC 9923, section 5).
const FNV_OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
const FNV_PRIME: u64 = 0x0000_0100_0000_01b3;

/// Names and contents of the inputs of one step, in one number.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Fingerprint(u64);

impl Fingerprint {
    /// Of every file below `inputs`, relative to the root, and of `options`.
    pub(crate) fn of(inputs: &[&str], options: &str) -> Result<Self> {
        let mut print = Self(FNV_OFFSET);
        print.add(options.as_bytes());
        for input in inputs {
            for file in workspace::files_below(&workspace::root().join(input)) {
                print.add(file.to_string_lossy().as_bytes());
                let bytes =
                    std::fs::read(&file).with_context(|| format!("reading {}", file.display()))?;
                print.add(&bytes);
            }
        }
        Ok(print)
    }

    fn add(&mut self, bytes: &[u8]) {
        self.mix(bytes);
        // The length keeps "ab" + "c" apart from "a" + "bc".
        self.mix(&bytes.len().to_le_bytes());
    }

    fn mix(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(FNV_PRIME);
        }
    }

    /// Whether the step noted in `stamp` last succeeded with these inputs.
    pub(crate) fn is_in(self, stamp: &Path) -> bool {
        std::fs::read_to_string(stamp).is_ok_and(|text| text == self.text())
    }

    /// Notes success in `stamp`.
    pub(crate) fn write(self, stamp: &Path) -> Result<()> {
        std::fs::write(stamp, self.text()).with_context(|| format!("writing {}", stamp.display()))
    }

    fn text(self) -> String {
        format!("{:016x}", self.0)
    }
}

/// Path of the note beside `folder`.
pub(crate) fn stamp_of(folder: &Path) -> PathBuf {
    let mut name = folder.file_name().unwrap_or_default().to_owned();
    name.push(".stamp");
    folder.with_file_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 9923, test vectors: FNV-1a 64 of "a" and of "foobar".
    #[test]
    fn published_vectors_come_out() {
        for (text, wanted) in [
            ("a", 0xaf63_dc4c_8601_ec8c),
            ("foobar", 0x8594_4171_f739_67e8),
        ] {
            let mut print = Fingerprint(FNV_OFFSET);
            print.mix(text.as_bytes());
            assert_eq!(print, Fingerprint(wanted), "{text}");
        }
    }

    #[test]
    fn where_one_part_ends_matters() {
        let of = |parts: [&[u8]; 2]| {
            let mut print = Fingerprint(FNV_OFFSET);
            parts.iter().for_each(|part| print.add(part));
            print
        };
        assert_ne!(of([b"ab", b"c"]), of([b"a", b"bc"]));
    }
}
