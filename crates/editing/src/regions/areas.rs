//! Areas of regions in square metres of surface.

use std::collections::BTreeMap;

use ganosis_surface::{Surface, area};
use glam::DVec2;

use super::RegionMaps;
use super::geometry::{Outline, Page, TexelGeometry};

/// Areas by number.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Areas {
    /// Of each number that some texel on the surface has, m²; without 0.
    pub regions_m2: BTreeMap<u16, f64>,
    /// Of what belongs to no region, or has no region map, m².
    pub unassigned_m2: f64,
}

impl TexelGeometry {
    /// The areas of all regions of the surface that this geometry was made from.
    ///
    /// Each triangle's area is shared out exactly among the texels it lies in,
    /// so that the areas add up to that of the mesh.
    #[must_use]
    pub fn areas(&self, surface: &Surface, maps: &RegionMaps) -> Areas {
        let mut areas = Areas::default();
        for (p, patch) in surface.patches.iter().enumerate() {
            for t in 0..patch.triangle_count() {
                let m2 = area::triangle_m2(patch, t);
                if m2 > 0.0 && m2.is_finite() {
                    self.share_out(p, t, m2, maps, &mut areas);
                }
            }
        }
        areas
    }

    fn share_out(&self, patch: usize, t: usize, m2: f64, maps: &RegionMaps, areas: &mut Areas) {
        let found = self.mesh().number(patch, t).and_then(|triangle| {
            let map = self.mesh().maps[triangle as usize] as usize;
            Some((triangle, self.pages().get(map)?, maps.maps.get(map)?))
        });
        let Some((triangle, page, map)) = found else {
            return areas.add(0, m2);
        };
        let label = |x: u32, y: u32| {
            let at = (page.texel(x, y) - page.first) as usize;
            map.labels.get(at).copied().unwrap_or(0)
        };
        let Some((outline, _)) = self.outline(triangle) else {
            // Without an area on the map: all of it where its first corner lies.
            let uv = self.mesh().uvs[triangle as usize][0];
            return areas.add(under(page, uv).map_or(0, |(x, y)| label(x, y)), m2);
        };
        if let Some(number) = only_number(&outline, &label) {
            return areas.add(number, m2);
        }
        let whole = outline.cross().abs() * 0.5;
        outline.touched(outline.bounds(), &mut |span| {
            for x in span.first..=span.last {
                let part = part_within(&outline, page, x, span.row);
                areas.add(label(x, span.row), m2 * (part / whole));
            }
        });
    }
}

impl Areas {
    fn add(&mut self, number: u16, m2: f64) {
        match number {
            0 => self.unassigned_m2 += m2,
            _ => *self.regions_m2.entry(number).or_default() += m2,
        }
    }
}

fn under(page: &Page, uv: glam::Vec2) -> Option<(u32, u32)> {
    let size = page.size;
    let cell = |k: usize| Some(((uv[k] * size[k] as f32) as u32).min(size[k].checked_sub(1)?));
    Some((cell(0)?, cell(1)?))
}

/// The number of all texels of a triangle, if they have the same.
fn only_number(outline: &Outline, label: &dyn Fn(u32, u32) -> u16) -> Option<u16> {
    let mut number = None;
    let mut mixed = false;
    outline.touched(outline.bounds(), &mut |span| {
        for x in span.first..=span.last {
            let own = label(x, span.row);
            mixed = mixed || *number.get_or_insert(own) != own;
        }
    });
    number.filter(|_| !mixed)
}

/// Area in texels of the part of a triangle within a texel: its polygon cut at
/// the four sides (I. E. Sutherland and G. W. Hodgman, "Reentrant Polygon
/// Clipping", Communications of the ACM 17(1), 1974). A texel at the edge of
/// the image goes on for ever.
fn part_within(outline: &Outline, page: &Page, x: u32, y: u32) -> f64 {
    let mut polygon = Polygon::default();
    outline.corners().iter().for_each(|c| polygon.push(*c));
    for (axis, cell) in [x, y].into_iter().enumerate() {
        if cell > 0 {
            polygon = polygon.cut(axis, 1.0, f64::from(cell));
        }
        if cell + 1 < page.size[axis] {
            polygon = polygon.cut(axis, -1.0, f64::from(cell + 1));
        }
    }
    polygon.area()
}

/// A triangle cut four times has at most seven corners.
#[derive(Default, Clone, Copy)]
struct Polygon {
    corners: [DVec2; 8],
    count: usize,
}

impl Polygon {
    fn push(&mut self, corner: DVec2) {
        if let Some(place) = self.corners.get_mut(self.count) {
            *place = corner;
            self.count += 1;
        }
    }

    /// What lies on the side of a line to which `sign` points.
    fn cut(&self, axis: usize, sign: f64, at: f64) -> Self {
        let mut left = Self::default();
        for k in 0..self.count {
            let (a, b) = (self.corners[k], self.corners[(k + 1) % self.count]);
            let (u, v) = ((a[axis] - at) * sign, (b[axis] - at) * sign);
            if u >= 0.0 {
                left.push(a);
            }
            if (u >= 0.0) != (v >= 0.0) {
                left.push(a + (b - a) * (u / (u - v)));
            }
        }
        left
    }

    fn area(&self) -> f64 {
        let origin = self.corners[0];
        let sides = (1..self.count.saturating_sub(1)).map(|k| {
            let (a, b) = (self.corners[k] - origin, self.corners[k + 1] - origin);
            a.perp_dot(b) * 0.5
        });
        sides.sum::<f64>().abs()
    }
}
