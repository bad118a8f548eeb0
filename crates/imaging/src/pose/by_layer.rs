//! A pose brought into agreement with a layer that lies on the surface already, for bands in which points
//! are hard to see.
//!
//! The layer is rendered as the photograph would show it, by a ray for each pixel through its own lens.
//! Small squares of the rendering are looked for in the photograph by the direction of their edges
//! (see [`crate::register`]), which bands share though their contrast differs; where they are found, the
//! place of the surface in the middle of the square and the pixel are a pair, and the pose is the one with
//! the least squared distances over these. Then it is rendered anew from there, until nothing moves.

use ganosis_surface::Surface;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::refine::{Refined, refine};
use super::{Free, Pair, Pose, PosedPhoto};
use crate::drape::mesh::Mesh;
use crate::drape::sight::Sight;
use crate::drape::{SheetSize, View};
use crate::error::{ImagingError, Result};
use crate::geometry::{Homography, Point, distance};
use crate::lens::{Lens, Projector};
use crate::register::{Options, Plane, found_map, found_squares};

/// Rounds at most; three are usual.
const ROUNDS: usize = 8;

/// It has settled when what is seen moves by less than this, in pixels of the picture sought in: a tenth of
/// what a square is off.
const SETTLED_PX: f64 = 0.02;

/// Squares further off than this many times the median distance are left out, …
const OUTLIER: f64 = 4.0;
/// … if they are further off than this, in pixels of the picture sought in (choices of ours).
const NEAR_PX: f64 = 0.25;

/// So many squares at least for the six numbers of a pose (a choice of ours).
const LEAST_SQUARES: usize = 12;

/// The pose is not sure where the picture may be off by more than this anywhere on the surface, one
/// standard deviation, in pixels of the picture sought in (a choice of ours, that of registration).
const LARGEST_ERROR_PX: f64 = 0.5;

/// The same samples each time.
const SEED: u64 = 1;

/// Rays along each side of a pixel.
const RAYS: usize = 2;

/// A triangle further away than this share beyond the middle of a square is another part of the object.
const SAME_PART: f64 = 0.03;

/// How pose and layer came to agree.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Agreement {
    /// The pose found.
    pub pose: Pose,
    /// How far what is seen of the surface has moved in the photograph: the mean, in its pixels.
    pub shift_px: Point,
    /// The root mean square of the same.
    pub moved_rms_px: f64,
    /// The largest of the same, at the squares.
    pub moved_most_px: f64,
    /// Squares of the last round in which the layer was found again.
    pub squares: usize,
    /// Those that agree with the pose.
    pub agreeing: usize,
    /// Root mean square of their distances, in pixels of the photograph.
    pub rms_px: f64,
    /// The standard error of what is seen where it is largest over the squares, in pixels of the photograph.
    pub standard_error_px: f64,
    /// The decimal logarithm of the probability of such agreement by chance, at the start.
    pub chance_log10: f64,
    /// Rounds made.
    pub rounds: usize,
    /// Pixels of the photograph that a pixel of the picture sought in stands for.
    pub level_px: f64,
}

/// A layer over the sheets of a surface.
#[derive(Debug)]
pub struct LaidLayer {
    mesh: Mesh,
    /// One for each sheet of the surface: light, and nothing where the layer has no image.
    sheets: Vec<Option<Plane>>,
}

