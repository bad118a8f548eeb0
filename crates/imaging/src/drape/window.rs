//! Samples of a photograph read from the room block by block, as they are asked for.

use super::levels::{BLOCK_PX, Level, root_light};
use super::room::{Room, kept, u16_of_bytes};
use crate::error::Result;
use crate::register::keys;

/// How far a reading between pixels may go beyond them, as a part of their difference: a line one pixel
/// wide is not flattened, and the ringing of the cubic at a step (7 %) passes (a choice of ours, made on
/// simulated photographs).
const OVERSHOOT: f32 = 0.25;

/// Not read yet.
const ABSENT: u32 = u32::MAX;

/// The part of one level of a photograph that is in memory.
pub(crate) struct Window<'a> {
    level: Level,
    /// Light of each code; `None` for square roots.
    light_of_code: Option<&'a [f32]>,
    columns: usize,
    blocks: Vec<u32>,
    samples: Vec<f32>,
}

impl<'a> Window<'a> {
    pub(crate) fn new(level: Level, light_of_code: Option<&'a [f32]>) -> Self {
        let (columns, rows) = level.blocks();
        Self {
            level,
            light_of_code,
            columns,
            blocks: vec![ABSENT; columns * rows],
            samples: Vec::new(),
        }
    }

    /// Bytes of samples in memory.
    pub(crate) fn bytes(&self) -> usize {
        self.samples.len() * 4
    }

    /// Forgets all samples.
    pub(crate) fn clear(&mut self) {
        if !self.samples.is_empty() {
            self.blocks.fill(ABSENT);
            self.samples.clear();
        }
    }

    /// Where the samples of a pixel begin.
    #[inline]
    fn pixel(&mut self, room: &dyn Room, x: usize, y: usize) -> Result<usize> {
        let block = y / BLOCK_PX * self.columns + x / BLOCK_PX;
        let mut first = self.blocks[block];
        if first == ABSENT {
            first = self.load(room, block)?;
        }
        let within = (y % BLOCK_PX) * BLOCK_PX + x % BLOCK_PX;
        Ok(first as usize + within * self.level.channels)
    }

    #[cold]
    fn load(&mut self, room: &dyn Room, block: usize) -> Result<u32> {
        let count = self.level.block_samples();
        let mut bytes = vec![0; count * 2];
        kept(room.read(&self.level.file, (block * count * 2) as u64, &mut bytes))?;
        let first = self.samples.len() as u32;
        match self.light_of_code {
            Some(light) => {
                let lights = u16_of_bytes(&bytes).map(|code| light[usize::from(code)]);
                self.samples.extend(lights);
            }
            None => self.samples.extend(u16_of_bytes(&bytes).map(root_light)),
        }
        self.blocks[block] = first;
        Ok(first)
    }

    /// Bilinear, at a position in pixels of this level.
    #[inline]
    pub(crate) fn bilinear(&mut self, room: &dyn Room, at: [f64; 2]) -> Result<[f32; 4]> {
        let along = |v: f64, length: usize| {
            let v = (v - 0.5).clamp(0.0, (length - 1) as f64);
            let low = v as usize;
            (low, (low + 1).min(length - 1), (v - low as f64) as f32)
        };
        let (x0, x1, fx) = along(at[0], self.level.width_px);
        let (y0, y1, fy) = along(at[1], self.level.height_px);
        let corners = [
            (self.pixel(room, x0, y0)?, (1.0 - fx) * (1.0 - fy)),
            (self.pixel(room, x1, y0)?, fx * (1.0 - fy)),
            (self.pixel(room, x0, y1)?, (1.0 - fx) * fy),
            (self.pixel(room, x1, y1)?, fx * fy),
        ];
        let mut out = [0.0; 4];
        for (first, weight) in corners {
            let samples = &self.samples[first..first + self.level.channels];
            for (sum, sample) in out.iter_mut().zip(samples) {
                *sum += sample * weight;
            }
        }
        Ok(out)
    }

    /// Bicubic, as sharp as the pixels allow (R. Keys, "Cubic convolution interpolation for digital
    /// image processing", IEEE Transactions on Acoustics, Speech, and Signal Processing 29, 1981);
    /// beyond the least and the most of the four pixels about the position by [`OVERSHOOT`] at most, so
    /// that an edge hardly rings.
    #[inline]
    pub(crate) fn bicubic(&mut self, room: &dyn Room, at: [f64; 2]) -> Result<[f32; 4]> {
        let along = |v: f64, length: usize| {
            let v = (v - 0.5).clamp(0.0, (length - 1) as f64);
            let low = v as usize;
            let places = [low.saturating_sub(1), low, low + 1, low + 2].map(|p| p.min(length - 1));
            (places, keys((v - low as f64) as f32))
        };
        let (xs, wx) = along(at[0], self.level.width_px);
        let (ys, wy) = along(at[1], self.level.height_px);
        let channels = self.level.channels;
        let mut out = [0.0; 4];
        let mut least = [f32::INFINITY; 4];
        let mut most = [f32::NEG_INFINITY; 4];
        for (j, (&y, fy)) in ys.iter().zip(wy).enumerate() {
            for (i, (&x, fx)) in xs.iter().zip(wx).enumerate() {
                let first = self.pixel(room, x, y)?;
                let inner = (1..3).contains(&i) && (1..3).contains(&j);
                for (c, &sample) in self.samples[first..first + channels].iter().enumerate() {
                    out[c] += sample * fx * fy;
                    if inner {
                        least[c] = least[c].min(sample);
                        most[c] = most[c].max(sample);
                    }
                }
            }
        }
        for c in 0..channels {
            let slack = OVERSHOOT * (most[c] - least[c]);
            out[c] = out[c].clamp(least[c] - slack, most[c] + slack);
        }
        Ok(out)
    }
}
