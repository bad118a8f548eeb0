//! A photograph at several levels of detail, kept in blocks: itself, and more and more blurred.
//!
//! Mixing photographs level by level (Burt and Adelson, "A multiresolution spline with application
//! to image mosaics", ACM Transactions on Graphics 2(4), 1983) hides differences of brightness
//! without doubling fine detail that lies a little apart. Photographs from near and from far must be
//! blurred by the same length on the surface, or edges get a halo: hence levels a factor of two
//! apart, between which is read.

use std::ops::Range;

use glam::Vec4;
use rayon::prelude::*;

use super::margin::Margin;
use super::picture::Picture;
use super::room::{Room, bytes_of_u16, kept};
use crate::error::Result;

/// Side of a block in pixels: of three channels it is 24 KiB, which a disk reads in one go and of which a
/// tile needs few (a choice of ours).
pub(crate) const BLOCK_PX: usize = 64;

/// Each level is smaller than the photograph by this: there is none by 2, since what is blurred so little
/// is read from the photograph itself (a choice of ours).
pub(crate) const SHRINK: [usize; 6] = [1, 4, 8, 16, 32, 64];

/// The level whose last channel is the detail: it is judged over 16 pixels, more than an edge and less
/// than a field of paint (a choice of ours).
pub(crate) const DETAIL_LEVEL: usize = 3;

/// Standard deviation of the blur of level 1 in pixels of the photograph, by adding the variances of
/// the box of 4 pixels (1.25), of [`BLUR`] (1 cell of 4 pixels) and of reading between the cells
/// (1/6 cell); each further level is blurred by [`BLUR_STEP`] times more, nearly.
pub(crate) const BLUR_PX: f64 = 4.5;
pub(crate) const BLUR_STEP: f64 = 2.1;

/// Background has this weight in the blurred levels: none where the object is near, and something where
/// there is nothing else (a choice of ours).
const BACKGROUND: f32 = 1e-4;

/// Binomial weights of the blur (Burt and Adelson's a = 3/8).
const BLUR: [f32; 5] = [1.0, 4.0, 6.0, 4.0, 1.0];

/// Detail is judged relative to the light plus this, so that noise in the dark is not detail: several
/// times the noise of a camera at low sensitivity (a choice of ours).
const DARK: f32 = 0.02;

/// How the levels of a photograph lie in the room.
#[derive(Debug, Clone)]
pub(crate) struct Level {
    pub(crate) file: String,
    pub(crate) width_px: usize,
    pub(crate) height_px: usize,
    pub(crate) channels: usize,
}

impl Level {
    /// Of photograph `number`: level 0 has its codes, the others the square root of light.
    pub(crate) fn of(number: usize, level: usize, size_px: [usize; 2], channels: usize) -> Self {
        Self {
            file: format!("photo-{number}-{level}"),
            width_px: size_px[0].div_ceil(SHRINK[level]),
            height_px: size_px[1].div_ceil(SHRINK[level]),
            channels: channels + usize::from(level == DETAIL_LEVEL),
        }
    }

    pub(crate) fn blocks(&self) -> (usize, usize) {
        (
            self.width_px.div_ceil(BLOCK_PX),
            self.height_px.div_ceil(BLOCK_PX),
        )
    }

    pub(crate) fn block_samples(&self) -> usize {
        BLOCK_PX * BLOCK_PX * self.channels
    }

    /// Writes rows of samples as blocks; pixels beyond the edge repeat it. `put` appends the samples of pixels
    /// of a row.
    fn write(
        &self,
        room: &dyn Room,
        put: &(impl Fn(Range<usize>, usize, &mut Vec<u16>) + Sync),
    ) -> Result<()> {
        let (columns, rows) = self.blocks();
        let row_bytes = (columns * self.block_samples() * 2) as u64;
        (0..rows).into_par_iter().try_for_each(|by| {
            let mut samples = Vec::with_capacity(columns * self.block_samples());
            for bx in 0..columns {
                let x0 = bx * BLOCK_PX;
                let x1 = (x0 + BLOCK_PX).min(self.width_px);
                for y in 0..BLOCK_PX {
                    let y = (by * BLOCK_PX + y).min(self.height_px - 1);
                    put(x0..x1, y, &mut samples);
                    for _ in x1..x0 + BLOCK_PX {
                        samples.extend_from_within(samples.len() - self.channels..);
                    }
                }
            }
            kept(room.write(&self.file, by as u64 * row_bytes, &bytes_of_u16(&samples)))
        })
    }
}

/// Square roots keep the dark codes apart.
pub(crate) fn root_code(light: f32) -> u16 {
    (light.clamp(0.0, 1.0).sqrt() * 65535.0 + 0.5) as u16
}

/// Light of [`root_code`].
pub(crate) fn root_light(code: u16) -> f32 {
    let root = f32::from(code) / 65535.0;
    root * root
}

