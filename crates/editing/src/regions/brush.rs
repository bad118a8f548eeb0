//! The brush: what lies within a radius of a line drawn on the surface, and
//! hangs together with it within that radius.
//!
//! Between two points of the line the brush is a capsule. A capsule is convex
//! and so is a triangle, hence their common part is one piece: going from
//! triangle to triangle over edges that reach into the capsule finds exactly
//! the piece of surface in it that the line lies on. A wall thinner than the
//! radius is not painted through; round its edge, where that is within the
//! radius, the paint goes.

use std::collections::HashSet;

use glam::Vec3;

use super::Selection;
use super::capsule::Capsule;
use super::geometry::{Side, TexelGeometry};

/// A point of a line drawn on the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrokePoint {
    /// World position in metres.
    pub position_m: Vec3,
    /// Unit normal there; zero if it is not known.
    pub normal: Vec3,
}

/// Least reach in which a point of a line looks for the surface, metres: a
/// point picked on the screen lies off it by no more than rounding. Choice of
/// this project.
const LEAST_REACH_M: f32 = 1e-4;

/// The surface faces a point's way within 80° (its cosine), as for anchors.
const SAME_SIDE_COSINE: f32 = 0.173_648;

impl TexelGeometry {
    /// The texels within `radius_m` of a line on the patches that `visible`
    /// accepts, and those under its points however small the radius is. Empty
    /// if no point lies within the radius of the surface.
    #[must_use]
    pub fn stroke(
        &self,
        points: &[StrokePoint],
        radius_m: f32,
        visible: &dyn Fn(usize) -> bool,
    ) -> Selection {
        let mut texels = Vec::new();
        if !(radius_m.is_finite() && radius_m >= 0.0) {
            return Selection::default();
        }
        let mut before: Option<(Vec3, u32)> = None;
        for point in points {
            let Some((seed, texel)) = self.under(point, radius_m, visible) else {
                before = None;
                continue;
            };
            texels.extend(texel);
            let (from, other) = before.unwrap_or((point.position_m, seed));
            let ends = [from, point.position_m].map(|p| p.as_dvec3());
            let capsule = Capsule::new(ends, f64::from(radius_m));
            self.within(&capsule, [other, seed], visible, &mut texels);
            before = Some((point.position_m, seed));
        }
        Selection::new(texels)
    }

    /// The triangle under a point, and its texel there.
    fn under(
        &self,
        point: &StrokePoint,
        radius_m: f32,
        visible: &dyn Fn(usize) -> bool,
    ) -> Option<(u32, Option<u32>)> {
        let (place, reach) = (point.position_m, radius_m.max(LEAST_REACH_M));
        let faces = |n: Vec3| point.normal == Vec3::ZERO || n.dot(point.normal) >= SAME_SIDE_COSINE;
        let picker = self.picker();
        let hit = picker
            .nearest_facing(place, reach, visible, &faces)
            .or_else(|| picker.nearest(place, reach, visible))?;
        let triangle = self.mesh().number(hit.patch, hit.triangle)?;
        let map = self.mesh().maps[triangle as usize] as usize;
        Some((triangle, self.texel_at(map, hit.uv)))
    }

    /// Texels of the piece of surface in a capsule that the seeds lie on.
    fn within(
        &self,
        capsule: &Capsule,
        seeds: [u32; 2],
        visible: &dyn Fn(usize) -> bool,
        texels: &mut Vec<u32>,
    ) {
        let mesh = self.mesh();
        let mut seen: HashSet<u32> = HashSet::from(seeds);
        let mut crossed: HashSet<u32> = HashSet::new();
        let mut open: Vec<u32> = seen.iter().copied().collect();
        while let Some(triangle) = open.pop() {
            self.texels_within(capsule, triangle, texels);
            for edge in 0..3 {
                let side = Side { triangle, edge };
                let Some(group) = mesh.group(side) else {
                    continue;
                };
                let ends = mesh.directed(side, &mesh.corners).map(|c| c.as_dvec3());
                if crossed.contains(&group) || !capsule.meets(ends) {
                    continue;
                }
                crossed.insert(group);
                let beyond = mesh.sides(group).map(|side| side.triangle);
                open.extend(
                    beyond
                        .filter(|t| visible(mesh.patches[*t as usize] as usize) && seen.insert(*t)),
                );
            }
        }
    }

    fn texels_within(&self, capsule: &Capsule, triangle: u32, texels: &mut Vec<u32>) {
        let Some((outline, page)) = self.outline(triangle) else {
            return;
        };
        let corners = self.mesh().corners[triangle as usize].map(|c| c.as_dvec3());
        let Some(window) = capsule.window(corners, outline.corners()) else {
            return;
        };
        outline.touched(window, &mut |span| {
            for x in span.first..=span.last {
                let texel = page.texel(x, span.row);
                if self.owner(texel) == Some(triangle) {
                    let (w, _) = outline.nearest(x, span.row);
                    if capsule.holds(corners[0] * w[0] + corners[1] * w[1] + corners[2] * w[2]) {
                        texels.push(texel);
                    }
                }
            }
        });
    }
}
