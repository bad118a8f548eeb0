//! A draped sheet as files: the layer's image, a 16-bit master, and what is known of each texel.

use std::io::{Seek, Write};

use ganosis_colorimetry::matrix::apply;
use glam::Vec4;
use png::{BitDepth, ColorType, Compression, Encoder, StreamWriter};
use rayon::prelude::*;

use super::fill::Fill;
use super::room::bytes_of;
use super::run::Drape;
use super::texels::TILE_PX;
use super::tile::{NO_PHOTO, TileResult, coverage};
use crate::error::{ImagingError, Result};
use crate::icc::{OutputSpace, xyz_d50_from_linear};
use crate::tiff_out::write_rgb_rows;

/// Steps of the table from the square root of light to a code: one for each code of 16 bits, which lie
/// closer together nowhere (a choice of ours).
const ROOTS: f32 = 65535.0;

/// Linear light that counts as within the space of the layer's image. Below black by half a code of 8
/// bits, 0.5 / 255 / 12.92 in linear light (IEC 61966-2-1); above white by less than the half code there,
/// 0.5 / 255 × 2.4 / 1.055 = 0.0045, so that clipped whites of a photograph are counted (a choice of ours).
const WITHIN: std::ops::RangeInclusive<f32> = -1.5e-4..=1.002;

/// Texels that are coded at a time (a choice of ours: some tens of kilobytes).
const PART: usize = 4096;

/// Micrometres for each code of the resolution image, which ends at 6.5 mm then (a choice of ours: finer
/// than any photograph of an object tells apart).
pub const RESOLUTION_STEP_UM: f64 = 0.1;

/// Codes in the coverage image of what a photograph saw: clear of a step of depth, or only beside one.
pub const SEEN_CODES: [u8; 2] = [255, 192];

/// Code in the coverage image for each of [`coverage`].
pub const COVERAGE_CODES: [(u8, u8); 6] = [
    (coverage::NONE, 0),
    (coverage::UNSEEN, 64),
    (coverage::FILLED, 128),
    (coverage::BORDER, 0),
    (coverage::SEEN, SEEN_CODES[0]),
    (coverage::EDGE, SEEN_CODES[1]),
];

/// The files of one sheet of a colour layer.
pub struct ColourFiles<W: Write + Seek> {
    /// 16-bit TIFF in the space of the photographs.
    pub master: W,
    /// 8-bit PNG with alpha in the space of the layer.
    pub image: W,
}

/// What is known of each texel, as greyscale PNG.
pub struct KnownFiles<W: Write> {
    /// 8 bit: see [`COVERAGE_CODES`].
    pub coverage: W,
    /// 8 bit: photographs that see it.
    pub views: W,
    /// 16 bit: see [`RESOLUTION_STEP_UM`]; 0 is none.
    pub resolution: W,
    /// 16 bit: number of the photograph whose detail counts most, from 1; 0 is none.
    pub photo: W,
}

/// How many texels could not be shown as they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Cut {
    /// Seen, and outside the space of the layer's image.
    pub outside_space: u64,
    /// Texels that were filled.
    pub filled: u64,
}

