//! A lens: from directions before the camera to pixels and back, with the distortion of D. C. Brown,
//! "Decentering distortion of lenses", Photogrammetric Engineering 32(3), 1966, 444-462, and A. E.
//! Conrady, "Decentred lens-systems", MNRAS 79, 1919, 384-390, and the rational radial terms k4 k5
//! k6 that the OpenCV documentation (module calib3d) adds.
//!
//! The camera looks along z, x to the right, y down. A *normalised* point is (x/z, y/z). Pixels are
//! counted from the top left corner of the image, so that the centre of the first pixel is
//! (0.5, 0.5); programs that put the origin at that centre (OpenCV) have a principal point less by
//! half a pixel.

use serde::{Deserialize, Serialize};

use crate::error::{ImagingError, Result};
use crate::geometry::Point;

/// Coefficients of the distortion; all zero for a lens without.
///
/// With r² = x² + y² and R = (1 + k1 r² + k2 r⁴ + k3 r⁶) / (1 + k4 r² + k5 r⁴ + k6 r⁶):
/// x' = x R + 2 p1 x y + p2 (r² + 2 x²), y' = y R + p1 (r² + 2 y²) + 2 p2 x y.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Distortion {
    /// Radial, r².
    pub k1: f64,
    /// Radial, r⁴.
    pub k2: f64,
    /// Radial, r⁶.
    pub k3: f64,
    /// Decentring.
    pub p1: f64,
    /// Decentring.
    pub p2: f64,
    /// Radial, below the line, r².
    #[serde(skip_serializing_if = "is_zero")]
    pub k4: f64,
    /// Radial, below the line, r⁴.
    #[serde(skip_serializing_if = "is_zero")]
    pub k5: f64,
    /// Radial, below the line, r⁶.
    #[serde(skip_serializing_if = "is_zero")]
    pub k6: f64,
}

#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde asks for a reference"
)]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

impl Distortion {
    /// Where the lens puts a normalised point.
    #[inline]
    pub fn apply(&self, [x, y]: Point) -> Point {
        let r2 = x * x + y * y;
        let radial = self.radial(r2);
        [
            x * radial + 2.0 * self.p1 * x * y + self.p2 * (r2 + 2.0 * x * x),
            y * radial + self.p1 * (r2 + 2.0 * y * y) + 2.0 * self.p2 * x * y,
        ]
    }

    /// Derivatives of [`Distortion::apply`]: rows x', y'; columns x, y.
    pub fn jacobian(&self, [x, y]: Point) -> [[f64; 2]; 2] {
        let r2 = x * x + y * y;
        let (radial, slope) = (self.radial(r2), self.radial_slope(r2));
        let across = 2.0 * (x * y * slope + self.p1 * x + self.p2 * y);
        [
            [
                radial + 2.0 * x * x * slope + 2.0 * self.p1 * y + 6.0 * self.p2 * x,
                across,
            ],
            [
                across,
                radial + 2.0 * y * y * slope + 6.0 * self.p1 * y + 2.0 * self.p2 * x,
            ],
        ]
    }

    #[inline]
    fn radial(&self, r2: f64) -> f64 {
        let above = polynomial(r2, [self.k1, self.k2, self.k3]);
        // Lenses with terms below the line are few, and a division takes as long as all the rest.
        if is_zero(&self.k4) && is_zero(&self.k5) && is_zero(&self.k6) {
            return above;
        }
        above / polynomial(r2, [self.k4, self.k5, self.k6])
    }

    /// Derivative of the radial factor by r².
    fn radial_slope(&self, r2: f64) -> f64 {
        let above = polynomial(r2, [self.k1, self.k2, self.k3]);
        let below = polynomial(r2, [self.k4, self.k5, self.k6]);
        let slope = |[a, b, c]: [f64; 3]| a + r2 * (2.0 * b + r2 * 3.0 * c);
        let by = slope([self.k1, self.k2, self.k3]) * below;
        (by - above * slope([self.k4, self.k5, self.k6])) / (below * below)
    }

