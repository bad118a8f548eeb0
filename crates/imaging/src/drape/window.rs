//! Samples of a photograph read from the room block by block, as they are asked for.

use glam::Vec4;

use super::levels::{BLOCK_PX, Level, root_light};
use super::room::{Room, kept, u16_of_bytes};
use crate::error::{ImagingError, Result};
use crate::register::keys;

/// How far a reading between pixels may go beyond them, as a part of their difference: a line one pixel
/// wide is not flattened, and the ringing of the cubic at a step (7 %) passes (a choice of ours, made on
/// simulated photographs).
const OVERSHOOT: f32 = 0.25;

/// Not read yet.
const ABSENT: u32 = u32::MAX;

/// The part of one level of a photograph that is in memory: four numbers a pixel, however many channels it
/// has, so that a processor takes them at once.
pub(crate) struct Window<'a> {
    room: &'a dyn Room,
    level: Level,
    /// The last column and row.
    last: [f32; 2],
    /// Light of each code; `None` for square roots.
    light_of_code: Option<&'a [f32]>,
    columns: usize,
    blocks: Vec<u32>,
    samples: Vec<Vec4>,
    /// Why a block could not be read: what is read since is not to be used.
    trouble: Option<ImagingError>,
}

impl<'a> Window<'a> {
    pub(crate) fn new(room: &'a dyn Room, level: Level, light_of_code: Option<&'a [f32]>) -> Self {
        let (columns, rows) = level.blocks();
        Self {
            room,
            last: [level.width_px, level.height_px].map(|px| (px - 1) as f32),
            level,
            light_of_code,
            columns,
            blocks: vec![ABSENT; columns * rows],
            samples: Vec::new(),
            trouble: None,
        }
    }

    /// Bytes of samples in memory.
    pub(crate) fn bytes(&self) -> usize {
        self.samples.len() * size_of::<Vec4>()
    }

    /// Forgets all samples.
    pub(crate) fn clear(&mut self) {
        if !self.samples.is_empty() {
            self.blocks.fill(ABSENT);
            self.samples.clear();
        }
    }

    /// What went wrong while reading, if anything did.
    pub(crate) fn trouble(&mut self) -> Result<()> {
        self.trouble.take().map_or(Ok(()), Err)
    }

    /// Where the samples of a block begin.
    #[inline]
    fn block(&mut self, x: usize, y: usize) -> usize {
        let block = y / BLOCK_PX * self.columns + x / BLOCK_PX;
        let first = self.blocks[block];
        if first == ABSENT {
            return self.load(block) as usize;
        }
        first as usize
    }

    /// Where a pixel's sample is.
    #[inline]
    fn pixel(&mut self, x: usize, y: usize) -> usize {
        self.block(x, y) + within(x, y)
    }

    #[cold]
    fn load(&mut self, block: usize) -> u32 {
        let channels = self.level.channels;
        let first = self.samples.len() as u32;
        let mut bytes = vec![0; self.level.block_samples() * 2];
        let at = (block * bytes.len()) as u64;
        if let Err(error) = kept(self.room.read(&self.level.file, at, &mut bytes)) {
            self.trouble = Some(error);
        }
        let codes: Vec<u16> = u16_of_bytes(&bytes).collect();
        let samples = &mut self.samples;
        match self.light_of_code {
            Some(light) => put(samples, channels, &codes, |code| light[usize::from(code)]),
            None => put(samples, channels, &codes, root_light),
        }
        self.blocks[block] = first;
        first
    }

    /// Bilinear, at a position in pixels of this level.
    #[inline]
    pub(crate) fn bilinear(&mut self, at: [f64; 2]) -> Vec4 {
        let (x, fx) = along(at[0], self.level.width_px);
        let (y, fy) = along(at[1], self.level.height_px);
        let (right, below) = (
            usize::from(x + 1 < self.level.width_px),
            usize::from(y + 1 < self.level.height_px),
        );
        let corners = if x % BLOCK_PX + right < BLOCK_PX && y % BLOCK_PX + below < BLOCK_PX {
            let first = self.pixel(x, y);
            let next = first + below * BLOCK_PX;
            [first, first + right, next, next + right]
        } else {
            [
                self.pixel(x, y),
                self.pixel(x + right, y),
                self.pixel(x, y + below),
                self.pixel(x + right, y + below),
            ]
        };
        let [a, b, c, d] = corners.map(|at| self.samples[at]);
        let weights = [
            (1.0 - fx) * (1.0 - fy),
            fx * (1.0 - fy),
            (1.0 - fx) * fy,
            fx * fy,
        ];
        a * weights[0] + b * weights[1] + c * weights[2] + d * weights[3]
    }

    /// Bilinear on a blurred level, at a position in pixels of it: single precision is exact to a thousandth of
    /// a pixel there.
    #[inline]
    pub(crate) fn blurred(&mut self, at: [f32; 2]) -> Vec4 {
        let along = |k: usize| before((at[k] - 0.5).max(0.0).min(self.last[k]));
        let ((x, fx), (y, fy)) = (along(0), along(1));
        // Beyond the edge of the picture a block repeats it.
        let (a, b, c, d) = if x % BLOCK_PX + 1 < BLOCK_PX && y % BLOCK_PX + 1 < BLOCK_PX {
            let first = self.pixel(x, y);
            let rows = &self.samples[first..first + BLOCK_PX + 2];
            (rows[0], rows[1], rows[BLOCK_PX], rows[BLOCK_PX + 1])
        } else {
            let right = (x + 1).min(self.level.width_px - 1);
            let below = (y + 1).min(self.level.height_px - 1);
            let places = [(x, y), (right, y), (x, below), (right, below)];
            let at = places.map(|(x, y)| self.pixel(x, y));
            let [a, b, c, d] = at.map(|at| self.samples[at]);
            (a, b, c, d)
        };
        let (above, below) = (a + (b - a) * fx, c + (d - c) * fx);
        above + (below - above) * fy
    }