impl LaidLayer {
    /// From an image for each sheet of the surface. Patches under the nodes `without` are not there.
    ///
    /// # Errors
    /// There is no image, or the surface has no triangles or no UVs.
    pub fn new(surface: &Surface, sheets: Vec<Option<Plane>>, without: &[String]) -> Result<Self> {
        if sheets.iter().all(Option::is_none) {
            return Err(ImagingError::new(
                "the layer has no image on any sheet of the surface",
                "the layer",
                "Choose a layer that lies on this surface.",
            ));
        }
        let sizes = surface.sheets.iter().enumerate().map(|(k, sheet)| {
            let plane = sheets.get(k).and_then(Option::as_ref);
            SheetSize {
                name: sheet.name.clone(),
                width_px: plane.map_or(1, |p| p.width_px as u32),
                height_px: plane.map_or(1, |p| p.height_px as u32),
            }
        });
        let there = |patch: usize| {
            let mut path = surface.patches[patch].node_path.iter();
            !path.any(|node| without.contains(node))
        };
        Ok(Self {
            mesh: Mesh::new(surface, sizes.collect(), &there)?,
            sheets,
        })
    }

    /// The value on a ray; nothing beside the surface.
    fn seen(&self, sight: &Sight, view: &View, pose: &Pose, normalised: Point) -> Option<f32> {
        let (face, inverse) = sight.first(normalised)?;
        let face = self.mesh.faces.get(face as usize)?;
        let depth = 1.0 / inverse;
        let plane = self.sheets.get(face.sheet as usize)?.as_ref();
        let ray = pose.ray(normalised);
        let place = [0, 1, 2].map(|k| view.centre_m[k] + depth * ray[k]);
        let weights = weights(face.corners.map(|c| c.as_dvec3().to_array()), place);
        let at = [0, 1].map(|k| {
            (0..3)
                .map(|c| weights[c] * f64::from(face.uvs_px[c][k]))
                .sum::<f64>()
        });
        Some(plane.map_or(0.0, |p| p.cubic(at)))
    }

    /// The layer as a lens at this place shows it, whose pixels look along `seen`: 0 beside the surface. And
    /// the depth of each pixel's middle, 0 beside the surface.
    fn rendered(&self, lens: &Lens, pose: &Pose, seen: &[Option<Point>]) -> (Plane, Vec<f32>) {
        let posed = posed(lens, pose);
        let view = View::new(&posed, None);
        let sight = Sight::new(&self.mesh.faces, &view);
        let at = |middle: Point, k: usize| {
            // Within a pixel distortion is of no account.
            let off = |n: usize, focal: f64| ((n as f64 + 0.5) / RAYS as f64 - 0.5) / focal;
            [
                middle[0] + off(k % RAYS, lens.focal_px[0]),
                middle[1] + off(k / RAYS, lens.focal_px[1]),
            ]
        };
        let pixel = |middle: &Option<Point>| -> (f32, f32) {
            let Some(middle) = *middle else {
                return (0.0, 0.0);
            };
            let rays =
                (0..RAYS * RAYS).filter_map(|k| self.seen(&sight, &view, pose, at(middle, k)));
            let depth = sight
                .first(middle)
                .map_or(0.0, |(_, inverse)| 1.0 / inverse);
            (rays.sum::<f32>() / (RAYS * RAYS) as f32, depth as f32)
        };
        let (values, depths) = seen.par_iter().map(pixel).unzip();
        let plane = Plane {
            width_px: lens.width_px,
            height_px: lens.height_px,
            values,
        };
        (plane, depths)
    }

    /// Texels that a pixel covers on the usual place, along a side.
    fn texels_a_pixel(&self, lens: &Lens, pose: &Pose) -> f64 {
        let middle = self.mesh.middle_m().as_dvec3().to_array();
        let depth = pose.camera_of(middle)[2].max(f64::MIN_POSITIVE);
        let pixel_m = depth / lens.focal_px[0];
        let mut sides: Vec<f64> = self
            .mesh
            .faces
            .iter()
            .step_by((self.mesh.faces.len() / 1000).max(1))
            .map(|f| f.texel_m2().sqrt())
            .filter(|side| side.is_finite() && *side > 0.0)
            .collect();
        sides.sort_by(f64::total_cmp);
        sides
            .get(sides.len() / 2)
            .map_or(1.0, |side| pixel_m / side)
    }