    /// All coefficients, k1 k2 k3 p1 p2 k4 k5 k6.
    pub fn coefficients(&self) -> [f64; 8] {
        [
            self.k1, self.k2, self.k3, self.p1, self.p2, self.k4, self.k5, self.k6,
        ]
    }

    /// The r² at which the radial part turns back, so that points further out would fall onto the
    /// picture a second time. Infinite where it never does below 76° off the axis.
    pub fn fold_r2(&self) -> f64 {
        // Without radial terms it rises everywhere.
        let [k1, k2, k3, _, _, k4, k5, k6] = self.coefficients();
        if [k1, k2, k3, k4, k5, k6].iter().all(is_zero) {
            return f64::INFINITY;
        }
        // d(r R)/dr = R + 2 r² dR/d(r²)
        let rises = |r: f64| {
            let r2 = r * r;
            polynomial(r2, [self.k4, self.k5, self.k6]) > 0.0
                && self.radial(r2) + 2.0 * r2 * self.radial_slope(r2) > 0.0
        };
        let step = 0.01;
        let folded = (1..=400).map(|i| f64::from(i) * step).find(|&r| !rises(r));
        let Some(beyond) = folded else {
            return f64::INFINITY;
        };
        let (mut low, mut high) = (beyond - step, beyond);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if rises(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low * low
    }

    /// The normalised point that the lens puts at `wanted`, by Newton's method on the model itself.
    /// `None` where there is none, as beyond the fold.
    pub fn invert(&self, wanted: Point) -> Option<Point> {
        self.invert_within(wanted, self.fold_r2())
    }

    fn invert_within(&self, wanted: Point, fold_r2: f64) -> Option<Point> {
        let mut at = wanted;
        let square = |[x, y]: Point| x * x + y * y;
        let far = square(wanted).sqrt();
        if far * far >= fold_r2 {
            // Newton from beyond the fold runs away; the fold itself is a start.
            at = wanted.map(|v| v / far * fold_r2.sqrt() * 0.9);
        }
        let miss = |p: Point| {
            let there = self.apply(p);
            [there[0] - wanted[0], there[1] - wanted[1]]
        };
        let mut off = miss(at);
        for _ in 0..50 {
            if square(off) < (1e-15 * far.max(1.0)).powi(2) {
                break;
            }
            let [[a, b], [c, d]] = self.jacobian(at);
            let det = a * d - b * c;
            let step = [
                (d * off[0] - b * off[1]) / det,
                (a * off[1] - c * off[0]) / det,
            ];
            // Half steps where a whole one leads away.
            let mut share = 1.0;
            let better = loop {
                let trial = [at[0] - share * step[0], at[1] - share * step[1]];
                let off_there = miss(trial);
                if square(off_there) < square(off) {
                    break Some((trial, off_there));
                }
                share *= 0.5;
                if share < 1e-3 {
                    break None;
                }
            };
            let Some(better) = better else { break };
            (at, off) = better;
        }
        let near = square(off) < (1e-11 * far.max(1.0)).powi(2);
        (near && square(at) < fold_r2).then_some(at)
    }
}

#[inline]
fn polynomial(r2: f64, [a, b, c]: [f64; 3]) -> f64 {
    1.0 + r2 * (a + r2 * (b + r2 * c))
}

/// A camera's inner geometry.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lens {
    /// Width of the photographs it describes, in pixels as stored.
    pub width_px: usize,
    /// Height in pixels as stored.
    pub height_px: usize,
    /// Focal length in pixels, along x and y.
    pub focal_px: [f64; 2],
    /// Principal point in pixels from the top left corner.
    pub centre_px: Point,
    /// Distortion.
    #[serde(default)]
    pub distortion: Distortion,
}

