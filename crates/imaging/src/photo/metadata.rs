//! What a file says about its encoding.

use std::io::{self, Read, Seek, SeekFrom};

use super::encoding::Encoding;
use crate::icc;

/// The signature of a PNG file. W3C PNG (Third Edition), section 5.2.
const PNG_SIGNATURE: [u8; 8] = [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A];

/// gAMA values this near to 1/2.2 are how encoders write sRGB without its chunk (value 45455; W3C
/// PNG, section 11.3.2.5).
const GAMMA_OF_SRGB: u32 = 45455;

/// What the chunks of a PNG file say; the reader is left where it was.
pub(super) fn png_hint<R: Read + Seek>(reader: &mut R) -> io::Result<Option<(Encoding, String)>> {
    let start = reader.stream_position()?;
    let hint = scan(reader);
    reader.seek(SeekFrom::Start(start))?;
    // A file too short to be scanned is judged by the decoder.
    Ok(hint.unwrap_or(None))
}

fn scan<R: Read + Seek>(reader: &mut R) -> io::Result<Option<(Encoding, String)>> {
    let mut signature = [0; 8];
    reader.read_exact(&mut signature)?;
    if signature != PNG_SIGNATURE {
        return Ok(None);
    }
    let mut gamma = None;
    loop {
        let mut head = [0; 8];
        reader.read_exact(&mut head)?;
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]);
        let mut used = 0;
        match &head[4..] {
            b"sRGB" => return Ok(Some((Encoding::Srgb, "PNG chunk sRGB".to_owned()))),
            b"gAMA" if length == 4 => {
                let mut value = [0; 4];
                reader.read_exact(&mut value)?;
                used = 4;
                gamma = Some(u32::from_be_bytes(value));
            }
            // All chunks that speak of colour come before the pixels.
            b"IDAT" | b"IEND" => return Ok(gamma.and_then(from_gamma)),
            _ => {}
        }
        reader.seek(SeekFrom::Current(i64::from(length - used) + 4))?;
    }
}

fn from_gamma(value: u32) -> Option<(Encoding, String)> {
    let from = format!("PNG chunk gAMA, {value}");
    match value {
        0 => None,
        GAMMA_OF_SRGB => Some((Encoding::Srgb, from)),
        100_000 => Some((Encoding::Linear, from)),
        other => Some((Encoding::Power(100_000.0 / f64::from(other)), from)),
    }
}

/// The encoding, and what it was taken from.
pub(super) fn guess(
    icc_profile: Option<&[u8]>,
    png: Option<(Encoding, String)>,
    exif: Option<&[u8]>,
    bits: u8,
) -> (Encoding, String) {
    if let Some(curve) = icc_profile.and_then(icc::read_curve) {
        let encoding = match curve.power() {
            Some(power) if (power - 1.0).abs() < 1e-6 => Encoding::Linear,
            _ => Encoding::Profile(curve),
        };
        return (encoding, "ICC profile".to_owned());
    }
    if let Some(hint) = png {
        return hint;
    }
    if exif.and_then(exif_colour_space) == Some(1) {
        return (Encoding::Srgb, "EXIF colour space".to_owned());
    }
    match bits {
        8 => (Encoding::Srgb, "assumed for 8 bits".to_owned()),
        _ => (Encoding::Linear, "assumed for 16 bits".to_owned()),
    }
}

/// The tag ColorSpace (0xA001) of the Exif directory; 1 is sRGB. CIPA DC-008 (Exif 2.32), 4.6.5.
fn exif_colour_space(exif: &[u8]) -> Option<u16> {
    let big = match exif.get(..2)? {
        b"MM" => true,
        b"II" => false,
        _ => return None,
    };
    let u16_at = |at: usize| -> Option<u16> {
        let b: [u8; 2] = exif.get(at..at + 2)?.try_into().ok()?;
        Some(if big {
            u16::from_be_bytes(b)
        } else {
            u16::from_le_bytes(b)
        })
    };
    let u32_at = |at: usize| -> Option<usize> {
        let b: [u8; 4] = exif.get(at..at.checked_add(4)?)?.try_into().ok()?;
        let v = if big {
            u32::from_be_bytes(b)
        } else {
            u32::from_le_bytes(b)
        };
        usize::try_from(v).ok()
    };
    let find = |directory: usize, tag: u16| -> Option<usize> {
        let count = usize::from(u16_at(directory)?);
        (0..count)
            .map(|i| directory + 2 + 12 * i)
            .find(|&entry| u16_at(entry) == Some(tag))
    };
    let pointer = find(u32_at(4)?, 0x8769)?;
    let entry = find(u32_at(pointer + 8)?, 0xA001)?;
    u16_at(entry + 8)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A little-endian Exif block with one directory and its Exif directory, by CIPA DC-008.
    fn exif(colour_space: u16) -> Vec<u8> {
        let mut out = b"II*\0\x08\0\0\0".to_vec();
        out.extend([1, 0, 0x69, 0x87, 4, 0, 1, 0, 0, 0, 26, 0, 0, 0, 0, 0, 0, 0]);
        out.extend([1, 0, 0x01, 0xA0, 3, 0, 1, 0, 0, 0]);
        out.extend(colour_space.to_le_bytes());
        out.extend([0; 6]);
        out
    }

    #[test]
    fn the_exif_colour_space_is_found_and_damage_is_survived() {
        let whole = exif(1);
        assert_eq!(exif_colour_space(&whole), Some(1));
        assert_eq!(exif_colour_space(&exif(0xFFFF)), Some(0xFFFF));
        for cut in 0..whole.len() - 7 {
            assert_eq!(exif_colour_space(&whole[..cut]), None, "cut at {cut}");
        }
    }

    #[test]
    fn what_is_not_said_is_assumed_by_depth() {
        assert_eq!(guess(None, None, None, 8).0, Encoding::Srgb);
        assert_eq!(guess(None, None, None, 16).0, Encoding::Linear);
        assert_eq!(guess(None, None, Some(&exif(1)), 16).0, Encoding::Srgb);
        assert_eq!(from_gamma(100_000).map(|h| h.0), Some(Encoding::Linear));
    }
}