    /// The same layer with smaller images, so that a texel is no smaller than half a pixel.
    fn shrunk(&self, lens: &Lens, pose: &Pose) -> Option<Self> {
        let halvings = self.texels_a_pixel(lens, pose).log2().floor();
        if halvings < 1.0 {
            return None;
        }
        let mut small = Self {
            mesh: self.mesh.clone(),
            sheets: self.sheets.clone(),
        };
        for _ in 0..halvings as usize {
            for plane in small.sheets.iter_mut().flatten() {
                if plane.width_px.min(plane.height_px) >= 16 {
                    *plane = plane.halved();
                }
            }
        }
        let sizes: Vec<Option<[f32; 2]>> = small
            .sheets
            .iter()
            .map(|p| p.as_ref().map(|p| [p.width_px as f32, p.height_px as f32]))
            .collect();
        for face in &mut small.mesh.faces {
            let of = face.sheet as usize;
            let before = &self.mesh.sheets[of];
            if let Some([w, h]) = sizes.get(of).copied().flatten() {
                let by = [w / before.width_px as f32, h / before.height_px as f32];
                for uv in &mut face.uvs_px {
                    *uv *= glam::Vec2::from(by);
                }
            }
        }
        Some(small)
    }
}

fn posed(lens: &Lens, pose: &Pose) -> PosedPhoto {
    PosedPhoto {
        photo: crate::calibration::InputRecord {
            file: String::new(),
            sha256: String::new(),
        },
        lens: *lens,
        pose: *pose,
        fit: None,
    }
}

/// Weights of the corners of a triangle at a place of its plane.
fn weights(corners: [[f64; 3]; 3], place: [f64; 3]) -> [f64; 3] {
    let [a, b, c] = corners.map(nalgebra::Vector3::from);
    let (u, v, p) = (b - a, c - a, nalgebra::Vector3::from(place) - a);
    let (uu, uv, vv) = (u.dot(&u), u.dot(&v), v.dot(&v));
    let (pu, pv) = (p.dot(&u), p.dot(&v));
    let det = uu * vv - uv * uv;
    let (s, t) = ((vv * pu - uv * pv) / det, (uu * pv - uv * pu) / det);
    [1.0 - s - t, s, t]
}

/// A lens of the same photograph made smaller by a whole number.
fn shrunk_lens(lens: &Lens, plane: &Plane, level_px: f64) -> Lens {
    Lens {
        width_px: plane.width_px,
        height_px: plane.height_px,
        focal_px: lens.focal_px.map(|f| f / level_px),
        centre_px: lens.centre_px.map(|c| c / level_px),
        distortion: lens.distortion,
    }
}

/// Where the middle of each pixel looks, on the normalised plane.
fn looking(lens: &Lens) -> Vec<Option<Point>> {
    let projector = Projector::new(*lens);
    let w = lens.width_px;
    (0..w * lens.height_px)
        .into_par_iter()
        .map(|i| projector.normalised_of([(i % w) as f64 + 0.5, (i / w) as f64 + 0.5]))
        .collect()
}