impl Lens {
    /// A lens without distortion whose axis goes through the middle of the picture.
    pub fn simple(width_px: usize, height_px: usize, focal_px: f64) -> Self {
        Self {
            width_px,
            height_px,
            focal_px: [focal_px; 2],
            centre_px: [width_px as f64 / 2.0, height_px as f64 / 2.0],
            distortion: Distortion::default(),
        }
    }

    /// The pixel of a normalised point.
    #[inline]
    pub fn pixel_of(&self, normalised: Point) -> Point {
        let [x, y] = self.distortion.apply(normalised);
        [
            self.focal_px[0] * x + self.centre_px[0],
            self.focal_px[1] * y + self.centre_px[1],
        ]
    }

    /// The pixel of a point in camera space (any unit). `None` where it is not before the camera, or
    /// so far aside that the distortion folds back.
    ///
    /// For many points [`Projector`] does the same without looking for the fold each time.
    pub fn project(&self, camera: [f64; 3]) -> Option<Point> {
        project_within(self, self.distortion.fold_r2(), camera)
    }

    /// The normalised point that is seen at a pixel; `None` where none is.
    pub fn normalised_of(&self, pixel: Point) -> Option<Point> {
        self.distortion.invert(self.distorted_of(pixel))
    }

    fn distorted_of(&self, pixel: Point) -> Point {
        [0, 1].map(|k| (pixel[k] - self.centre_px[k]) / self.focal_px[k])
    }

    /// An error if the numbers are none of a lens. `place` says where they were read.
    pub fn check(&self, place: &str) -> Result<()> {
        let bad = |what: String, advice: &str| Err(ImagingError::new(what, place, advice));
        let numbers = self.focal_px.iter().chain(&self.centre_px);
        let coefficients = self.distortion.coefficients();
        if numbers.chain(&coefficients).any(|v| !v.is_finite()) {
            return bad(
                "the lens holds a number that is not finite".to_owned(),
                "Write plain decimal numbers.",
            );
        }
        if self.width_px == 0 || self.height_px == 0 {
            return bad(
                "the lens says no size of the picture".to_owned(),
                "Give width_px and height_px of the photographs it was calibrated with.",
            );
        }
        if self.focal_px.iter().any(|&f| f <= 0.0) {
            return bad(
                format!("a focal length of {:?} px is none", self.focal_px),
                "Give it in pixels: millimetres × pixels of the width ÷ millimetres of the sensor.",
            );
        }
        let corners = self.corners();
        let fold = self.distortion.fold_r2();
        let seen = |p: &Point| {
            self.distortion
                .invert_within(self.distorted_of(*p), fold)
                .is_some()
        };
        if let Some([x, y]) = corners.iter().find(|p| !seen(p)) {
            return bad(
                format!(
                    "the distortion turns back within the picture: nothing is seen at ({x:.0}, {y:.0}) px"
                ),
                "Check that the coefficients are in the order and unit of their field, and that they \
                 belong to this focal length.",
            );
        }
        Ok(())
    }

    fn corners(&self) -> [Point; 4] {
        let (w, h) = (self.width_px as f64, self.height_px as f64);
        [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]
    }

    /// Whether a pixel position lies within the picture.
    pub fn holds(&self, [x, y]: Point) -> bool {
        (0.0..=self.width_px as f64).contains(&x) && (0.0..=self.height_px as f64).contains(&y)
    }
}

fn project_within(lens: &Lens, fold_r2: f64, [x, y, z]: [f64; 3]) -> Option<Point> {
    if z.is_nan() || z <= 0.0 {
        return None;
    }
    pixel_within(lens, fold_r2, [x / z, y / z])
}

#[inline]
fn pixel_within(lens: &Lens, fold_r2: f64, normalised: Point) -> Option<Point> {
    is_within_fold(fold_r2, normalised).then(|| lens.pixel_of(normalised))
}

#[inline]
fn is_within_fold(fold_r2: f64, [x, y]: Point) -> bool {
    x * x + y * y < fold_r2
}