/// Writes a sheet of a colour layer.
///
/// # Errors
/// A writer fails, or the room cannot be read.
pub fn write_colour<W: Write + Seek + Send + 'static, K: Write + Send + 'static>(
    drape: &Drape,
    sheet: usize,
    fill: Option<&Fill>,
    (space, image_space): (OutputSpace, OutputSpace),
    description: &str,
    files: ColourFiles<W>,
    known: KnownFiles<K>,
) -> Result<Cut> {
    let size = &drape.mesh.sheets[sheet];
    let [w, h] = [size.width_px, size.height_px];
    let mut image = Grey::new(files.image, [w, h], ColorType::Rgba, BitDepth::Eight)?;
    let mut known = Known::new(known, [w, h])?;
    let master_code = table(|v| space.encode(v), 65535.0);
    let image_code = table(|v| image_space.encode(v), 255.0);
    let [red, green, blue] = [0, 1, 2].map(|k| {
        let mut unit = [0.0; 3];
        unit[k] = 1.0;
        let xyz = xyz_d50_from_linear(space, unit);
        let [x, y, z] = apply(&image_space.linear_from_xyz_d50(), xyz);
        Vec4::new(x as f32, y as f32, z as f32, 0.0)
    });
    let mut cut = Cut::default();
    write_rgb_rows(files.master, [w, h], space, description, |put| {
        for_rows(drape, sheet, fill, |texels| {
            let mut codes = vec![0_u16; texels.light.len()];
            let mut pixels = vec![[0_u8; 4]; texels.coverage.len()];
            let parts = (codes.par_chunks_mut(3 * PART), pixels.par_chunks_mut(PART));
            let sources = (
                texels.light.par_chunks(3 * PART),
                texels.coverage.par_chunks(PART),
            );
            cut.outside_space += (parts.0, parts.1, sources.0, sources.1)
                .into_par_iter()
                .map(|(codes, pixels, light, coverage)| {
                    for (code, v) in codes.iter_mut().zip(light) {
                        *code = look_up(&master_code, *v);
                    }
                    let mut outside = 0;
                    let places = light.as_chunks::<3>().0.iter().zip(coverage);
                    for (pixel, (v, is)) in pixels.iter_mut().zip(places) {
                        if !is_coloured(*is) {
                            continue;
                        }
                        let shown = red * v[0] + green * v[1] + blue * v[2];
                        // The fourth number is 0, which is within.
                        let within = WITHIN.contains(&shown.max_element())
                            && WITHIN.contains(&shown.min_element());
                        outside += u64::from(*is == coverage::SEEN && !within);
                        let code = |light| look_up(&image_code, light) as u8;
                        *pixel = [code(shown.x), code(shown.y), code(shown.z), 255];
                    }
                    outside
                })
                .sum::<u64>();
            // What is packed is packed beside one another.
            let (mut imaged, mut noted) = (Ok(()), Ok(0));
            let mastered = rayon::in_place_scope(|side| {
                side.spawn(|_| imaged = image.put(pixels.as_flattened()));
                side.spawn(|_| noted = known.put(texels));
                put(&codes)
            });
            mastered?;
            imaged?;
            cut.filled += noted?;
            Ok(())
        })
    })?;
    image.end()?;
    known.end()?;
    Ok(cut)
}

/// Writes a sheet of a band layer: 16-bit greyscale PNG, code 0 where nothing is known, 1 to 65535 for
/// light from 0 to 1.
///
/// # Errors
/// As [`write_colour`].
pub fn write_band<W: Write + Send + 'static, K: Write + Send + 'static>(
    drape: &Drape,
    sheet: usize,
    fill: Option<&Fill>,
    image: W,
    known: KnownFiles<K>,
) -> Result<Cut> {
    let size = &drape.mesh.sheets[sheet];
    let size = [size.width_px, size.height_px];
    let mut image = Grey::new(image, size, ColorType::Grayscale, BitDepth::Sixteen)?;
    let mut known = Known::new(known, size)?;
    let mut cut = Cut::default();
    for_rows(drape, sheet, fill, |texels| {
        let lights = texels.light.iter().zip(&texels.coverage);
        let codes: Vec<u8> = lights
            .flat_map(|(v, is)| {
                let code = (v.clamp(0.0, 1.0) * 65535.0).round().max(1.0) as u16;
                if is_coloured(*is) { code } else { 0 }.to_be_bytes()
            })
            .collect();
        image.put(&codes)?;
        cut.filled += known.put(texels)?;
        Ok(())
    })?;
    image.end()?;
    known.end()?;
    Ok(cut)
}

fn is_coloured(is: u8) -> bool {
    matches!(
        is,
        coverage::SEEN | coverage::EDGE | coverage::BORDER | coverage::FILLED
    )
}

/// Calls `with` for each row of tiles, with everything in it row by row; the next is read meanwhile.
fn for_rows(
    drape: &Drape,
    sheet: usize,
    fill: Option<&Fill>,
    mut with: impl FnMut(&TileResult) -> Result<()>,
) -> Result<()> {
    let tiles = &drape.tiles.tiles;
    let own = tiles
        .iter()
        .enumerate()
        .filter(|(_, t)| t.sheet as usize == sheet);
    let own: Vec<usize> = own.map(|(number, _)| number).collect();
    let width = drape.mesh.sheets[sheet].width_px as usize;
    let mut rows = own.chunks(width.div_ceil(TILE_PX as usize).max(1));
    let read = |row: &[usize]| rows_of(drape, row, width, fill);
    let mut next = rows.next().map(read);
    while let Some(row) = next.take() {
        let row = row?;
        let after = rows.next();
        rayon::in_place_scope(|side| {
            side.spawn(|_| next = after.map(read));
            with(&row)
        })?;
    }
    Ok(())
}

