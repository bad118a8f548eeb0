//! Linear DNG: camera values of three channels a pixel, with the mosaic already taken out.
//!
//! Digital Negative (DNG) Specification, version 1.4.0.0, June 2012 (below: DNG). The main image is
//! the directory with NewSubFileType 0, the first one or one of its SubIFDs (chapter 2); its values
//! become linear light as chapter 5 says: the linearisation table, less the black level, over white
//! level less black level, limited to 0..1. The colour tags (matrices, neutral) are not used: what
//! the colours are is found from the chart, for this camera under this light.
//!
//! The decoder for TIFF knows everything about such a file but the word for its colour. It reads it
//! through [`Patched`], which shows it the main image as the first and its colour as RGB.

use std::io::{self, Read, Seek, SeekFrom};

use super::unreadable;
use crate::error::{ImagingError, Result};

/// Tags of TIFF 6.0 and DNG, chapter 4.
const NEW_SUB_FILE_TYPE: u16 = 254;
const BITS_PER_SAMPLE: u16 = 258;
const COMPRESSION: u16 = 259;
const PHOTOMETRIC: u16 = 262;
const SAMPLES_PER_PIXEL: u16 = 277;
const SUB_IFDS: u16 = 330;
const DNG_VERSION: u16 = 50706;
const LINEARIZATION_TABLE: u16 = 50712;
const BLACK_LEVEL_REPEAT_DIM: u16 = 50713;
const BLACK_LEVEL: u16 = 50714;
const BLACK_LEVEL_DELTA_H: u16 = 50715;
const BLACK_LEVEL_DELTA_V: u16 = 50716;
const WHITE_LEVEL: u16 = 50717;

/// Values of PhotometricInterpretation: TIFF 6.0, section 6; DNG, chapter 2.
const RGB: u16 = 2;
const MOSAIC: u32 = 32803;
const LINEAR_RAW: u32 = 34892;

/// Value of Compression for lossless and lossy JPEG alike: TIFF Technical Note 2; DNG, chapter 2.
const JPEG: u32 = 7;

/// More numbers in one entry, and more images, than any such file has.
const MOST: usize = 70_000;
const MOST_IMAGES: usize = 16;

/// How codes become light.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Levels {
    table: Vec<u32>,
    black: [f64; 3],
    white: [f64; 3],
    /// What one code of the file is among the 16 bits that the decoder gives.
    unit: u16,
}

impl Levels {
    /// Takes samples to light, 0..1 as 0..65535.
    pub(super) fn apply(&self, samples: &mut [u16]) {
        for pixel in samples.chunks_exact_mut(3) {
            for (c, value) in pixel.iter_mut().enumerate() {
                let code = u32::from(*value / self.unit);
                let last = self.table.len().saturating_sub(1);
                let code = self.table.get(last.min(code as usize)).copied();
                let code = f64::from(code.unwrap_or(u32::from(*value / self.unit)));
                let light = (code - self.black[c]) / (self.white[c] - self.black[c]);
                *value = (light.clamp(0.0, 1.0) * 65535.0).round() as u16;
            }
        }
    }
}

/// A file with some bytes replaced.
#[derive(Debug)]
pub(super) struct Patched<R> {
    inner: R,
    at: u64,
    patches: Vec<(u64, Vec<u8>)>,
}

impl<R> Patched<R> {
    /// The file as it is.
    pub(super) fn none(inner: R) -> Self {
        Self {
            inner,
            at: 0,
            patches: Vec::new(),
        }
    }
}

impl<R: Read> Read for Patched<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(out)?;
        for (start, bytes) in &self.patches {
            for (place, byte) in (*start..).zip(bytes) {
                if let Some(i) = place.checked_sub(self.at)
                    && let Some(out) = out[..count].get_mut(i as usize)
                {
                    *out = *byte;
                }
            }
        }
        self.at += count as u64;
        Ok(count)
    }
}

impl<R: Seek> Seek for Patched<R> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.at = self.inner.seek(to)?;
        Ok(self.at)
    }
}