/// A lens made ready for many points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Projector {
    lens: Lens,
    fold_r2: f64,
}

impl Projector {
    /// Finds the fold once.
    pub fn new(lens: Lens) -> Self {
        Self {
            lens,
            fold_r2: lens.distortion.fold_r2(),
        }
    }

    /// The lens.
    pub fn lens(&self) -> &Lens {
        &self.lens
    }

    /// As [`Lens::pixel_of`]; `None` so far aside that the distortion folds back.
    #[inline]
    pub(crate) fn pixel_of(&self, normalised: Point) -> Option<Point> {
        pixel_within(&self.lens, self.fold_r2, normalised)
    }

    /// Whether a point of the normalised plane lies nearer than where the distortion folds back.
    #[inline]
    pub(crate) fn is_within_fold(&self, normalised: Point) -> bool {
        is_within_fold(self.fold_r2, normalised)
    }

    /// As [`Lens::project`].
    pub fn project(&self, camera: [f64; 3]) -> Option<Point> {
        project_within(&self.lens, self.fold_r2, camera)
    }

    /// As [`Lens::normalised_of`].
    pub fn normalised_of(&self, pixel: Point) -> Option<Point> {
        let distorted = self.lens.distorted_of(pixel);
        self.lens.distortion.invert_within(distorted, self.fold_r2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn phone() -> Distortion {
        Distortion {
            k1: -0.12,
            k2: 0.095,
            k3: -0.03,
            p1: 0.0006,
            p2: -0.0011,
            ..Distortion::default()
        }
    }

    #[test]
    fn derivatives_are_the_slopes_of_the_model() {
        let rational = Distortion {
            k4: 0.03,
            k5: -0.01,
            k6: 0.004,
            ..phone()
        };
        for lens in [phone(), rational] {
            for p in [[0.1, -0.2], [0.4, 0.3], [0.0, 0.0], [-0.35, 0.02]] {
                let slopes = lens.jacobian(p);
                for k in 0..2 {
                    let step = 1e-6;
                    let (mut more, mut less) = (p, p);
                    more[k] += step;
                    less[k] -= step;
                    let (a, b) = (lens.apply(more), lens.apply(less));
                    for row in 0..2 {
                        let slope = (a[row] - b[row]) / (2.0 * step);
                        assert!((slope - slopes[row][k]).abs() < 1e-9, "{p:?} {row} {k}");
                    }
                }
            }
        }
    }

    #[test]
    fn what_lies_beyond_the_fold_is_not_seen() {
        // r (1 - r²/3) turns back at r = 1, where it is 2/3.
        let barrel = Distortion {
            k1: -1.0 / 3.0,
            ..Distortion::default()
        };
        assert!((barrel.fold_r2() - 1.0).abs() < 1e-9);
        assert!(barrel.invert([0.66, 0.0]).is_some());
        assert!(barrel.invert([0.67, 0.0]).is_none());
        let lens = Lens {
            distortion: barrel,
            ..Lens::simple(1000, 1000, 1000.0)
        };
        assert!(lens.project([1.1, 0.0, 1.0]).is_none());
        assert!(lens.project([0.0, 0.0, -1.0]).is_none());
        assert!(lens.project([f64::NAN, 0.0, 1.0]).is_none());
        assert!(lens.check("here").is_err());
        assert_eq!(Distortion::default().fold_r2(), f64::INFINITY);
    }

    #[test]
    fn there_and_back_is_where_one_was() {
        let lens = Lens {
            distortion: phone(),
            ..Lens::simple(6000, 4000, 4100.0)
        };
        lens.check("here").unwrap();
        for p in [
            [0.0, 0.0],
            [6000.0, 4000.0],
            [12.5, 3987.25],
            [3000.0, 2000.0],
        ] {
            let back = lens.pixel_of(lens.normalised_of(p).unwrap());
            assert!((back[0] - p[0]).hypot(back[1] - p[1]) < 1e-9, "{p:?}");
        }
    }
}
