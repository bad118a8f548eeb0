//! One channel of light as a picture of floats, at several sizes.

use crate::geometry::{Homography, Point};
use crate::photo::Photo;

/// A picture; positions count from its top left corner, as those of photographs.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Width in pixels.
    pub width_px: usize,
    /// Height in pixels.
    pub height_px: usize,
    /// Row by row.
    pub values: Vec<f32>,
}

impl Plane {
    /// The mean of the channels of a photograph, as the square root of linear light, in which noise
    /// is about even over the tones.
    pub fn of(photo: &Photo) -> Self {
        let light = photo.encoding.light_of_code();
        let value = |codes: &[u16]| {
            let sum: f32 = codes.iter().map(|&code| light[usize::from(code)]).sum();
            (sum / 3.0).max(0.0).sqrt()
        };
        Self {
            width_px: photo.width_px,
            height_px: photo.height_px,
            values: photo.samples.chunks_exact(3).map(value).collect(),
        }
    }

    /// At half the size; an odd last row or column is dropped.
    #[must_use]
    pub fn halved(&self) -> Self {
        let (w, h) = (self.width_px / 2, self.height_px / 2);
        let mut values = Vec::with_capacity(w * h);
        for y in 0..h {
            let (above, below) = (
                &self.values[2 * y * self.width_px..],
                &self.values[(2 * y + 1) * self.width_px..],
            );
            values.extend((0..w).map(|x| {
                0.25 * (above[2 * x] + above[2 * x + 1] + below[2 * x] + below[2 * x + 1])
            }));
        }
        Self {
            width_px: w,
            height_px: h,
            values,
        }
    }

    /// Halved until its longer side is at most `longest_px`; and how many pixels of this picture lie along a
    /// pixel of that.
    #[must_use]
    pub fn at_most(self, longest_px: usize) -> (Self, f64) {
        let (mut plane, mut level_px) = (self, 1.0);
        while plane.width_px.max(plane.height_px) > longest_px {
            plane = plane.halved();
            level_px *= 2.0;
        }
        (plane, level_px)
    }

    /// The value at a position between pixels, by the cubic of R. Keys, "Cubic convolution
    /// interpolation for digital image processing", IEEE TASSP 29(6), 1981; beyond the edge the
    /// edge's.
    pub fn cubic(&self, [x, y]: Point) -> f32 {
        let (x, y) = (x - 0.5, y - 0.5);
        let (x0, y0) = (x.floor(), y.floor());
        let (wx, wy) = (keys((x - x0) as f32), keys((y - y0) as f32));
        let (x0, y0) = (x0 as isize - 1, y0 as isize - 1);
        let clamp = |at: isize, size: usize| at.clamp(0, size as isize - 1) as usize;
        let columns: [usize; 4] = std::array::from_fn(|k| clamp(x0 + k as isize, self.width_px));
        let mut sum = 0.0;
        for (k, by) in wy.into_iter().enumerate() {
            let row = clamp(y0 + k as isize, self.height_px) * self.width_px;
            let mut along = 0.0;
            for (column, by) in columns.into_iter().zip(wx) {
                along += by * self.values[row + column];
            }
            sum += by * along;
        }
        sum
    }

    /// A square of `side` pixels with its first corner at (`x`, `y`), read through a map into this
    /// picture.
    pub(super) fn window(&self, x: isize, y: isize, side: usize, map: &Homography) -> Self {
        let mut values = Vec::with_capacity(side * side);
        for row in 0..side {
            for column in 0..side {
                let at = [
                    (x + column as isize) as f64 + 0.5,
                    (y + row as isize) as f64 + 0.5,
                ];
                values.push(self.cubic(map.apply(at)));
            }
        }
        Self {
            width_px: side,
            height_px: side,
            values,
        }
    }

    /// Whether a position lies in the picture.
    pub(super) fn holds(&self, [x, y]: Point) -> bool {
        (0.0..=self.width_px as f64).contains(&x) && (0.0..=self.height_px as f64).contains(&y)
    }
}

/// Weights of the four pixels around a position that is `t` beyond the second, with a = -1/2.
pub(crate) fn keys(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        0.5 * (-t3 + 2.0 * t2 - t),
        0.5 * (3.0 * t3 - 5.0 * t2 + 2.0),
        0.5 * (-3.0 * t3 + 4.0 * t2 + t),
        0.5 * (t3 - t2),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_stays_a_slope_between_pixels_and_at_half_the_size() {
        let slope = |w: usize, step: f32| Plane {
            width_px: w,
            height_px: w,
            values: (0..w * w)
                .map(|i| step * ((i % w) as f32 + 0.5) - 2.0 * step * ((i / w) as f32 + 0.5))
                .collect(),
        };
        let plane = slope(16, 1.0);
        for at in [[4.0, 7.3], [8.25, 8.5], [5.9, 10.1]] {
            let wanted = (at[0] - 2.0 * at[1]) as f32;
            assert!((plane.cubic(at) - wanted).abs() < 1e-4, "{at:?}");
        }
        assert_eq!(plane.halved(), slope(8, 2.0));
        assert_eq!(plane.clone().at_most(16), (plane.clone(), 1.0));
        assert_eq!(plane.at_most(7), (slope(4, 4.0), 4.0));
    }
}
