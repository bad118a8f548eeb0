//! A zip archive as USDZ wants it: nothing compressed, nothing encrypted, the
//! bytes of every file at a multiple of 64 (USDZ File Format Specification
//! 1.3, "Layout"). Names of fields: APPNOTE.TXT 6.3.10, sections 4.3.7, 4.3.12 and 4.3.16.

/// USDZ: alignment of the bytes of a file.
const ALIGNMENT: usize = 64;
/// Length of a local header without name and extra field.
const LOCAL: usize = 30;
/// APPNOTE 4.4.3.2: version 1.0 suffices for stored files.
const VERSION: u16 = 10;
/// APPNOTE 4.4.4, bit 11: names are UTF-8.
const UTF_8: u16 = 1 << 11;
/// 1 January 1980, the first day that a zip can name (APPNOTE 4.4.6): the same
/// dossier gives the same bytes.
const DATE: u16 = 0b0000_0000_0010_0001;
/// An extra field of nothing but padding: any number that nobody has claimed (APPNOTE 4.5.2).
const PADDING: u16 = 0x6716;

/// The archive; `None` if it would be larger than 4 GiB.
pub(super) fn aligned(files: &[(&str, &[u8])]) -> Option<Vec<u8>> {
    let mut out: Vec<u8> = Vec::new();
    let mut directory: Vec<u8> = Vec::new();
    for (name, bytes) in files {
        let offset = u32::try_from(out.len()).ok()?;
        let size = u32::try_from(bytes.len()).ok()?;
        let name_length = u16::try_from(name.len()).ok()?;
        let crc = crc32fast::hash(bytes);
        let unpadded = out.len() + LOCAL + name.len();
        let mut extra = unpadded.next_multiple_of(ALIGNMENT) - unpadded;
        // An extra field has four bytes before its content.
        if (1..4).contains(&extra) {
            extra += ALIGNMENT;
        }
        let common = |to: &mut Vec<u8>, extra: usize| -> Option<()> {
            for word in [VERSION, UTF_8, 0, 0, DATE] {
                to.extend(word.to_le_bytes());
            }
            for word in [crc, size, size] {
                to.extend(word.to_le_bytes());
            }
            to.extend(name_length.to_le_bytes());
            to.extend(u16::try_from(extra).ok()?.to_le_bytes());
            Some(())
        };
        out.extend(b"PK\x03\x04");
        common(&mut out, extra)?;
        out.extend(name.as_bytes());
        if extra > 0 {
            out.extend(PADDING.to_le_bytes());
            out.extend(u16::try_from(extra - 4).ok()?.to_le_bytes());
            out.resize(out.len() + extra - 4, 0);
        }
        out.extend(*bytes);
        directory.extend(b"PK\x01\x02");
        directory.extend(VERSION.to_le_bytes());
        common(&mut directory, 0)?;
        // Comment, disk, internal attributes; external attributes.
        directory.extend([0; 6 + 4]);
        directory.extend(offset.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let start = u32::try_from(out.len()).ok()?;
    let length = u32::try_from(directory.len()).ok()?;
    let count = u16::try_from(files.len()).ok()?;
    out.extend(directory);
    out.extend(b"PK\x05\x06");
    out.extend([0; 4]);
    out.extend(count.to_le_bytes());
    out.extend(count.to_le_bytes());
    out.extend(length.to_le_bytes());
    out.extend(start.to_le_bytes());
    out.extend([0; 2]);
    u32::try_from(out.len()).ok()?;
    Some(out)
}

/// The files of such an archive, in their order; `None` if it is none. Only
/// what is stored as it is can be had.
pub(super) fn files(archive: &[u8]) -> Option<Vec<(String, &[u8])>> {
    let end = archive.windows(4).rposition(|four| four == b"PK\x05\x06")?;
    let half = |at: usize| {
        Some(usize::from(u16::from_le_bytes(
            archive.get(at..at + 2)?.try_into().ok()?,
        )))
    };
    let word = |at: usize| {
        usize::try_from(u32::from_le_bytes(
            archive.get(at..at + 4)?.try_into().ok()?,
        ))
        .ok()
    };
    let mut at = word(end + 16)?;
    let mut found = Vec::new();
    for _ in 0..half(end + 10)? {
        if archive.get(at..at + 4)? != b"PK\x01\x02" || half(at + 10)? != 0 {
            return None;
        }
        let (size, offset) = (word(at + 24)?, word(at + 42)?);
        let (name, extra, comment) = (half(at + 28)?, half(at + 30)?, half(at + 32)?);
        let text = archive.get(at + 46..at + 46 + name)?;
        let start = offset + LOCAL + half(offset + 26)? + half(offset + 28)?;
        let bytes = archive.get(start..start.checked_add(size)?)?;
        found.push((String::from_utf8(text.to_vec()).ok()?, bytes));
        at += 46 + name + extra + comment;
    }
    Some(found)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail by panic")]
mod tests {
    use super::*;

    #[test]
    fn bytes_of_files_lie_at_multiples_of_64_and_come_back() {
        for length in 0..70 {
            let name = "n".repeat(length + 1);
            let content = vec![7; length];
            let archive = aligned(&[(&name, &content), ("b/é.png", b"xyz")]).unwrap();
            let found = files(&archive).unwrap();
            assert_eq!(found[0], (name.clone(), content.as_slice()));
            assert_eq!(found[1], ("b/é.png".to_owned(), b"xyz".as_slice()));
            for (_, bytes) in found.iter().filter(|(_, bytes)| !bytes.is_empty()) {
                let offset = bytes.as_ptr() as usize - archive.as_ptr() as usize;
                assert_eq!(offset % 64, 0);
            }
        }
        assert_eq!(files(b"PK"), None);
    }
}
