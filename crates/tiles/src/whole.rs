//! A level put together again from its tiles.

use std::collections::BTreeSet;
use std::io::Cursor;

use image::{DynamicImage, GenericImage as _, GenericImageView as _, ImageBuffer, Pixel};
use image::{ImageFormat, ImageReader};

use crate::index::{Index, NAME_DIGITS, name_of, path_of};
use crate::{BORDER_PX, Place, TILE_PX};

/// Why a level could not be put together.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the tile {file} {reason}; pack the dossier again")]
pub struct TileError {
    /// Its path, beside the list.
    pub file: String,
    /// What is wrong with it.
    pub reason: String,
}

/// A level of the image, `level` finer than the base and 0 the finest, from the tiles that `read` gives by their paths beside the
/// list: colour with alpha, or the numbers of a band or region map as they are.
///
/// # Errors
/// [`TileError`] for a tile that is missing, damaged or of another size.
pub fn whole(
    index: &Index,
    level: u32,
    read: &dyn Fn(&str) -> Result<Vec<u8>, String>,
) -> Result<DynamicImage, TileError> {
    let first = decoded(index, level, [0, 0], read)?;
    Ok(match first {
        DynamicImage::ImageLuma8(_) => joined(index, level, read, DynamicImage::into_luma8)?.into(),
        DynamicImage::ImageLuma16(_) => {
            joined(index, level, read, DynamicImage::into_luma16)?.into()
        }
        _ => joined(index, level, read, DynamicImage::into_rgba8)?.into(),
    })
}

/// The base and tiles of all levels that are missing, or whose bytes are not those that their names are made of.
#[must_use]
pub fn damaged(index: &Index, read: &dyn Fn(&str) -> Result<Vec<u8>, String>) -> Vec<TileError> {
    let names = index.levels.iter().flat_map(|level| {
        let names = level.names.as_bytes().chunks_exact(NAME_DIGITS);
        names.filter_map(|name| str::from_utf8(name).ok())
    });
    // Tiles that are alike are one file.
    let files: BTreeSet<String> = names
        .map(|name| path_of(name, &index.ending))
        .chain([index.base.clone()])
        .collect();
    files
        .iter()
        .filter_map(|file| read_tile(file, read).err())
        .collect()
}

/// The bytes of a tile, which are those that its name is made of.
fn read_tile(
    file: &str,
    read: &dyn Fn(&str) -> Result<Vec<u8>, String>,
) -> Result<Vec<u8>, TileError> {
    let wrong = |reason: String| TileError {
        file: file.to_owned(),
        reason,
    };
    let bytes = read(file).map_err(|error| wrong(format!("cannot be read ({error})")))?;
    if !file.contains(&name_of(&bytes)) {
        return Err(wrong("is damaged".to_owned()));
    }
    Ok(bytes)
}

fn joined<P: Pixel + 'static>(
    index: &Index,
    level: u32,
    read: &dyn Fn(&str) -> Result<Vec<u8>, String>,
    texels: fn(DynamicImage) -> ImageBuffer<P, Vec<P::Subpixel>>,
) -> Result<ImageBuffer<P, Vec<P::Subpixel>>, TileError> {
    let [width, height] = index.pyramid().size_of(level);
    let mut image = ImageBuffer::new(width, height);
    let grid = index.levels.get(level as usize).map_or([0, 0], |l| l.grid);
    for y in 0..grid[1] {
        for x in 0..grid[0] {
            let tile = texels(decoded(index, level, [x, y], read)?);
            let shown = [tile.width(), tile.height()].map(|side| side - 2 * BORDER_PX);
            let inner = tile.view(BORDER_PX, BORDER_PX, shown[0], shown[1]);
            image
                .copy_from(&*inner, x * TILE_PX, y * TILE_PX)
                .map_err(|error| TileError {
                    file: path_at(index, level, [x, y]),
                    reason: error.to_string(),
                })?;
        }
    }
    Ok(image)
}

fn path_at(index: &Index, level: u32, [x, y]: [u32; 2]) -> String {
    let name = index.levels.get(level as usize).and_then(|own| {
        let at = (y * own.grid[0] + x) as usize * NAME_DIGITS;
        own.names.get(at..at + NAME_DIGITS)
    });
    name.map_or_else(String::new, |name| path_of(name, &index.ending))
}

/// One tile, as it was written to the byte.
fn decoded(
    index: &Index,
    level: u32,
    at: [u32; 2],
    read: &dyn Fn(&str) -> Result<Vec<u8>, String>,
) -> Result<DynamicImage, TileError> {
    let file = path_at(index, level, at);
    let wrong = |reason: String| TileError {
        file: file.clone(),
        reason,
    };
    if file.is_empty() {
        return Err(wrong("is not listed".to_owned()));
    }
    let bytes = read_tile(&file, read)?;
    let format = ImageFormat::from_extension(&index.ending);
    let format = format.ok_or_else(|| wrong("is of an unknown kind".to_owned()))?;
    let image = ImageReader::with_format(Cursor::new(bytes), format)
        .decode()
        .map_err(|error| wrong(format!("cannot be read ({error})")))?;
    let [x, y] = at;
    let size = index.pyramid().stored_size(Place { level, x, y });
    if [image.width(), image.height()] != size {
        return Err(wrong("has another size than its place".to_owned()));
    }
    Ok(image)
}

