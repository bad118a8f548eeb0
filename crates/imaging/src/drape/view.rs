//! One photograph before the surface: its lens, its place, and where it may not be used.

use glam::{DMat3, DVec3, Vec3};

use super::group::{Group, Look, Projected, Row};
use crate::error::{ImagingError, Result};
use crate::lens::Projector;
use crate::pose::PosedPhoto;

/// Points along each side of the picture from which the normalised bounds are taken: between them the
/// distortion of a lens is a line to a part of the [`BOUNDS_MARGIN`] (a choice of ours).
const BORDER_POINTS: usize = 32;

/// The bounds are larger than the picture by this part of it (a choice of ours).
const BOUNDS_MARGIN: f64 = 0.01;

/// Length on the normalised plane below which a triangle is bent by less than its own length. Between its corners
/// it strays from the triangle of its bent corners by a sixth of the square of its longest side times the second
/// derivatives of the lens at most, which are below 10 for the strongest lenses (6 k1 r): less than a third of that
/// side (a choice of ours).
const SMALL: f64 = 0.1;

/// Pixels of a photograph that may not be used: the same size as the photograph, one bit each.
#[derive(Debug, Clone, PartialEq)]
pub struct Mask {
    width_px: usize,
    height_px: usize,
    bits: Vec<u64>,
}

impl Mask {
    /// From a function that says whether a pixel may be used.
    pub fn new(width_px: usize, height_px: usize, usable: &dyn Fn(usize, usize) -> bool) -> Self {
        let mut bits = vec![0; (width_px * height_px).div_ceil(64)];
        for y in 0..height_px {
            for x in 0..width_px {
                let at = y * width_px + x;
                bits[at / 64] |= u64::from(usable(x, y)) << (at % 64);
            }
        }
        Self {
            width_px,
            height_px,
            bits,
        }
    }

    /// Whether the pixel may be used.
    pub fn is_usable(&self, x: usize, y: usize) -> bool {
        if x >= self.width_px || y >= self.height_px {
            return false;
        }
        let at = y * self.width_px + x;
        self.bits[at / 64] >> (at % 64) & 1 == 1
    }
}

/// A photograph's geometry.
#[derive(Debug, Clone)]
pub struct View {
    /// The photograph's name.
    pub name: String,
    /// Its lens.
    pub lens: Projector,
    /// Its centre of projection on the surface's axes, in metres.
    pub centre_m: DVec3,
    /// Where it may not be used.
    pub mask: Option<Mask>,
    rotation: DMat3,
    translation_m: DVec3,
    size_px: [f64; 2],
    straight: bool,
    /// The box around the picture on the normalised plane.
    bounds: ([f64; 2], [f64; 2]),
}

impl View {
    /// From a pose.
    pub fn new(posed: &PosedPhoto, mask: Option<Mask>) -> Self {
        let r = posed.pose.rotation;
        let lens = posed.lens;
        let size_px = [lens.width_px as f64, lens.height_px as f64];
        let projector = Projector::new(lens);
        Self {
            name: posed.photo.file.clone(),
            bounds: bounds(&projector, size_px),
            lens: projector,
            centre_m: DVec3::from(posed.pose.centre_m()),
            mask,
            rotation: DMat3::from_cols_array_2d(&r).transpose(),
            translation_m: DVec3::from(posed.pose.translation_m),
            size_px,
            straight: lens.distortion.coefficients().iter().all(|c| *c == 0.0),
        }
    }

    /// An error if the photograph is not of the size that its lens says.
    pub fn check_size(&self, width_px: usize, height_px: usize) -> Result<()> {
        let lens = self.lens.lens();
        if (lens.width_px, lens.height_px) == (width_px, height_px) {
            return Ok(());
        }
        let turned = (lens.height_px, lens.width_px) == (width_px, height_px);
        let what = format!(
            "the photograph is {width_px} × {height_px} px, its pose was made for {} × {} px",
            lens.width_px, lens.height_px
        );
        let advice = if turned {
            "It was turned on export. Export it as the camera stored it, without applying the EXIF \
             orientation, or solve its pose from the turned file."
        } else {
            "Give the photograph that the pose was solved from, or one of the same lens, setting and \
             size."
        };
        Err(ImagingError::new(what, self.name.clone(), advice))
    }

    /// A place of the surface in camera space.
    #[inline]
    pub fn camera_of(&self, place_m: Vec3) -> DVec3 {
        self.rotation * place_m.as_dvec3() + self.translation_m
    }

