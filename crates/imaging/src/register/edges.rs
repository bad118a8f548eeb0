//! What two bands share: the direction of their edges, whichever side is the lighter.
//!
//! At each pixel the gradient g, as a complex number, is squared and divided by |g|² + e² (after A. J.
//! Fitch et al., "Orientation correlation", BMVC 2002, and E. Haber, J. Modersitzki, "Intensity
//! gradient based registration and fusion of multi-modal images", MICCAI 2006). Squaring doubles the
//! angle, so that an edge and its inversion are the same; dividing makes weak and strong edges count
//! alike; and the product of two such fields has the mean 0 where pictures have nothing in common.

use super::fft::{C32, Fft};
use super::plane::Plane;
use crate::geometry::Point;

/// Doubled edge directions.
pub(super) struct Edges {
    pub(super) side: usize,
    pub(super) field: Vec<C32>,
}

/// Edges count half at this many times the median gradient, which noise and texture set: noise then
/// counts a tenth.
const ABOVE_USUAL: f32 = 3.0;

/// The gradient at which an edge counts half.
pub(super) fn usual_gradient(plane: &Plane) -> f32 {
    let smooth = smoothed(plane);
    // Enough for a median.
    let stride = (smooth.len() / 100_000).max(1) | 1;
    let w = plane.width_px;
    let mut sizes: Vec<f32> = (0..smooth.len())
        .step_by(stride)
        .filter(|i| inside(*i, w, plane.height_px))
        .map(|i| gradient(&smooth, i, w).norm())
        .collect();
    if sizes.is_empty() {
        return 0.0;
    }
    let middle = sizes.len() / 2;
    ABOVE_USUAL * *sizes.select_nth_unstable_by(middle, f32::total_cmp).1
}

impl Edges {
    /// The edges of a square, fading towards its border. `usual` is [`usual_gradient`] of the picture
    /// that the square is from.
    pub(super) fn of(square: &Plane, usual: f32) -> Self {
        let side = square.width_px;
        let smooth = smoothed(square);
        // Never 0, as in a picture of one tone.
        let half = (usual * usual).max(1e-12);
        let fade: Vec<f32> = (0..side)
            .map(|i| {
                let angle = std::f32::consts::TAU * (i as f32 + 0.5) / side as f32;
                0.5 - 0.5 * angle.cos()
            })
            .collect();
        let field = (0..side * side)
            .map(|i| {
                if !inside(i, side, side) {
                    return C32::new(0.0, 0.0);
                }
                let g = gradient(&smooth, i, side);
                let by = fade[i % side] * fade[i / side] / (g.norm_sqr() + half);
                g * g * by
            })
            .collect();
        Self { side, field }
    }

    /// Sum of the squared lengths.
    pub(super) fn energy(&self) -> f32 {
        self.field.iter().map(|v| v.norm_sqr()).sum()
    }

    /// Its transform.
    pub(super) fn transformed(mut self, fft: &Fft) -> Self {
        fft.forward(&mut self.field);
        self
    }
}

/// The best shift between two squares.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shift {
    /// Where the second has what is at the origin of the first.
    pub(super) by: Point,
    /// The correlation there, -1..1.
    pub(super) correlation: f32,
    /// The same in standard deviations of the correlation at other shifts.
    pub(super) deviations: f32,
}

/// Correlates two transformed squares whose energies before were `energies`, over shifts up to
/// `reach` along x and y.
pub(super) fn correlate(
    first: &Edges,
    second: &Edges,
    energies: [f32; 2],
    reach: isize,
    fft: &Fft,
) -> Option<Shift> {
    let side = first.side as isize;
    let product = |(a, b): (&C32, &C32)| a.conj() * b;
    let mut surface: Vec<C32> = first.field.iter().zip(&second.field).map(product).collect();
    fft.backward(&mut surface);
    let at =
        |x: isize, y: isize| surface[(y.rem_euclid(side) * side + x.rem_euclid(side)) as usize].re;
    let mut best = (f32::NEG_INFINITY, 0, 0);
    for y in -reach..=reach {
        for x in -reach..=reach {
            if at(x, y) > best.0 {
                best = (at(x, y), x, y);
            }
        }
    }
    let (peak, x, y) = best;
    let scale = (energies[0] * energies[1]).sqrt();
    if scale.is_nan() || scale <= 0.0 || !peak.is_finite() {
        return None;
    }
    let square_mean = surface.iter().map(|v| v.re * v.re).sum::<f32>() / surface.len() as f32;
    // The summit of the parabola through three values.
    let summit = |less: f32, more: f32| {
        let bend = less + more - 2.0 * peak;
        let off = 0.5 * (less - more) / bend;
        if bend < 0.0 {
            f64::from(off.clamp(-0.5, 0.5))
        } else {
            0.0
        }
    };
    Some(Shift {
        by: [
            x as f64 + summit(at(x - 1, y), at(x + 1, y)),
            y as f64 + summit(at(x, y - 1), at(x, y + 1)),
        ],
        correlation: peak / scale,
        deviations: peak / square_mean.sqrt().max(f32::MIN_POSITIVE),
    })
}

/// Two pixels from the border smoothing and difference are whole.
fn inside(i: usize, width: usize, height: usize) -> bool {
    let (x, y) = (i % width, i / width);
    (3..width.saturating_sub(3)).contains(&x) && (3..height.saturating_sub(3)).contains(&y)
}

fn gradient(smooth: &[f32], i: usize, width: usize) -> C32 {
    C32::new(
        smooth[i + 1] - smooth[i - 1],
        smooth[i + width] - smooth[i - width],
    )
}

/// The binomial 1 4 6 4 1 along both axes; the border is left.
fn smoothed(plane: &Plane) -> Vec<f32> {
    const WEIGHTS: [f32; 5] = [0.0625, 0.25, 0.375, 0.25, 0.0625];
    let w = plane.width_px;
    let along = |from: &[f32], stride: usize| -> Vec<f32> {
        let mut to = from.to_vec();
        let reach = 2 * stride;
        for i in reach..from.len().saturating_sub(reach) {
            let values = WEIGHTS.iter().enumerate();
            to[i] = values
                .map(|(k, by)| by * from[i + k * stride - reach])
                .sum();
        }
        to
    };
    along(&along(&plane.values, 1), w)
}
