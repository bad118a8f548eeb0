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

/// The inverse of the covariance of a place, but for a factor that all squares of a picture have in common: xx, xy,
/// yy. A delay found by correlation is known the better the more its summit bends and the more the two have in
/// common: γ² / (1 - γ²), γ² the square of the correlation (C. H. Knapp, G. C. Carter, "The generalized correlation
/// method for estimation of time delay", IEEE TASSP 24(4), 1976, the Cramér-Rao bound).
pub(super) type Weight = [f64; 3];

/// Squares that are the same but for rounding would be all that counts (a choice of ours).
const MOST_SHARED: f64 = 0.99;

/// The best shift between two squares.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shift {
    /// Where the second has what is at the origin of the first.
    pub(super) by: Point,
    /// The same by all nine values about the peak, and how sure it is.
    pub(super) fine: (Point, Weight),
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
    let around = [-1, 0, 1].map(|dy| [-1, 0, 1].map(|dx| f64::from(at(x + dx, y + dy) / peak)));
    let ([right, down], bend) = paraboloid(&around);
    let shared = f64::from(peak / scale).powi(2).min(MOST_SHARED);
    Some(Shift {
        fine: (
            [x as f64 + right, y as f64 + down],
            bend.map(|b| b * shared / (1.0 - shared)),
        ),
        by: [
            x as f64 + summit(at(x - 1, y), at(x + 1, y)),
            y as f64 + summit(at(x, y - 1), at(x, y + 1)),
        ],
        correlation: peak / scale,
        deviations: peak / square_mean.sqrt().max(f32::MIN_POSITIVE),
    })
}

/// A summit that falls by less than half of this within a pixel, in parts of its height, has no place in that
/// direction (a choice of ours).
const LEAST_BEND: f64 = 0.02;

/// Where the paraboloid through a summit and its eight neighbours is highest, by least squares, and how it bends
/// there. Along a straight edge the summit is a ridge: there it stays where it is, and does not bend.
fn paraboloid(around: &[[f64; 3]; 3]) -> (Point, Weight) {
    let (slope, bend) = ([-1.0, 0.0, 1.0], [-1.0, 2.0, -1.0]);
    let along_x = |by: [f64; 3]| -> f64 {
        let rows = around.iter();
        rows.map(|row| (0..3).map(|x| by[x] * row[x]).sum::<f64>())
            .sum()
    };
    let along_y =
        |by: [f64; 3]| -> f64 { (0..3).map(|y| by[y] * around[y].iter().sum::<f64>()).sum() };
    let (right, down) = (along_x(slope) / 6.0, along_y(slope) / 6.0);
    let (xx, yy) = (along_x(bend) / 3.0, along_y(bend) / 3.0);
    let xy = (around[0][2] + around[2][0] - around[0][0] - around[2][2]) / 4.0;
    // In the two directions in which it bends most and least.
    let (half, apart) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
    let (sin, cos) = (0.5 * (2.0 * xy).atan2(xx - yy)).sin_cos();
    let (mut off, mut weight) = ([0.0; 2], [0.0; 3]);
    for (bends, [x, y]) in [(half + apart, [cos, sin]), (half - apart, [-sin, cos])] {
        if bends > LEAST_BEND {
            let by = ((right * x + down * y) / bends).clamp(-1.0, 1.0);
            off = [off[0] + by * x, off[1] + by * y];
            for (sum, part) in weight.iter_mut().zip([x * x, x * y, y * y]) {
                *sum += bends * part;
            }
        }
    }
    (off, weight)
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Values by a formula: 1 at the summit, which bends by `a` along x and `b` along y after a turn.
    fn hill(at: Point, turn: f64, [a, b]: [f64; 2]) -> [[f64; 3]; 3] {
        let (sin, cos) = turn.sin_cos();
        [-1.0, 0.0, 1.0].map(|y: f64| {
            [-1.0, 0.0, 1.0].map(|x: f64| {
                let (u, v) = (x - at[0], y - at[1]);
                let (s, t) = (u * cos + v * sin, v * cos - u * sin);
                1.0 - 0.5 * (a * s * s + b * t * t)
            })
        })
    }

    #[test]
    fn the_summit_of_a_paraboloid_is_found_however_it_is_turned() {
        for (at, turn) in [([0.2, -0.3], 0.0), ([0.1, 0.25], 0.7), ([-0.4, 0.0], -1.2)] {
            let ([x, y], [xx, xy, yy]) = paraboloid(&hill(at, turn, [0.5, 0.2]));
            assert!((x - at[0]).hypot(y - at[1]) < 1e-9, "{x} {y} for {at:?}");
            let (sin, cos) = turn.sin_cos();
            let wanted = [
                0.5 * cos * cos + 0.2 * sin * sin,
                0.3 * sin * cos,
                0.5 * sin * sin + 0.2 * cos * cos,
            ];
            for (got, wanted) in [xx, xy, yy].into_iter().zip(wanted) {
                assert!((got - wanted).abs() < 1e-9, "{got} {wanted}");
            }
        }
        // Along a ridge there is nothing to be found, and nothing is said.
        let turn: f64 = 0.6;
        let ([x, y], [xx, xy, yy]) = paraboloid(&hill([0.3, 0.0], turn, [0.5, 0.0]));
        let across = 0.3 * turn.cos();
        assert!((x - across * turn.cos()).hypot(y - across * turn.sin()) < 1e-9);
        assert!((xx + yy - 0.5).abs() < 1e-9 && (xx * yy - xy * xy).abs() < 1e-9);
    }
}