/// Brings the pose of a photograph into agreement with a layer. `photo` is its light, made smaller by
/// `level_px`, which is a power of two.
///
/// # Errors
/// It is not sure that photograph and layer show the same, or the pose is not fixed by what they share.
pub fn agree_with_layer(
    photo: &Plane,
    level_px: f64,
    lens: &Lens,
    start: &Pose,
    layer: &LaidLayer,
) -> Result<Agreement> {
    let small = shrunk_lens(lens, photo, level_px);
    let smaller = layer.shrunk(&small, start);
    let layer = smaller.as_ref().unwrap_or(layer);
    let seen = looking(&small);
    let mut pose = *start;
    // Where squares are looked for: in the first round by registration, then where they are rendered.
    let mut near: Option<(Homography, f64)> = None;
    let mut chance_log10 = 0.0;
    // The fit that has settled.
    let mut last: Option<Fit> = None;
    let mut rounds = 0;
    while rounds < ROUNDS {
        rounds += 1;
        let (rendered, depths) = layer.rendered(&small, &pose, &seen);
        let (map, level) = match near {
            Some(near) => near,
            None => {
                let options = Options {
                    kind: None,
                    seed: SEED,
                };
                let found =
                    found_map(&rendered, photo, &options, f64::INFINITY).map_err(of_layer)?;
                chance_log10 = found.chance_log10;
                (found.map(), found.level_px)
            }
        };
        let mut squares = found_squares(&rendered, photo, &map, level);
        if rounds > 1 && level > 1.0 {
            // What was blurred for registration may be found sharply once it is near.
            let sharp = found_squares(&rendered, photo, &map, 1.0);
            if sharp.len() > squares.len() {
                squares = sharp;
            }
        }
        let fit = fitted(&small, &pose, (&rendered, &depths), &squares)?;
        let moved = moved(&small, &fit.places, &pose, &fit.pose);
        pose = fit.pose;
        near = Some((Homography::identity(), level));
        let most = moved.iter().map(|m| m[0].hypot(m[1])).fold(0.0, f64::max);
        // Noise may go on for ever, by less than what is unsure anyhow.
        let settled = most < SETTLED_PX || rounds == ROUNDS && most < fit.standard_error_px;
        if settled {
            last = Some(fit);
            break;
        }
    }
    let Some(fit) = last else {
        return Err(unsure("they come to no agreement that stays"));
    };
    if fit.standard_error_px > LARGEST_ERROR_PX {
        return Err(unsure(&format!(
            "the squares that agree leave the picture open to {:.2} px somewhere on the surface",
            fit.standard_error_px * level_px
        )));
    }
    let by = moved(&small, &fit.places, start, &pose);
    let n = by.len().max(1) as f64;
    let mean = |k: usize| by.iter().map(|m| m[k]).sum::<f64>() / n * level_px;
    let lengths = || by.iter().map(|m| m[0].hypot(m[1]) * level_px);
    Ok(Agreement {
        pose,
        shift_px: [mean(0), mean(1)],
        moved_rms_px: (lengths().map(|l| l * l).sum::<f64>() / n).sqrt(),
        moved_most_px: lengths().fold(0.0, f64::max),
        squares: fit.squares,
        agreeing: fit.places.len(),
        rms_px: fit.rms_px * level_px,
        standard_error_px: fit.standard_error_px * level_px,
        chance_log10,
        rounds,
        level_px,
    })
}

fn unsure(why: &str) -> ImagingError {
    refused(format!(
        "it is not sure that photograph and layer show the same: {why}"
    ))
}

/// What is said of photographs, said of a layer.
fn of_layer(error: ImagingError) -> ImagingError {
    refused(
        error
            .what
            .replace("these photographs", "photograph and layer"),
    )
}

fn refused(what: String) -> ImagingError {
    ImagingError::new(
        what,
        "photograph and layer",
        "Start from a pose that is nearly right, choose a layer in which the same edges are seen, or mark \
         points.",
    )
}

/// How far places move in the picture from one pose to another.
fn moved(lens: &Lens, places: &[[f64; 3]], from: &Pose, to: &Pose) -> Vec<Point> {
    let projector = Projector::new(*lens);
    let at = |pose: &Pose, place: [f64; 3]| projector.project(pose.camera_of(place));
    places
        .iter()
        .filter_map(|&p| {
            let (a, b) = (at(from, p)?, at(to, p)?);
            Some([b[0] - a[0], b[1] - a[1]])
        })
        .collect()
}

/// A pose fitted to squares.
struct Fit {
    pose: Pose,
    /// Places of the squares that agree, in metres.
    places: Vec<[f64; 3]>,
    squares: usize,
    rms_px: f64,
    standard_error_px: f64,
}

