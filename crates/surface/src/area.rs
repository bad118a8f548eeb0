//! Areas in square metres, and the way from a UV to the surface.

use glam::{Vec2, Vec3};

use crate::model::face_normal;
use crate::pick::Tree;
use crate::{Patch, Surface};

/// Area of a patch (m²), and of what it covers of its sheet (the whole sheet of UV is 1).
#[must_use]
pub fn on_surface_and_sheet(surface: &Surface, patch: &Patch) -> [f64; 2] {
    let mut areas = [0.0; 2];
    for t in 0..patch.triangle_count() {
        let Some(corners) = patch.triangle(t) else {
            continue;
        };
        let [p, q, r] = corners.map(|v| surface.sheet_uv(patch, v));
        areas[0] += triangle_m2(patch, t);
        areas[1] += f64::from((q - p).perp_dot(r - p).abs()) / 2.0;
    }
    areas
}

/// Area of one triangle of a patch in m²; 0 if there is no such triangle.
pub fn triangle_m2(patch: &Patch, triangle: usize) -> f64 {
    patch.corners(triangle).map_or(0.0, corners_m2)
}

/// Area of a patch in m².
pub fn patch_m2(patch: &Patch) -> f64 {
    (0..patch.triangle_count())
        .map(|t| triangle_m2(patch, t))
        .sum()
}

/// Area in m² of all patches whose own sheet is `sheet`.
pub fn sheet_m2(surface: &Surface, sheet: usize) -> f64 {
    surface
        .patches
        .iter()
        .filter(|p| p.sheet == sheet)
        .map(patch_m2)
        .sum()
}

/// Barycentric centroids of the `steps`² equal triangles that a triangle is divided into.
pub fn centroids(steps: u32) -> impl Iterator<Item = [f32; 3]> {
    let n = steps as f32;
    (0..steps).flat_map(move |row| {
        (0..2 * row + 1).map(move |i| {
            // Even ones stand upright, odd ones on their tip.
            let (column, tip) = ((i / 2) as f32, (i % 2) as f32);
            let down = (row as f32 + (2.0 - tip) / 3.0) / n;
            let along = (column + (1.0 + tip) / 3.0) / n;
            [1.0 - down, down - along, along]
        })
    })
}

fn corners_m2(corners: [Vec3; 3]) -> f64 {
    let [a, b, c] = corners.map(|v| v.as_dvec3());
    (b - a).cross(c - a).length() * 0.5
}

/// Twice the signed area in UV.
fn uv_cross(uvs: [Vec2; 3]) -> f64 {
    let [a, b, c] = uvs.map(|v| v.as_dvec2());
    (b - a).perp_dot(c - a)
}

/// A place found by its UV.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetPoint {
    /// Index into [`Surface::patches`].
    pub patch: usize,
    /// Triangle within the patch.
    pub triangle: usize,
    /// Weights of its corners.
    pub barycentric: [f32; 3],
    /// World position in metres.
    pub position_m: Vec3,
    /// Unit normal.
    pub normal: Vec3,
    /// Square metres of surface per unit of UV area here.
    pub m2_per_uv: f64,
}

impl SheetPoint {
    /// Surface in m² that one texel of an image of this size covers here.
    pub fn texel_m2(&self, width_px: u32, height_px: u32) -> f64 {
        self.m2_per_uv / (f64::from(width_px.max(1)) * f64::from(height_px.max(1)))
    }
}

/// Finds the surface under a UV of one sheet. Borrows the surface.
#[derive(Debug)]
pub struct SheetMap<'a> {
    surface: &'a Surface,
    tree: Tree,
    uvs: Vec<[Vec2; 3]>,
    owners: Vec<(u32, u32)>,
}