    /// Whether a place that was projected is before the camera, in the picture, and on a pixel that may be used.
    #[inline]
    pub(crate) fn shows(&self, projected: &Projected, i: usize) -> bool {
        let [normalised, pixel] =
            [&projected.normalised, &projected.pixel].map(|at| [at[0][i], at[1][i]]);
        projected.depth_m[i] > 0.0
            && self.lens.is_within_fold(normalised)
            && (0..2).all(|k| pixel[k] >= 0.5 && pixel[k] <= self.size_px[k] - 0.5)
            && (self.mask.as_ref())
                .is_none_or(|mask| mask.is_usable(pixel[0] as usize, pixel[1] as usize))
    }

    /// Whether all places of a triangle in camera space are beside the picture, on the same side of it. `false` where
    /// that is not plain.
    pub(crate) fn is_beside(&self, corners: [DVec3; 3]) -> bool {
        let (low, high) = self.bounds;
        let all = |is: &dyn Fn(DVec3) -> bool| corners.iter().all(|c| is(*c));
        // Times the depth, which is above 0: the sides are planes.
        all(&|c| c.z > 0.0)
            && (all(&|c| c.x < low[0] * c.z)
                || all(&|c| c.x > high[0] * c.z)
                || all(&|c| c.y < low[1] * c.z)
                || all(&|c| c.y > high[1] * c.z))
    }

    /// Whether a triangle in camera space lies in the picture as a whole, each of its places by some distance.
    ///
    /// It is the triangle of its corners on the normalised plane. The lens bends that: over so small a one by
    /// less than its own length, which is kept from the edge.
    pub(crate) fn holds(&self, corners: [DVec3; 3]) -> bool {
        if self.mask.is_some() || corners.iter().any(|c| c.z.is_nan() || c.z <= 0.0) {
            return false;
        }
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let (mut near, mut far) = (low, high);
        for corner in corners {
            let normalised = [corner.x / corner.z, corner.y / corner.z];
            let Some(pixel) = self.pixel_of(normalised) else {
                return false;
            };
            for k in 0..2 {
                (low[k], high[k]) = (low[k].min(pixel[k]), high[k].max(pixel[k]));
                (near[k], far[k]) = (near[k].min(normalised[k]), far[k].max(normalised[k]));
            }
        }
        let longest = |from: [f64; 2], to: [f64; 2]| (to[0] - from[0]).max(to[1] - from[1]);
        let margin = 0.5 + longest(low, high);
        longest(near, far) < SMALL
            && (0..2).all(|k| low[k] >= margin && high[k] <= self.size_px[k] - margin)
    }

    /// Where places are in the picture, the first `count` of rows of metres by axis.
    pub(crate) fn project(&self, points_m: &[Row<f64>; 3], count: usize, to: &mut Projected) {
        project(self, points_m, count, to);
    }

    /// Where the places of a group are in the picture, and how well they are seen.
    pub(crate) fn look(&self, group: &Group, least_cosine: f64, look: &mut Look) {
        self.project(&group.points_m, group.count, &mut look.projected);
        looked(self, group, least_cosine, look);
    }

    /// The pixel of a point of the normalised plane, which may lie outside the picture.
    #[inline]
    fn pixel_of(&self, normalised: [f64; 2]) -> Option<[f64; 2]> {
        if !self.straight {
            return self.lens.pixel_of(normalised);
        }
        let lens = self.lens.lens();
        Some([0, 1].map(|k| lens.focal_px[k] * normalised[k] + lens.centre_px[k]))
    }

    /// The pixel of a point of the normalised plane, which may lie outside the picture; `None` where the lens
    /// maps nothing.
    pub(crate) fn pixel(&self, normalised: [f64; 2]) -> Option<[f64; 2]> {
        self.pixel_of(normalised)
    }

    /// Whether a pixel lies in the picture, or no further beside it than this.
    pub(crate) fn is_within(&self, pixel: [f64; 2], beside_px: f64) -> bool {
        (0..2).all(|k| pixel[k] >= -beside_px && pixel[k] <= self.size_px[k] + beside_px)
    }