    /// Bicubic, as sharp as the pixels allow (R. Keys, "Cubic convolution interpolation for digital
    /// image processing", IEEE Transactions on Acoustics, Speech, and Signal Processing 29, 1981);
    /// beyond the least and the most of the four pixels about the position by [`OVERSHOOT`] at most, so
    /// that an edge hardly rings.
    #[inline]
    pub(crate) fn bicubic(&mut self, at: [f64; 2]) -> Vec4 {
        let (x, fx) = along(at[0], self.level.width_px);
        let (y, fy) = along(at[1], self.level.height_px);
        let (wx, wy) = (keys(fx), keys(fy));
        let inside = |v: usize, length: usize| {
            v + 2 < length && !v.is_multiple_of(BLOCK_PX) && v % BLOCK_PX + 2 < BLOCK_PX
        };
        let mut rows = [[Vec4::ZERO; 4]; 4];
        if inside(x, self.level.width_px) && inside(y, self.level.height_px) {
            let first = self.pixel(x - 1, y - 1);
            for (j, row) in rows.iter_mut().enumerate() {
                row.copy_from_slice(&self.samples[first + j * BLOCK_PX..][..4]);
            }
        } else {
            let places = |v: usize, length: usize| {
                [v.saturating_sub(1), v, v + 1, v + 2].map(|p| p.min(length - 1))
            };
            let xs = places(x, self.level.width_px);
            for (row, y) in rows.iter_mut().zip(places(y, self.level.height_px)) {
                *row = xs.map(|x| {
                    let at = self.pixel(x, y);
                    self.samples[at]
                });
            }
        }
        let mut sum = Vec4::ZERO;
        for (row, fy) in rows.iter().zip(wy) {
            sum += (row[0] * wx[0] + row[1] * wx[1] + row[2] * wx[2] + row[3] * wx[3]) * fy;
        }
        let inner = [rows[1][1], rows[1][2], rows[2][1], rows[2][2]];
        let least = inner[0].min(inner[1]).min(inner[2].min(inner[3]));
        let most = inner[0].max(inner[1]).max(inner[2].max(inner[3]));
        let slack = OVERSHOOT * (most - least);
        sum.max(least - slack).min(most + slack)
    }
}

/// The pixel before a position, and how far beyond its middle that lies: 0 to 1.
#[inline]
fn along(v: f64, length: usize) -> (usize, f32) {
    // As [`before`], in double precision from 2⁵² on.
    const WHOLE: f64 = 4_503_599_627_370_496.0;
    let v = (v - 0.5).max(0.0).min((length - 1) as f64);
    let rounded = (v - 0.5).max(0.0) + WHOLE;
    let low = rounded.to_bits() - WHOLE.to_bits();
    (low as usize, (v - (rounded - WHOLE)) as f32)
}

/// The pixel before a position from its middle, and how far beyond that it lies: 0 to 1, at whole numbers
/// either of the two. From 2²³ on single precision has whole numbers only, so that adding it rounds, in fewer
/// steps than any other way.
#[inline]
pub(crate) fn before(v: f32) -> (usize, f32) {
    const WHOLE: f32 = 8_388_608.0;
    let rounded = (v - 0.5).max(0.0) + WHOLE;
    let low = rounded.to_bits() - WHOLE.to_bits();
    (low as usize, v - (rounded - WHOLE))
}

/// Puts the light of pixels behind what is there.
fn put(samples: &mut Vec<Vec4>, channels: usize, codes: &[u16], light: impl Fn(u16) -> f32 + Copy) {
    match channels {
        1 => samples.extend(codes.iter().map(|&c| Vec4::new(light(c), 0.0, 0.0, 0.0))),
        3 => {
            let pixels = codes.as_chunks::<3>().0.iter();
            samples.extend(pixels.map(|p| Vec4::new(light(p[0]), light(p[1]), light(p[2]), 0.0)));
        }
        4 => {
            let pixels = codes.as_chunks::<4>().0.iter();
            samples.extend(pixels.map(|p| Vec4::from(p.map(light))));
        }
        _ => samples.extend(codes.chunks_exact(channels).map(|pixel| {
            let mut four = [0.0; 4];
            for (v, code) in four.iter_mut().zip(pixel) {
                *v = light(*code);
            }
            Vec4::from(four)
        })),
    }
}

/// Place of a pixel in its block.
#[inline]
fn within(x: usize, y: usize) -> usize {
    (y % BLOCK_PX) * BLOCK_PX + x % BLOCK_PX
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_is_the_pixel_before_it_and_what_is_beyond() {
        for i in 0..600_000 {
            let v = i as f32 * 0.0137;
            let (low, beyond) = before(v);
            assert!((0.0..=1.0).contains(&beyond), "{v}");
            assert_eq!(low as f32 + beyond, v);
            let at = f64::from(v) + 0.5;
            let (low, beyond) = along(at, 10_000);
            assert!((0.0..=1.0).contains(&beyond), "{at}");
            assert!((low as f64 + f64::from(beyond) + 0.5 - at).abs() < 1e-6);
        }
        // Beyond the picture its edge.
        assert_eq!(along(-3.0, 8), (0, 0.0));
        let (low, beyond) = along(9.0, 8);
        assert_eq!(low as f32 + beyond, 7.0);
    }
}