fn rows_of(drape: &Drape, row: &[usize], width: usize, fill: Option<&Fill>) -> Result<TileResult> {
    let channels = drape.settings.channels;
    let height = row
        .first()
        .map_or(0, |&t| drape.tiles.tiles[t].height as usize);
    let mut into = TileResult::empty(width * height, channels);
    for &number in row {
        let tile = drape.tiles.tiles[number];
        let mut result = drape.tile(number)?;
        if let Some(fill) = fill {
            fill.apply(
                &drape.tiles.places(drape.mesh, number),
                channels,
                &mut result,
            );
        }
        let (x0, w) = (tile.x0 as usize, tile.width as usize);
        for y in 0..height {
            let (from, to) = (y * w..(y + 1) * w, y * width + x0..y * width + x0 + w);
            let wide = |r: &std::ops::Range<usize>| r.start * channels..r.end * channels;
            into.light[wide(&to)].copy_from_slice(&result.light[wide(&from)]);
            into.coverage[to.clone()].copy_from_slice(&result.coverage[from.clone()]);
            into.views[to.clone()].copy_from_slice(&result.views[from.clone()]);
            into.chosen[to.clone()].copy_from_slice(&result.chosen[from.clone()]);
            into.resolution_um[to].copy_from_slice(&result.resolution_um[from]);
        }
    }
    Ok(into)
}

/// Codes by the square root of light, where every curve is smooth.
fn table(encode: impl Fn(f64) -> f64 + Sync, most: f64) -> Vec<u16> {
    (0..=65535_u32)
        .into_par_iter()
        .map(|i| {
            let root = f64::from(i) / f64::from(ROOTS);
            (encode(root * root).clamp(0.0, 1.0) * most).round() as u16
        })
        .collect()
}

#[inline]
fn look_up(table: &[u16], light: f32) -> u16 {
    table[(light.clamp(0.0, 1.0).sqrt() * ROOTS + 0.5) as usize]
}

/// A PNG written row by row.
struct Grey<W: Write + 'static> {
    stream: StreamWriter<'static, W>,
}

impl<W: Write + 'static> Grey<W> {
    fn new(writer: W, [w, h]: [u32; 2], colour: ColorType, depth: BitDepth) -> Result<Self> {
        let mut encoder = Encoder::new(writer, w, h);
        encoder.set_color(colour);
        encoder.set_depth(depth);
        encoder.set_compression(Compression::Fast);
        let stream = encoder
            .write_header()
            .and_then(png::Writer::into_stream_writer);
        Ok(Self {
            stream: stream.map_err(|e| not_written(&e))?,
        })
    }

    fn put(&mut self, bytes: &[u8]) -> Result<()> {
        let written = self.stream.write_all(bytes);
        written.map_err(|e| not_written(&e))
    }

    fn end(self) -> Result<()> {
        self.stream.finish().map_err(|e| not_written(&e))
    }
}

struct Known<K: Write + Send + 'static> {
    coverage: Grey<K>,
    views: Grey<K>,
    resolution: Grey<K>,
    photo: Grey<K>,
}

impl<K: Write + Send + 'static> Known<K> {
    fn new(files: KnownFiles<K>, size: [u32; 2]) -> Result<Self> {
        let grey = |w, depth| Grey::new(w, size, ColorType::Grayscale, depth);
        Ok(Self {
            coverage: grey(files.coverage, BitDepth::Eight)?,
            views: grey(files.views, BitDepth::Eight)?,
            resolution: grey(files.resolution, BitDepth::Sixteen)?,
            photo: grey(files.photo, BitDepth::Sixteen)?,
        })
    }

    /// Gives the number of filled texels.
    fn put(&mut self, texels: &TileResult) -> Result<u64> {
        let mut code_of = [0; COVERAGE_CODES.len()];
        for (is, code) in COVERAGE_CODES {
            code_of[usize::from(is)] = code;
        }
        let codes: Vec<u8> = texels
            .coverage
            .iter()
            .map(|c| code_of[usize::from(*c)])
            .collect();
        let step = RESOLUTION_STEP_UM as f32;
        let steps = bytes_of(&texels.resolution_um, |um| {
            ((um / step).min(65535.0) as u16).to_be_bytes()
        });
        let numbers = bytes_of(&texels.chosen, |p| {
            if p == NO_PHOTO { 0 } else { p + 1 }.to_be_bytes()
        });
        let ((resolution, photo), (coverage, views)) = rayon::join(
            || (self.resolution.put(&steps), self.photo.put(&numbers)),
            || (self.coverage.put(&codes), self.views.put(&texels.views)),
        );
        resolution.and(photo).and(coverage).and(views)?;
        let filled = texels.coverage.iter().filter(|c| **c == coverage::FILLED);
        Ok(filled.count() as u64)
    }

    fn end(self) -> Result<()> {
        self.coverage.end()?;
        self.views.end()?;
        self.resolution.end()?;
        self.photo.end()
    }
}

fn not_written(error: &dyn std::fmt::Display) -> ImagingError {
    ImagingError::new(
        format!("an image of the layer could not be written: {error}"),
        "output folder",
        "Check that there is room on the disk, and run the same command again: what is done is kept.",
    )
}
