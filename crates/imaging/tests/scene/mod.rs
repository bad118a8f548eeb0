//! Surfaces and cameras made by formulas, and photographs of them, for the tests of draping.
#![allow(dead_code, reason = "each test uses a part")]

use ganosis_imaging::Encoding;
use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::drape::{Mesh, Mix, Picture, Settings, SheetSize, Shell, Stage, View};
use ganosis_imaging::lens::{Distortion, Lens};
use ganosis_imaging::pose::{Pose, PosedPhoto};
use ganosis_surface::{Patch, Sheet, Surface};
use glam::{DVec3, Vec2, Vec3};

/// A surface over one sheet.
pub(crate) fn surface(patches: Vec<Patch>) -> Surface {
    Surface {
        sheets: vec![Sheet::plain("page")],
        patches,
        ..Surface::default()
    }
}

/// A grid over the unit square of parameters, put on the sheet between `low` and `high`.
pub(crate) fn grid(
    columns: usize,
    rows: usize,
    low: Vec2,
    high: Vec2,
    place: &dyn Fn(f64, f64) -> DVec3,
) -> Patch {
    let mut patch = Patch::default();
    for j in 0..=rows {
        for i in 0..=columns {
            let (u, v) = (i as f64 / columns as f64, j as f64 / rows as f64);
            let step = 1e-5;
            let across = place(u + step, v) - place(u - step, v);
            let down = place(u, v + step) - place(u, v - step);
            patch.positions.push(place(u, v).as_vec3());
            // v goes down on the image: the front is where u, -v and the normal are right-handed.
            patch
                .normals
                .push(down.cross(across).normalize_or_zero().as_vec3());
            patch
                .uvs
                .push(low + (high - low) * Vec2::new(u as f32, v as f32));
        }
    }
    let at = |i: usize, j: usize| (j * (columns + 1) + i) as u32;
    for j in 0..rows {
        for i in 0..columns {
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            patch.indices.extend([a, c, b, a, d, c]);
        }
    }
    patch
}

/// A square of this side (m) in the plane z = 0, its front to +z.
pub(crate) fn square(side_m: f64, cells: usize) -> Patch {
    grid(
        cells,
        cells,
        Vec2::splat(0.05),
        Vec2::splat(0.95),
        &|u, v| DVec3::new((u - 0.5) * side_m, (0.5 - v) * side_m, 0.0),
    )
}

/// A torus in the plane z = 0 with bumps, and a ball before a part of it.
pub(crate) fn torus_and_ball() -> Surface {
    use std::f64::consts::TAU;
    let torus = grid(
        96,
        32,
        Vec2::new(0.02, 0.02),
        Vec2::new(0.98, 0.6),
        &|u, v| {
            let (a, b) = (u * TAU, -v * TAU);
            let r = 0.08 + 0.012 * (7.0 * a).sin() * (3.0 * b).cos();
            let ring = 0.2 + r * b.cos();
            DVec3::new(ring * a.cos(), ring * a.sin(), r * b.sin())
        },
    );
    let ball = grid(
        32,
        16,
        Vec2::new(0.02, 0.64),
        Vec2::new(0.98, 0.98),
        &|u, v| {
            let (a, b) = (u * TAU, v * TAU / 2.0);
            let r = 0.06;
            DVec3::new(0.12, 0.1, 0.2)
                + r * DVec3::new(b.sin() * a.cos(), b.sin() * a.sin(), b.cos())
        },
    );
    surface(vec![torus, ball])
}

/// A mesh whose one sheet is an image of this side.
pub(crate) fn mesh(surface: &Surface, side_px: u32) -> Mesh {
    let size = SheetSize {
        name: "page".to_owned(),
        width_px: side_px,
        height_px: side_px,
    };
    Mesh::new(surface, vec![size], &|_| true).unwrap()
}

/// Usual settings, memory in plenty.
pub(crate) fn settings(channels: usize, border_texels: f32) -> Settings {
    Settings {
        channels,
        border_texels,
        memory_bytes: 1 << 30,
        clear_only: false,
        mix: Mix::default(),
    }
}