#[cfg(all(test, feature = "pack"))]
#[allow(clippy::unwrap_used, reason = "a test may fail by panic")]
mod tests {
    use std::collections::BTreeMap;
    use std::io::Cursor;
    use std::sync::Mutex;

    use image::{Luma, Rgba, RgbaImage};

    use super::*;
    use crate::pack::{Keep, Kind, Rows, Store, pack};

    #[derive(Default)]
    struct Memory(Mutex<BTreeMap<String, Vec<u8>>>);

    impl Store for Memory {
        fn write(&self, path: &str, bytes: &[u8]) -> std::io::Result<()> {
            self.0
                .lock()
                .unwrap()
                .insert(path.to_owned(), bytes.to_vec());
            Ok(())
        }
    }

    fn packed(image: &DynamicImage, kind: Kind) -> (Index, BTreeMap<String, Vec<u8>>) {
        let mut bytes = Vec::new();
        image
            .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)
            .unwrap();
        let rows = Rows::open(&bytes, kind).unwrap();
        let store = Memory::default();
        let made = pack(rows, kind, Keep::Exact, &|_, _| 0.0, &store, &|_, _| {}).unwrap();
        let written = serde_json::to_vec(&made.index).unwrap();
        (
            Index::read(&written).unwrap(),
            store.0.into_inner().unwrap(),
        )
    }

    fn reader(files: &BTreeMap<String, Vec<u8>>) -> impl Fn(&str) -> Result<Vec<u8>, String> {
        |path| {
            files
                .get(path)
                .cloned()
                .ok_or_else(|| "not found".to_owned())
        }
    }

    #[test]
    fn every_texel_comes_back() {
        let colour = RgbaImage::from_fn(901, 530, |x, y| {
            let n = x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503);
            Rgba([n as u8, (n >> 8) as u8, (n >> 16) as u8, (x + y) as u8])
        });
        let colour = DynamicImage::from(colour);
        let (index, files) = packed(&colour, Kind::Colour);
        assert_eq!(whole(&index, 0, &reader(&files)).unwrap(), colour);
    }

    /// The mean of four by hand: sides are even, so that a texel of the second level is made of four of the first.
    #[test]
    fn coarser_levels_come_back_too() {
        let number = |x: u32, y: u32| (x * 31 + y * 57) as u16;
        let band = ImageBuffer::from_fn(1400, 1200, |x, y| Luma([number(x, y)]));
        let (index, files) = packed(&DynamicImage::from(band), Kind::Band);
        let level = whole(&index, 1, &reader(&files)).unwrap().into_luma16();
        assert_eq!(level.dimensions(), (700, 600));
        for (x, y, texel) in level.enumerate_pixels() {
            let four = [(0, 0), (1, 0), (0, 1), (1, 1)]
                .map(|(right, below)| u32::from(number(2 * x + right, 2 * y + below)));
            let mean = (f64::from(four.iter().sum::<u32>()) / 4.0 + 0.5).floor() as u16;
            assert_eq!(texel[0], mean, "{x} {y}");
        }
    }

    #[test]
    fn a_tile_that_is_damaged_or_gone_is_named() {
        let image = DynamicImage::from(RgbaImage::new(700, 300));
        let (index, mut files) = packed(&image, Kind::Colour);
        let name = path_at(&index, 0, [1, 0]);
        files.get_mut(&name).unwrap()[9] ^= 1;
        let error = whole(&index, 0, &reader(&files)).unwrap_err();
        assert_eq!(
            (error.file.as_str(), error.reason.as_str()),
            (name.as_str(), "is damaged")
        );
        files.remove(&name);
        let error = whole(&index, 0, &reader(&files)).unwrap_err();
        assert!(error.reason.contains("not found"), "{error}");
        assert!(whole(&index, 7, &reader(&files)).is_err());
    }

    #[test]
    fn a_list_that_is_wrong_is_refused() {
        let (index, _) = packed(&DynamicImage::from(RgbaImage::new(700, 300)), Kind::Colour);
        let wrong = |change: fn(&mut Index)| {
            let mut other = index.clone();
            change(&mut other);
            Index::read(&serde_json::to_vec(&other).unwrap()).unwrap_err()
        };
        wrong(|i| i.format = "other".to_owned());
        wrong(|i| i.tile_px = 128);
        wrong(|i| i.size_px = [0, 3]);
        wrong(|i| i.size_px = [u32::MAX, u32::MAX]);
        wrong(|i| i.ending = "../x".to_owned());
        wrong(|i| i.levels.clear());
        wrong(|i| i.levels[0].grid[0] += 1);
        wrong(|i| i.levels[0].names.truncate(9));
        wrong(|i| i.levels[0].names.replace_range(0..1, "/"));
        assert!(Index::read(b"{").is_err());
    }
}