/// Writes the levels of photograph `number`.
pub(crate) fn write(
    room: &dyn Room,
    number: usize,
    picture: &Picture,
    margin: &Margin,
) -> Result<()> {
    let size = [picture.width_px, picture.height_px];
    let channels = picture.channels;
    let level = |l: usize| Level::of(number, l, size, channels);
    level(0).write(room, &|xs, y, out| {
        let row = y * picture.width_px;
        let codes = (row + xs.start) * channels..(row + xs.end) * channels;
        out.extend_from_slice(&picture.codes[codes]);
    })?;
    let mut of = level(1);
    let (mut pixels, mut detail) = quarter(picture, margin, &of);
    pixels = blurred(&pixels, &of);
    for number in 1..SHRINK.len() {
        if number > 1 {
            let next = level(number);
            pixels = blurred(&shrunk(&pixels, &of, &next), &next);
            detail = shrunk_detail(&detail, &of, &next);
            of = next;
        }
        let with_detail = of.channels > channels;
        of.write(room, &|xs, y, out| {
            for at in y * of.width_px + xs.start..y * of.width_px + xs.end {
                let light = light(pixels[at]).to_array();
                out.extend(light[..channels].iter().map(|v| root_code(*v)));
                out.extend(with_detail.then(|| root_code(detail[at])));
            }
        })?;
    }
    Ok(())
}

/// Light of a pixel times how much it counts, and how much that is in the last number: weighed means are sums.
type Weighed = Vec4;

/// The light that was weighed.
fn light(pixel: Weighed) -> Vec4 {
    if pixel.w > 0.0 {
        pixel / pixel.w
    } else {
        Vec4::ZERO
    }
}

/// Means of 4 × 4 pixels, and the detail in each: mean deviation relative to the light.
fn quarter(picture: &Picture, margin: &Margin, to: &Level) -> (Vec<Weighed>, Vec<f32>) {
    let mean = match picture.channels {
        3 => mean_of_box::<3>,
        _ => mean_of_box::<1>,
    };
    (0..to.width_px * to.height_px)
        .into_par_iter()
        .map(|i| {
            let corner = [i % to.width_px, i / to.width_px].map(|v| v * BOX);
            let (mean, detail) = mean(picture, corner);
            let weight = if margin.is_object(corner[0], corner[1]) {
                1.0
            } else {
                BACKGROUND
            };
            (mean * weight, detail)
        })
        .unzip()
}

/// Side of the boxes of which level 1 is made, in pixels.
const BOX: usize = SHRINK[1];

/// The mean light of a box of pixels, its last number 1, and the detail in it.
fn mean_of_box<const CHANNELS: usize>(picture: &Picture, [x0, y0]: [usize; 2]) -> (Vec4, f32) {
    let width = (picture.width_px - x0).min(BOX);
    let mut sum = [0.0_f32; CHANNELS];
    let mut greens = [0.0_f32; BOX * BOX];
    let mut count = 0;
    for y in y0..(y0 + BOX).min(picture.height_px) {
        let row = (y * picture.width_px + x0) * CHANNELS;
        let codes = &picture.codes[row..row + width * CHANNELS];
        for pixel in codes.as_chunks::<CHANNELS>().0 {
            let light = pixel.map(|code| picture.light_of_code[usize::from(code)]);
            for (sum, light) in sum.iter_mut().zip(light) {
                *sum += light;
            }
            greens[count] = light[CHANNELS / 2];
            count += 1;
        }
    }
    let share = 1.0 / count as f32;
    let mut mean = Vec4::W;
    for (k, sum) in sum.into_iter().enumerate() {
        mean[k] = sum * share;
    }
    let middle = mean[CHANNELS / 2];
    let off: f32 = greens[..count].iter().map(|g| (g - middle).abs()).sum();
    (mean, off * share / (middle + DARK))
}

/// Weighed binomial blur along both axes.
fn blurred(pixels: &[Weighed], level: &Level) -> Vec<Weighed> {
    let (w, h) = (level.width_px, level.height_px);
    let pass = |from: &[Weighed], along: usize, length: usize, at: usize, place: usize| {
        let there = |k: usize| {
            let there = (place + k).saturating_sub(2).min(length - 1);
            from[at + there * along - place * along]
        };
        let weighed = BLUR.iter().enumerate();
        let sum = weighed.fold(Vec4::ZERO, |sum, (k, times)| sum + there(k) * *times);
        sum * (1.0 / 16.0)
    };
    let across: Vec<Weighed> = (0..w * h)
        .into_par_iter()
        .map(|i| pass(pixels, 1, w, i, i % w))
        .collect();
    (0..w * h)
        .into_par_iter()
        .map(|i| pass(&across, w, h, i, i / w))
        .collect()
}

fn shrunk(pixels: &[Weighed], from: &Level, to: &Level) -> Vec<Weighed> {
    boxes(from, to)
        .map(|places| 0.25 * places.map(|at| pixels[at]).sum::<Vec4>())
        .collect()
}

fn shrunk_detail(detail: &[f32], from: &Level, to: &Level) -> Vec<f32> {
    boxes(from, to)
        .map(|places| {
            let (sum, count) = places.fold((0.0, 0.0), |(s, n), at| (s + detail[at], n + 1.0));
            sum / count
        })
        .collect()
}

/// For each pixel of a level half the size the places it is made of.
fn boxes(
    from: &Level,
    to: &Level,
) -> impl Iterator<Item = impl Iterator<Item = usize> + use<>> + use<> {
    let (width, height) = (from.width_px, from.height_px);
    let (columns, rows) = (to.width_px, to.height_px);
    (0..columns * rows).map(move |i| {
        let (x0, y0) = (i % columns * 2, i / columns * 2);
        let (x1, y1) = ((x0 + 2).min(width), (y0 + 2).min(height));
        (y0..y1).flat_map(move |y| (x0..x1).map(move |x| y * width + x))
    })
}