fn fitted(
    lens: &Lens,
    pose: &Pose,
    (rendered, depths): (&Plane, &[f32]),
    squares: &[[Point; 2]],
) -> Result<Fit> {
    let centre = pose.centre_m();
    let pairs: Vec<Pair> = squares
        .iter()
        .filter_map(|&[from, to]| {
            let depth = depth_at(rendered, depths, from)?;
            let ray = pose.ray(lens.normalised_of(from)?);
            Some(Pair {
                name: String::new(),
                pixel: to,
                surface_m: [0, 1, 2].map(|k| centre[k] + depth * ray[k]),
            })
        })
        .collect();
    let mut kept: Vec<&Pair> = pairs.iter().collect();
    let mut best: Option<Refined> = None;
    for _ in 0..6 {
        if kept.len() < LEAST_SQUARES {
            return Err(unsure(&format!(
                "{} squares agree, and {LEAST_SQUARES} are needed",
                kept.len()
            )));
        }
        let Some(refined) = refine(lens, pose, &Free::NONE, &kept) else {
            break;
        };
        let projector = Projector::new(*lens);
        let off = |pair: &Pair| {
            let there = projector.project(refined.pose.camera_of(pair.surface_m));
            there.map_or(f64::INFINITY, |t| distance(t, pair.pixel))
        };
        let mut all: Vec<f64> = kept.iter().map(|p| off(p)).collect();
        let middle = all.len() / 2;
        let median = *all.select_nth_unstable_by(middle, f64::total_cmp).1;
        let limit = (OUTLIER * median).max(NEAR_PX);
        let now: Vec<&Pair> = pairs.iter().filter(|p| off(p) <= limit).collect();
        let same = now.len() == kept.len();
        best = Some(refined);
        if same {
            break;
        }
        kept = now;
    }
    let Some(refined) = best else {
        return Err(unsure("the squares fix no pose"));
    };
    let (standard_error_px, rms_px) = error_of(lens, &refined, &kept)?;
    Ok(Fit {
        pose: refined.pose,
        places: kept.iter().map(|p| p.surface_m).collect(),
        squares: squares.len(),
        rms_px,
        standard_error_px,
    })
}

/// The largest standard error of what is seen at the pairs, and the root mean square of their distances.
fn error_of(lens: &Lens, refined: &Refined, pairs: &[&Pair]) -> Result<(f64, f64)> {
    let spare = (2 * pairs.len()).saturating_sub(Free::NONE.count()).max(1);
    let variance = refined.cost / spare as f64;
    let Some(inverse) = super::quality::inverse_of(&refined.normal) else {
        return Err(unsure("the squares fix no pose"));
    };
    let covariance = inverse * variance;
    let worst = pairs.iter().filter_map(|pair| {
        let j = super::refine::slopes(lens, &refined.pose, &Free::NONE, pair.surface_m)?;
        let c = &j * &covariance * j.transpose();
        Some((c[(0, 0)] + c[(1, 1)]).max(0.0).sqrt())
    });
    Ok((worst.fold(0.0, f64::max), refined.rms_px()))
}

/// The depth in the middle of a square, where most of the square is the same part of the object.
fn depth_at(rendered: &Plane, depths: &[f32], [x, y]: Point) -> Option<f64> {
    let (w, h) = (rendered.width_px as isize, rendered.height_px as isize);
    let at = |dx: isize, dy: isize| {
        let (x, y) = (x as isize + dx, y as isize + dy);
        ((0..w).contains(&x) && (0..h).contains(&y))
            .then(|| f64::from(depths[(y * w + x) as usize]))
    };
    let middle = at(0, 0).filter(|d| *d > 0.0)?;
    let around = [-12, -6, 0, 6, 12];
    let same = around
        .iter()
        .flat_map(|&dy| around.map(move |dx| (dx, dy)))
        .filter(|&(dx, dy)| at(dx, dy).is_some_and(|d| (d / middle - 1.0).abs() < SAME_PART))
        .count();
    (same >= 20).then_some(middle)
}