/// The file as the decoder can read it, and the levels where it is a linear DNG.
///
/// # Errors
/// It is a DNG, but none that can be read.
pub(super) fn open<R: Read + Seek>(
    mut reader: R,
    name: &str,
) -> Result<(Patched<R>, Option<Levels>)> {
    let start = reader.seek(SeekFrom::Start(0));
    start.map_err(|e| unreadable(name, e.to_string()))?;
    // A file too short or too odd to be a DNG is judged by the decoder.
    let found = find(&mut reader, name).unwrap_or(Ok(None));
    reader
        .seek(SeekFrom::Start(0))
        .map_err(|e| unreadable(name, e.to_string()))?;
    let mut file = Patched::none(reader);
    let Some((patches, levels)) = found? else {
        return Ok((file, None));
    };
    file.patches = patches;
    Ok((file, Some(levels)))
}

type Found = Option<(Vec<(u64, Vec<u8>)>, Levels)>;

fn find<R: Read + Seek>(reader: &mut R, name: &str) -> io::Result<Result<Found>> {
    let Some(mut tiff) = Tiff::open(reader)? else {
        return Ok(Ok(None));
    };
    let first = tiff.first;
    let top = tiff.directory(first)?;
    if top.find(DNG_VERSION).is_none() {
        return Ok(Ok(None));
    }
    let mut places = vec![first];
    let others = tiff.numbers(&top, SUB_IFDS)?.unwrap_or_default();
    places.extend(others.iter().take(MOST_IMAGES).map(|v| *v as u64));
    for place in places {
        let directory = tiff.directory(place)?;
        if tiff.number(&directory, NEW_SUB_FILE_TYPE)?.unwrap_or(0) == 0 {
            return tiff.main_image(place, &directory, name);
        }
    }
    Ok(Err(no_linear_dng(name, "it has no main image".to_owned())))
}

fn no_linear_dng(name: &str, what: String) -> ImagingError {
    ImagingError::new(
        format!("the DNG cannot be read: {what}"),
        name,
        "Develop it first, without tone curve, to a linear DNG that is not compressed as JPEG, or to \
         a linear 16-bit TIFF.",
    )
}

/// Just enough of TIFF 6.0, section 2, to find the tags.
struct Tiff<'a, R> {
    reader: &'a mut R,
    big_endian: bool,
    first: u64,
}

/// One directory.
struct Directory(Vec<Entry>);

#[derive(Clone, Copy)]
struct Entry {
    tag: u16,
    kind: u16,
    count: usize,
    /// Where its value, or the place of its value, stands.
    at: u64,
}

impl Directory {
    fn find(&self, tag: u16) -> Option<Entry> {
        self.0.iter().find(|e| e.tag == tag).copied()
    }
}

impl<'a, R: Read + Seek> Tiff<'a, R> {
    fn open(reader: &'a mut R) -> io::Result<Option<Self>> {
        let mut head = [0; 4];
        reader.read_exact(&mut head)?;
        let big_endian = match &head {
            b"II*\0" => false,
            b"MM\0*" => true,
            _ => return Ok(None),
        };
        let mut tiff = Self {
            reader,
            big_endian,
            first: 0,
        };
        tiff.first = u64::from(tiff.long()?);
        Ok(Some(tiff))
    }

    fn short(&mut self) -> io::Result<u16> {
        let mut b = [0; 2];
        self.reader.read_exact(&mut b)?;
        Ok(match self.big_endian {
            true => u16::from_be_bytes(b),
            false => u16::from_le_bytes(b),
        })
    }

    fn long(&mut self) -> io::Result<u32> {
        let mut b = [0; 4];
        self.reader.read_exact(&mut b)?;
        Ok(match self.big_endian {
            true => u32::from_be_bytes(b),
            false => u32::from_le_bytes(b),
        })
    }

    fn directory(&mut self, at: u64) -> io::Result<Directory> {
        self.reader.seek(SeekFrom::Start(at))?;
        let count = self.short()?;
        let mut entries = Vec::new();
        for i in 0..u64::from(count) {
            let entry = Entry {
                tag: self.short()?,
                kind: self.short()?,
                count: self.long()? as usize,
                at: at + 2 + 12 * i + 8,
            };
            self.long()?;
            entries.push(entry);
        }
        Ok(Directory(entries))
    }