/// A phone's distortion.
pub(crate) fn bent() -> Distortion {
    Distortion {
        k1: -0.12,
        k2: 0.095,
        k3: -0.03,
        p1: 0.0006,
        p2: -0.0011,
        ..Distortion::default()
    }
}

/// A photograph from `from` towards `to`, the world's +y up.
pub(crate) fn posed(name: &str, lens: Lens, from: DVec3, to: DVec3) -> PosedPhoto {
    let forward = (to - from).normalize();
    let right = forward.cross(DVec3::Y).normalize();
    let down = forward.cross(right);
    let rotation = [right, down, forward].map(|r| r.to_array());
    let translation_m = [right, down, forward].map(|r| -r.dot(from));
    PosedPhoto {
        photo: InputRecord {
            file: name.to_owned(),
            sha256: String::new(),
        },
        lens,
        pose: Pose {
            rotation,
            translation_m,
        },
        fit: None,
    }
}

pub(crate) fn views(posed: &[PosedPhoto]) -> Vec<View> {
    posed.iter().map(|p| View::new(p, None)).collect()
}

/// A linear 16-bit photograph of the plane z = 0 whose light at each place is `light`.
pub(crate) fn photograph_of_plane(
    posed: &PosedPhoto,
    channels: usize,
    light: &(dyn Fn(f64, f64) -> [f64; 3] + Sync),
) -> Picture {
    let projector = posed.projector();
    let centre = posed.pose.centre_m();
    let (width_px, height_px) = (posed.lens.width_px, posed.lens.height_px);
    let mut codes = Vec::with_capacity(width_px * height_px * channels);
    for y in 0..height_px {
        for x in 0..width_px {
            let at = [x as f64 + 0.5, y as f64 + 0.5];
            let along = projector.lens.normalised_of(at).map(|n| posed.pose.ray(n));
            let values = along.map_or([0.0; 3], |d| {
                let t = -centre[2] / d[2];
                light(centre[0] + t * d[0], centre[1] + t * d[1])
            });
            codes.extend(
                values[..channels]
                    .iter()
                    .map(|v| (v.clamp(0.0, 1.0) * 65535.0).round() as u16),
            );
        }
    }
    Picture {
        width_px,
        height_px,
        channels,
        codes,
        light_of_code: Encoding::Linear.light_of_code(),
    }
}

/// Photographs in memory; may stop after a number of reports.
pub(crate) struct Photographs {
    pub(crate) pictures: Vec<Picture>,
    pub(crate) stop_after: Option<u64>,
    pub(crate) told: std::sync::atomic::AtomicU64,
}

impl Photographs {
    pub(crate) fn new(pictures: Vec<Picture>) -> Self {
        Self {
            pictures,
            stop_after: None,
            told: std::sync::atomic::AtomicU64::new(0),
        }
    }
}

impl Shell for Photographs {
    fn picture(&self, number: usize) -> ganosis_imaging::Result<Picture> {
        Ok(self.pictures[number].clone())
    }

    fn progress(&self, _: Stage, _: u64, _: u64) -> bool {
        let told = self.told.fetch_add(1, std::sync::atomic::Ordering::SeqCst) + 1;
        self.stop_after.is_none_or(|most| told < most)
    }
}

/// Where a ray from a place towards an end meets a triangle (Möller and Trumbore, "Fast, minimum
/// storage ray/triangle intersection", Journal of Graphics Tools 2(1), 1997), as a part of the way.
pub(crate) fn meets(corners: [Vec3; 3], from: DVec3, to: DVec3) -> Option<f64> {
    let [a, b, c] = corners.map(|p| p.as_dvec3());
    let (direction, ab, ac) = (to - from, b - a, c - a);
    let p = direction.cross(ac);
    let det = ab.dot(p);
    if det == 0.0 {
        return None;
    }
    let t = from - a;
    let u = t.dot(p) / det;
    let q = t.cross(ab);
    let v = direction.dot(q) / det;
    let at = ac.dot(q) / det;
    (u >= 0.0 && v >= 0.0 && u + v <= 1.0).then_some(at)
}
