//! What is known about a place on the surface before anything is painted.

use crate::maths::smoothstep;
use crate::noise::{fractal, value};
use crate::region::Region;
use crate::sculpt::{Part, Sculpture};
use crate::surface::mesh::{Lie, Mesh};
use crate::surface::raster::weights;
use crate::surface::unwrap::Sheet;
use glam::{Vec2, Vec3};

/// A place on the surface.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    /// Position, centimetres.
    pub(crate) p: Vec3,
    /// Unit normal.
    pub(crate) n: Vec3,
    /// Region.
    pub(crate) region: Region,
    /// Local coordinates of the region.
    pub(crate) u: f32,
    /// Second local coordinate.
    pub(crate) v: f32,
    /// Share of the sky seen, 0..1.
    pub(crate) openness: f32,
    /// Hollow (positive) or proud (negative), about -1..1.
    pub(crate) hollow: f32,
    /// How a coat of paint lies there.
    pub(crate) lie: Lie,
    /// Depth of fine carving that the mesh is too coarse for, centimetres, positive in a groove.
    pub(crate) groove: f32,
    /// 1 on breaks.
    pub(crate) fresh: f32,
}

/// The place of a texel; `at` in texels, `size` the side of the sheet.
pub(crate) fn place(
    sculpture: &Sculpture,
    meshes: &[&Mesh; 2],
    sheet: &Sheet,
    triangle: u32,
    at: Vec2,
    size: usize,
) -> Place {
    let corners = sheet.triangles[triangle as usize].map(|c| sheet.corners[c as usize]);
    let w = weights(&corners.map(|c| c.uv * size as f32), at);
    let mesh = meshes[corners[0].mesh as usize];
    let blend = |f: &dyn Fn(usize) -> f32| -> f32 {
        (0..3)
            .map(|k| w[k].clamp(-0.5, 1.5) * f(corners[k].vertex as usize))
            .sum()
    };
    let mut p = Vec3::ZERO;
    let mut n = Vec3::ZERO;
    for k in 0..3 {
        p += mesh.positions[corners[k].vertex as usize] * w[k];
        n += mesh.normals[corners[k].vertex as usize] * w[k];
    }
    let part = if corners[0].mesh == 0 {
        Part::Boss
    } else {
        Part::Bill
    };
    let s = sculpture.sample(part, p);
    Place {
        p,
        n: n.normalize_or(Vec3::Z),
        region: s.region,
        u: s.u,
        v: s.v,
        openness: blend(&|i| mesh.openness[i]).clamp(0.0, 1.0),
        hollow: blend(&|i| mesh.hollow[i]).clamp(-1.0, 1.0),
        lie: Lie {
            gather: blend(&|i| mesh.lie[i].gather).clamp(0.0, 1.0),
            edge: blend(&|i| mesh.lie[i].edge).clamp(0.0, 1.0),
        },
        groove: s.d.clamp(-0.15, 0.15),
        fresh: if part == Part::Boss {
            sculpture.breakage(p, &s)
        } else {
            0.0
        },
    }
}

/// Tool marks: fine hatching of a claw chisel in patches that each run their own way; -1..1.
pub(crate) fn tool_marks(seed: u32, place: &Place) -> f32 {
    let patch = crate::noise::cells(seed, place.p * 0.42);
    let angle = (patch.id >> 8) as f32 * (std::f32::consts::TAU / 16_777_216.0);
    let way = Vec3::new(crate::maths::cos(angle), crate::maths::sin(angle), 0.35);
    let bend = 0.12 * value(seed ^ 3, place.p * 1.1);
    // Teeth 1.6 mm apart.
    let tooth = crate::maths::sin((place.p.dot(way) + bend) * 39.0);
    let pressure = smoothstep(-0.35, 0.45, fractal(seed ^ 7, place.p * 0.9, 2));
    tooth * pressure * smoothstep(0.0, 0.10, patch.second - patch.distance)
}