    /// How far the picture moves, in pixels, for small steps over the surface from a place: by the slopes of
    /// projection and lens there.
    pub(crate) fn steps_px(
        &self,
        normalised: [f64; 2],
        depth_m: f64,
        steps_m: [DVec3; 2],
    ) -> [[f64; 2]; 2] {
        let lens = self.lens.lens();
        let slopes = lens.distortion.jacobian(normalised);
        steps_m.map(|step_m| {
            let step = self.rotation * step_m;
            let on_plane = [
                (step.x - normalised[0] * step.z) / depth_m,
                (step.y - normalised[1] * step.z) / depth_m,
            ];
            [0, 1].map(|k| {
                lens.focal_px[k] * (slopes[k][0] * on_plane[0] + slopes[k][1] * on_plane[1])
            })
        })
    }

    /// The box around the picture on the normalised plane.
    pub(crate) fn normalised_bounds(&self) -> ([f64; 2], [f64; 2]) {
        self.bounds
    }
}

/// The box around a picture of this size on the normalised plane, and a little more.
fn bounds(lens: &Projector, [w, h]: [f64; 2]) -> ([f64; 2], [f64; 2]) {
    let (mut min, mut max) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for i in 0..=BORDER_POINTS {
        let t = i as f64 / BORDER_POINTS as f64;
        for pixel in [[t * w, 0.0], [t * w, h], [0.0, t * h], [w, t * h]] {
            if let Some(at) = lens.normalised_of(pixel) {
                for k in 0..2 {
                    min[k] = min[k].min(at[k]);
                    max[k] = max[k].max(at[k]);
                }
            }
        }
    }
    let margin = BOUNDS_MARGIN * (max[0] - min[0]).max(max[1] - min[1]);
    (min.map(|v| v - margin), max.map(|v| v + margin))
}

/// [`View::project`], for whichever of these a processor has.
#[multiversion::multiversion(targets(
    "x86_64+avx2+fma",
    "x86_64+avx512f+avx512vl+avx512dq+avx512bw"
))]
fn project(view: &View, points_m: &[Row<f64>; 3], n: usize, to: &mut Projected) {
    let distortion = view.lens.lens().distortion;
    let ([fx, fy], [cx, cy]) = (view.lens.lens().focal_px, view.lens.lens().centre_px);
    let axes = view.rotation.transpose().to_cols_array_2d();
    let shift = view.translation_m;
    let [px, py, pz] = points_m.each_ref().map(|row| &row[..n]);
    let [u, v] = to.normalised.each_mut().map(|row| &mut row[..n]);
    let [across, down] = to.pixel.each_mut().map(|row| &mut row[..n]);
    let depth = &mut to.depth_m[..n];
    for i in 0..n {
        let along = |[a, b, c]: [f64; 3]| a * px[i] + b * py[i] + c * pz[i];
        let z = along(axes[2]) + shift.z;
        let nearness = 1.0 / z;
        u[i] = (along(axes[0]) + shift.x) * nearness;
        v[i] = (along(axes[1]) + shift.y) * nearness;
        let [x, y] = distortion.apply([u[i], v[i]]);
        across[i] = fx * x + cx;
        down[i] = fy * y + cy;
        depth[i] = z;
    }
}

/// How well the places of a group are seen that were projected, for whichever of these a processor has.
#[multiversion::multiversion(targets(
    "x86_64+avx2+fma",
    "x86_64+avx512f+avx512vl+avx512dq+avx512bw"
))]
fn looked(view: &View, group: &Group, least_cosine: f64, look: &mut Look) {
    let [fx, fy] = view.lens.lens().focal_px;
    let centre = view.centre_m;
    let n = group.count;
    let [px, py, pz] = group.points_m.each_ref().map(|row| &row[..n]);
    let [nx, ny, nz] = group.normals.each_ref().map(|row| &row[..n]);
    let (depth, cosine) = (&look.projected.depth_m[..n], &mut look.cosine[..n]);
    let (px_per_m2, px_per_m) = (&mut look.px_per_m2[..n], &mut look.px_per_m[..n]);
    for i in 0..n {
        let [x, y, z] = [centre.x - px[i], centre.y - py[i], centre.z - pz[i]];
        let distance = (x * x + y * y + z * z).sqrt();
        // Pixels of the picture for each square metre across the line of sight: the solid angle of the
        // surface times the pixels of a unit of solid angle, f² / cos³ of the angle off the axis.
        let across = fx * fy * distance / (depth[i] * depth[i] * depth[i]);
        // A mixed normal may look away a little where the triangle itself does not.
        let towards = (nx[i] * x + ny[i] * y + nz[i] * z) / distance;
        let towards = if towards > least_cosine {
            towards
        } else {
            least_cosine
        };
        cosine[i] = towards;
        px_per_m2[i] = across * towards;
        px_per_m[i] = across.sqrt();
    }
}