    /// The numbers of an entry: bytes, shorts, longs, or rationals of either sign.
    fn numbers(&mut self, directory: &Directory, tag: u16) -> io::Result<Option<Vec<f64>>> {
        let Some(entry) = directory.find(tag) else {
            return Ok(None);
        };
        let size = match entry.kind {
            1 => 1,
            3 => 2,
            4 | 13 => 4,
            5 | 10 => 8,
            _ => return Err(io::ErrorKind::InvalidData.into()),
        };
        if entry.count > MOST {
            return Err(io::ErrorKind::InvalidData.into());
        }
        self.reader.seek(SeekFrom::Start(entry.at))?;
        if size * entry.count > 4 {
            let at = u64::from(self.long()?);
            self.reader.seek(SeekFrom::Start(at))?;
        }
        let mut all = Vec::with_capacity(entry.count);
        for _ in 0..entry.count {
            all.push(match entry.kind {
                1 => {
                    let mut byte = [0];
                    self.reader.read_exact(&mut byte)?;
                    f64::from(byte[0])
                }
                3 => f64::from(self.short()?),
                5 => f64::from(self.long()?) / f64::from(self.long()?),
                10 => f64::from(self.long()? as i32) / f64::from(self.long()? as i32),
                _ => f64::from(self.long()?),
            });
        }
        Ok(Some(all))
    }

    fn number(&mut self, directory: &Directory, tag: u16) -> io::Result<Option<u32>> {
        let numbers = self.numbers(directory, tag)?;
        Ok(numbers.and_then(|n| n.first().map(|v| *v as u32)))
    }

    fn main_image(
        &mut self,
        place: u64,
        directory: &Directory,
        name: &str,
    ) -> io::Result<Result<Found>> {
        let no = |what: &str| Ok(Err(no_linear_dng(name, what.to_owned())));
        match self.number(directory, PHOTOMETRIC)? {
            Some(LINEAR_RAW) => {}
            Some(MOSAIC) => return no("it holds the mosaic of the sensor, one colour a pixel"),
            _ => return no("its main image is neither linear nor a mosaic"),
        }
        if self.number(directory, COMPRESSION)? == Some(JPEG) {
            return no("it is compressed as JPEG, lossless or not, which is not read");
        }
        let bits = self
            .numbers(directory, BITS_PER_SAMPLE)?
            .unwrap_or_default();
        let channels = self.number(directory, SAMPLES_PER_PIXEL)?.unwrap_or(1);
        // Without the tag a sample is one bit: TIFF 6.0, section 8.
        let bits = bits
            .first()
            .copied()
            .filter(|b| bits.iter().all(|c| c == b));
        let Some(bits @ (8.0 | 16.0)) = bits.filter(|_| channels == 3) else {
            return no("it has not three channels of 8 or 16 bits");
        };
        for tag in [BLACK_LEVEL_DELTA_H, BLACK_LEVEL_DELTA_V] {
            let deltas = self.numbers(directory, tag)?.unwrap_or_default();
            if deltas.iter().any(|d| *d != 0.0) {
                return no("its black level changes over the picture, which is not read");
            }
        }
        let repeat = self.numbers(directory, BLACK_LEVEL_REPEAT_DIM)?;
        if repeat.is_some_and(|r| r.iter().any(|n| *n != 1.0)) {
            return no("its black level changes from pixel to pixel, which is not read");
        }
        let table = self
            .numbers(directory, LINEARIZATION_TABLE)?
            .unwrap_or_default();
        let largest = bits.exp2() - 1.0;
        let levels = Levels {
            table: table.iter().map(|v| *v as u32).collect(),
            black: each(self.numbers(directory, BLACK_LEVEL)?, 0.0),
            white: each(self.numbers(directory, WHITE_LEVEL)?, largest),
            unit: if bits == 8.0 { 257 } else { 1 },
        };
        // NaN too (a rational over 0).
        let ordered = (levels.black.iter().zip(levels.white)).all(|(black, white)| white > *black);
        if !ordered {
            return no("its white level is not above its black level");
        }
        let Some(photometric) = directory
            .find(PHOTOMETRIC)
            .filter(|_| place <= u64::from(u32::MAX))
        else {
            return no("its main image is neither linear nor a mosaic");
        };
        let (to, rgb) = match self.big_endian {
            true => ((place as u32).to_be_bytes(), RGB.to_be_bytes()),
            false => ((place as u32).to_le_bytes(), RGB.to_le_bytes()),
        };
        let patches = vec![(4, to.to_vec()), (photometric.at, rgb.to_vec())];
        Ok(Ok(Some((patches, levels))))
    }
}

/// One for each channel: one for all, or three.
fn each(values: Option<Vec<f64>>, otherwise: f64) -> [f64; 3] {
    match values.as_deref() {
        Some([r, g, b, ..]) => [*r, *g, *b],
        Some([one, ..]) => [*one; 3],
        _ => [otherwise; 3],
    }
}
