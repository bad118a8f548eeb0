//! Reading the patches of a chart whose place is known.

use crate::camera::CameraRgb;
use crate::error::{ImagingError, Result};
use crate::geometry::{Homography, Point};
use crate::photo::LinearPhoto;
use crate::reference::Reference;

/// The inner part of a patch that is read, as a fraction of the pitch along each side: the edge has
/// blur, shadow and dust (common practice, no source).
const INNER: f64 = 0.5;

/// The part of the pixels left out at either end, channel by channel: specks and scratches.
const TRIM: f64 = 0.1;

/// Fewer pixels than this are no mean (common practice, no source).
const LEAST_PIXELS: usize = 16;

/// A sample at or above this part of the largest code counts as clipped.
const CLIPPED: f64 = 0.998;

/// What a patch looks like in the photograph.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchReading {
    /// Trimmed mean of linear camera values, after flat field and dark frame.
    pub camera: CameraRgb,
    /// Trimmed mean of the codes as in the file, 0..1.
    pub encoded: [f64; 3],
    /// Standard deviation of the green channel over its mean: noise and texture.
    pub relative_spread: f64,
    /// The part of the pixels with a clipped channel.
    pub clipped: f64,
    /// Pixels read.
    pub pixels: usize,
}

/// Reads every patch, in the order of the reference.
pub fn read_patches(
    view: &LinearPhoto,
    px_from_chart: &Homography,
    reference: &Reference,
) -> Result<Vec<PatchReading>> {
    let outside = || {
        ImagingError::new(
            "part of the chart lies outside the photograph",
            view.photo.name.clone(),
            "Check the corners: x to the right and y down from the top left corner, in pixels.",
        )
    };
    let chart_from_px = px_from_chart.inverse().ok_or_else(outside)?;
    (0..reference.patches.len())
        .map(|i| {
            let (column, row) = (i % reference.columns, i / reference.columns);
            let centre = [column as f64 + 0.5, row as f64 + 0.5];
            let quad = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|[x, y]| {
                let half = INNER / 2.0;
                px_from_chart.apply([centre[0] + x * half, centre[1] + y * half])
            });
            let bounds = bounds(&quad, view).ok_or_else(outside)?;
            let pixels = pixels_within(&chart_from_px, centre, bounds);
            reading(view, &pixels).ok_or_else(|| {
                ImagingError::new(
                    format!(
                        "patch “{}” covers too few pixels",
                        reference.patches[i].name
                    ),
                    view.photo.name.clone(),
                    "Photograph the chart larger, or check the corners.",
                )
            })
        })
        .collect()
}

/// First and last column, first and last row.
fn bounds(quad: &[Point; 4], view: &LinearPhoto) -> Option<[usize; 4]> {
    let limit = |k: usize, largest: usize| {
        let low = quad.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min);
        let high = quad.iter().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max);
        let inside = low >= 0.0 && high <= largest as f64 && low <= high;
        inside.then(|| (low as usize, (high as usize).min(largest - 1)))
    };
    let (x0, x1) = limit(0, view.photo.width_px)?;
    let (y0, y1) = limit(1, view.photo.height_px)?;
    Some([x0, x1, y0, y1])
}

fn pixels_within(
    chart_from_px: &Homography,
    centre: Point,
    [x0, x1, y0, y1]: [usize; 4],
) -> Vec<(usize, usize)> {
    // Of a very large patch every n-th pixel is enough.
    let step = ((x1 - x0).min(y1 - y0) / 200).max(1);
    let mut pixels = Vec::new();
    for y in (y0..=y1).step_by(step) {
        for x in (x0..=x1).step_by(step) {
            let p = chart_from_px.apply([x as f64 + 0.5, y as f64 + 0.5]);
            let inside = |k: usize| (p[k] - centre[k]).abs() <= INNER / 2.0;
            if inside(0) && inside(1) {
                pixels.push((x, y));
            }
        }
    }
    pixels
}

fn reading(view: &LinearPhoto, pixels: &[(usize, usize)]) -> Option<PatchReading> {
    if pixels.len() < LEAST_PIXELS {
        return None;
    }
    let linear: Vec<[f64; 3]> = pixels.iter().map(|&(x, y)| view.at(x, y).0).collect();
    let codes: Vec<[f64; 3]> = pixels
        .iter()
        .map(|&(x, y)| view.photo.encoded(x, y))
        .collect();
    let clipped = codes
        .iter()
        .filter(|code| code.iter().any(|&v| v >= CLIPPED))
        .count();
    let n = pixels.len() as f64;
    let green = linear.iter().map(|v| v[1]).sum::<f64>() / n;
    let variance = linear.iter().map(|v| (v[1] - green).powi(2)).sum::<f64>() / n;
    Some(PatchReading {
        camera: CameraRgb([0, 1, 2].map(|c| trimmed_mean(&linear, c))),
        encoded: [0, 1, 2].map(|c| trimmed_mean(&codes, c)),
        relative_spread: variance.sqrt() / green.abs().max(1e-6),
        clipped: clipped as f64 / n,
        pixels: pixels.len(),
    })
}

fn trimmed_mean(values: &[[f64; 3]], channel: usize) -> f64 {
    let mut sorted: Vec<f64> = values.iter().map(|v| v[channel]).collect();
    sorted.sort_by(f64::total_cmp);
    let cut = (sorted.len() as f64 * TRIM) as usize;
    let kept = &sorted[cut..sorted.len() - cut];
    kept.iter().sum::<f64>() / kept.len() as f64
}
