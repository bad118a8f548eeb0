//! Flat field and dark frame.
//!
//! corrected = (photo - dark) / (flat - dark) * mean(flat - dark), in linear light, each channel by
//! itself, so that the flat field takes out the light's unevenness and not its colour (EMVA 1288
//! release 4.0, section on spatial non-uniformity, uses the same correction).

use super::{LinearPhoto, Photo};
use crate::error::{ImagingError, Result};

/// Side of the cells over which the flat field is averaged: noise and dust on the card do not pass
/// into the photograph, the fall-off of light does (common practice, no source).
const CELL_PX: usize = 32;

/// A flat field darker than this anywhere, or with more clipped pixels than a hundredth, cannot be
/// divided by (common practice, no source).
const LEAST_LIGHT: f32 = 0.01;

/// The flat field, as gains on a coarse grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Flat {
    columns: usize,
    rows: usize,
    gains: Vec<[f32; 3]>,
    /// (largest - smallest) / largest of the green channel, in percent.
    pub non_uniformity_percent: f64,
}

impl Flat {
    /// From a photograph of an even surface.
    pub fn new(flat: &Photo, dark: Option<&Photo>) -> Result<Self> {
        let field = match dark {
            Some(dark) => {
                flat.same_size(dark)?;
                Some(Field {
                    flat: None,
                    dark: Some(dark.clone()),
                })
            }
            None => None,
        };
        let view = LinearPhoto::new(flat, field.as_ref());
        let columns = flat.width_px.div_ceil(CELL_PX);
        let rows = flat.height_px.div_ceil(CELL_PX);
        let cells: Vec<[f32; 3]> = (0..columns * rows)
            .map(|i| cell_mean(&view, i % columns, i / columns))
            .collect();
        let darkest = cells
            .iter()
            .flatten()
            .copied()
            .fold(f32::INFINITY, f32::min);
        let clipped = flat
            .samples
            .iter()
            .filter(|&&s| s >= u16::MAX - 257)
            .count();
        if darkest < LEAST_LIGHT || clipped * 100 > flat.samples.len() {
            return Err(ImagingError::new(
                "the flat field is black or clipped in places",
                flat.name.clone(),
                "Photograph an even grey card out of focus, well exposed, under the same light.",
            ));
        }
        let n = cells.len() as f32;
        let mean = [0, 1, 2].map(|c| cells.iter().map(|cell| cell[c]).sum::<f32>() / n);
        let green = |pick: fn(f32, f32) -> f32| cells.iter().map(|c| c[1]).reduce(pick);
        let (low, high) = (
            green(f32::min).unwrap_or(1.0),
            green(f32::max).unwrap_or(1.0),
        );
        let gains = cells
            .iter()
            .map(|cell| [0, 1, 2].map(|c| mean[c] / cell[c]))
            .collect();
        Ok(Self {
            columns,
            rows,
            gains,
            non_uniformity_percent: f64::from((high - low) / high) * 100.0,
        })
    }

    /// The gains at a pixel, bilinear between the centres of the cells.
    pub fn gains(&self, x: usize, y: usize) -> [f32; 3] {
        let cell = CELL_PX as f32;
        let (x0, x1, fx) = between((x as f32 + 0.5) / cell - 0.5, self.columns);
        let (y0, y1, fy) = between((y as f32 + 0.5) / cell - 0.5, self.rows);
        let at = |cx: usize, cy: usize| self.gains[cy * self.columns + cx];
        let (a, b, c, d) = (at(x0, y0), at(x1, y0), at(x0, y1), at(x1, y1));
        [0, 1, 2].map(|k| {
            let top = a[k] + (b[k] - a[k]) * fx;
            let bottom = c[k] + (d[k] - c[k]) * fx;
            top + (bottom - top) * fy
        })
    }
}

fn between(at: f32, count: usize) -> (usize, usize, f32) {
    let at = at.clamp(0.0, (count - 1) as f32);
    let low = at.floor() as usize;
    (low, (low + 1).min(count - 1), at - low as f32)
}

fn cell_mean(view: &LinearPhoto, column: usize, row: usize) -> [f32; 3] {
    let (x0, y0) = (column * CELL_PX, row * CELL_PX);
    let x1 = (x0 + CELL_PX).min(view.photo.width_px);
    let y1 = (y0 + CELL_PX).min(view.photo.height_px);
    let mut sum = [0.0; 3];
    for y in y0..y1 {
        for x in x0..x1 {
            let value = view.at(x, y).0;
            for c in 0..3 {
                sum[c] += value[c];
            }
        }
    }
    let n = ((x1 - x0) * (y1 - y0)) as f64;
    sum.map(|s| (s / n) as f32)
}

/// What is taken out of a photograph before its colour is judged.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Field {
    /// The flat field.
    pub flat: Option<Flat>,
    /// The dark frame, encoded like the photograph.
    pub dark: Option<Photo>,
}

impl Field {
    /// Linear values of the pixel (`x`, `y`) without dark current and uneven light.
    /// `light_of_code` decodes the dark frame.
    pub fn apply(&self, raw: [f64; 3], x: usize, y: usize, light_of_code: &[f32]) -> [f64; 3] {
        let mut light = raw;
        if let Some(dark) = &self.dark {
            let at = 3 * (y * dark.width_px + x);
            for (c, value) in light.iter_mut().enumerate() {
                *value -= f64::from(light_of_code[usize::from(dark.samples[at + c])]);
            }
        }
        if let Some(flat) = &self.flat {
            let gains = flat.gains(x, y);
            for (value, gain) in light.iter_mut().zip(gains) {
                *value *= f64::from(gain);
            }
        }
        light
    }
}