impl<'a> SheetMap<'a> {
    /// Over the patches whose own sheet is `sheet`. Triangles without area in UV
    /// are left out: they have no place on the image.
    pub fn new(surface: &'a Surface, sheet: usize) -> Self {
        let (mut uvs, mut owners) = (Vec::new(), Vec::new());
        for (p, patch) in surface
            .patches
            .iter()
            .enumerate()
            .filter(|(_, p)| p.sheet == sheet)
        {
            for triangle in 0..patch.triangle_count() {
                let Some(vertices) = patch.triangle(triangle) else {
                    continue;
                };
                let corners = vertices.map(|v| surface.sheet_uv(patch, v));
                if corners.iter().all(|c| c.is_finite()) && uv_cross(corners) != 0.0 {
                    uvs.push(corners);
                    owners.push((p as u32, triangle as u32));
                }
            }
        }
        let flat: Vec<[Vec3; 3]> = uvs.iter().map(|t| t.map(|uv| uv.extend(0.0))).collect();
        Self {
            surface,
            tree: Tree::new(&flat),
            uvs,
            owners,
        }
    }

    /// The surface at a UV ([`Surface::sheet_uv`]; v = 0 is the top row); `None`
    /// off every triangle. Where triangles overlap, the one that comes first.
    pub fn at(&self, uv: Vec2) -> Option<SheetPoint> {
        self.all_at(uv).into_iter().next()
    }

    /// Every place of the surface with this UV, in the order of the patches:
    /// more than one where the file's UVs overlap.
    pub fn all_at(&self, uv: Vec2) -> Vec<SheetPoint> {
        let mut found: Vec<(usize, [f64; 3])> = Vec::new();
        if uv.is_finite() {
            // Squared distance 0: only boxes that hold the point.
            self.tree.around(uv.extend(0.0).as_dvec3(), 0.0, |number| {
                if let Some(weights) = inside(self.uvs[number], uv) {
                    found.push((number, weights));
                }
                0.0
            });
        }
        found.sort_by_key(|f| f.0);
        found
            .into_iter()
            .filter_map(|(n, w)| self.point(n, w))
            .collect()
    }

    fn point(&self, number: usize, weights: [f64; 3]) -> Option<SheetPoint> {
        let (patch, triangle) = self.owners[number];
        let (patch, triangle) = (patch as usize, triangle as usize);
        let data = &self.surface.patches[patch];
        let vertices = data.triangle(triangle)?;
        let corners = data.corners(triangle)?;
        let w = weights.map(|w| w as f32);
        let mix = |v: [Vec3; 3]| v[0] * w[0] + v[1] * w[1] + v[2] * w[2];
        let smooth = mix(vertices.map(|v| data.normals.get(v).copied().unwrap_or_default()))
            .normalize_or_zero();
        Some(SheetPoint {
            patch,
            triangle,
            barycentric: w,
            position_m: mix(corners),
            normal: if smooth == Vec3::ZERO {
                face_normal(corners)
            } else {
                smooth
            },
            m2_per_uv: corners_m2(corners) / (uv_cross(self.uvs[number]).abs() * 0.5),
        })
    }
}

/// Weights of `uv` in a triangle, edges included.
fn inside(corners: [Vec2; 3], uv: Vec2) -> Option<[f64; 3]> {
    let whole = uv_cross(corners);
    let [a, b, c] = corners;
    let weights = [[uv, b, c], [a, uv, c], [a, b, uv]].map(|t| uv_cross(t) / whole);
    // Slack for rounding: a point on a shared edge belongs to at least one side.
    weights.iter().all(|w| *w >= -1e-9).then_some(weights)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn centroids_lie_inside_and_balance_about_the_middle() {
        for steps in 1..6 {
            let all: Vec<_> = centroids(steps).collect();
            assert_eq!(all.len(), (steps * steps) as usize);
            let mut sum = [0.0_f32; 3];
            for weights in &all {
                assert!(weights.iter().all(|w| *w > 0.0), "{steps}: {weights:?}");
                (0..3).for_each(|i| sum[i] += weights[i]);
            }
            for s in sum {
                assert!((s / all.len() as f32 - 1.0 / 3.0).abs() < 1e-5, "{steps}");
            }
        }
    }
}
