//! The triangles of all patches in a row, and which of them share an edge.
//!
//! Vertices at one place are one, whatever their normals and UVs: so the
//! surface hangs together across the seams of its UVs.

use std::collections::HashMap;

use ganosis_surface::Surface;
use glam::{DVec3, Vec2, Vec3};

/// Stands for no triangle and no map.
pub(crate) const NONE: u32 = u32::MAX;

/// Vertices are one if they round to the same step: this part of the largest
/// extent, near the precision of single floats. Choice of this project.
const WELD: f64 = 1.0 / 1_048_576.0;

/// UVs closer than this are the same: a quarter texel of an image 4096 wide.
const SAME_UV: f32 = 1.0 / 16_384.0;

#[derive(Debug, Default)]
pub(crate) struct Mesh {
    /// Corner positions in metres; zeros for a triangle that cannot be used.
    pub(crate) corners: Vec<[Vec3; 3]>,
    /// UVs on the sheet's images.
    pub(crate) uvs: Vec<[Vec2; 3]>,
    /// Index of the map, or [`NONE`].
    pub(crate) maps: Vec<u32>,
    /// Index of the patch.
    pub(crate) patches: Vec<u32>,
    /// Triangles whose UVs hang together have the same number.
    pub(crate) charts: Vec<u32>,
    /// Number of the first triangle of each patch.
    firsts: Vec<u32>,
    /// Number of the place of each corner.
    places: Vec<[u32; 3]>,
    /// Edges at the same two places, by `3 * triangle + edge`.
    group_of: Vec<u32>,
    starts: Vec<u32>,
    members: Vec<u32>,
}

/// Edge `edge` of a triangle, from corner `edge` to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Side {
    pub(crate) triangle: u32,
    pub(crate) edge: usize,
}

impl Mesh {
    /// `map_of` gives the map of a sheet of the surface.
    pub(crate) fn new(surface: &Surface, map_of: &dyn Fn(usize) -> Option<usize>) -> Self {
        let mut mesh = Self::default();
        let mut welder = Welder::new(surface);
        for (number, patch) in surface.patches.iter().enumerate() {
            mesh.firsts.push(mesh.corners.len() as u32);
            let map = map_of(patch.sheet).map_or(NONE, |map| map as u32);
            let places: Vec<u32> = patch.positions.iter().map(|p| welder.place(*p)).collect();
            let uvs: Vec<Vec2> = (0..patch.positions.len())
                .map(|vertex| surface.sheet_uv(patch, vertex))
                .collect();
            for triangle in 0..patch.triangle_count() {
                let vertices = patch
                    .triangle(triangle)
                    .filter(|t| t.iter().all(|v| patch.positions[*v].is_finite()));
                mesh.patches.push(number as u32);
                mesh.maps.push(vertices.map_or(NONE, |_| map));
                let Some(vertices) = vertices else {
                    mesh.corners.push([Vec3::ZERO; 3]);
                    mesh.uvs.push([Vec2::ZERO; 3]);
                    mesh.places.push([NONE; 3]);
                    continue;
                };
                mesh.corners.push(vertices.map(|v| patch.positions[v]));
                mesh.uvs.push(vertices.map(|v| uvs[v]));
                mesh.places.push(vertices.map(|v| places[v]));
            }
        }
        mesh.group_edges();
        mesh.find_charts();
        mesh
    }

    pub(crate) fn count(&self) -> usize {
        self.corners.len()
    }

    /// Number of a triangle of a patch.
    pub(crate) fn number(&self, patch: usize, triangle: usize) -> Option<u32> {
        let number = *self.firsts.get(patch)? as usize + triangle;
        (*self.patches.get(number)? as usize == patch).then_some(number as u32)
    }

    /// Unit normal of a triangle's plane, zero without an area.
    pub(crate) fn normal(&self, triangle: u32) -> Vec3 {
        let [a, b, c] = self.corners[triangle as usize].map(|c| c.as_dvec3());
        (b - a).cross(c - a).normalize_or_zero().as_vec3()
    }

    /// Number of the group of edges that an edge belongs to; `None` for an edge
    /// without length.
    pub(crate) fn group(&self, side: Side) -> Option<u32> {
        let group = self.group_of[side.triangle as usize * 3 + side.edge];
        (group != NONE).then_some(group)
    }

    /// The edges of a group, itself among them.
    pub(crate) fn sides(&self, group: u32) -> impl Iterator<Item = Side> + '_ {
        let range = self.starts[group as usize] as usize..self.starts[group as usize + 1] as usize;
        self.members[range].iter().map(|member| Side {
            triangle: member / 3,
            edge: (member % 3) as usize,
        })
    }

    pub(crate) fn group_count(&self) -> u32 {
        self.starts.len().saturating_sub(1) as u32
    }

    /// Both ends of an edge, from the place with the lower number on.
    pub(crate) fn directed<T: Copy>(&self, side: Side, of: &[[T; 3]]) -> [T; 2] {
        let (triangle, from) = (side.triangle as usize, side.edge);
        let to = (from + 1) % 3;
        let places = self.places[triangle];
        let ends = [of[triangle][from], of[triangle][to]];
        match places[from] <= places[to] {
            true => ends,
            false => [ends[1], ends[0]],
        }
    }

    /// Whether two edges of a group are the same on the same image too.
    pub(crate) fn is_joined(&self, one: Side, other: Side) -> bool {
        let ends = [one, other].map(|side| self.directed(side, &self.uvs));
        let near = |k: usize| (ends[0][k] - ends[1][k]).abs().max_element() <= SAME_UV;
        let maps = [one, other].map(|side| self.maps[side.triangle as usize]);
        maps[0] == maps[1] && near(0) && near(1)
    }

    fn group_edges(&mut self) {
        let mut edges = Vec::with_capacity(self.count() * 3);
        for (triangle, places) in self.places.iter().enumerate() {
            for edge in 0..3 {
                let (a, b) = (places[edge], places[(edge + 1) % 3]);
                if a != b {
                    let key = u64::from(a.min(b)) << 32 | u64::from(a.max(b));
                    edges.push((key, (triangle * 3 + edge) as u32));
                }
            }
        }
        edges.sort_unstable();
        self.group_of = vec![NONE; self.count() * 3];
        let mut last = None;
        for (at, (key, member)) in edges.iter().enumerate() {
            if last != Some(*key) {
                last = Some(*key);
                self.starts.push(at as u32);
            }
            self.group_of[*member as usize] = self.starts.len() as u32 - 1;
            self.members.push(*member);
        }
        self.starts.push(edges.len() as u32);
    }

    fn find_charts(&mut self) {
        let mut parents: Vec<u32> = (0..self.count() as u32).collect();
        for group in 0..self.group_count() {
            let mut before: Option<Side> = None;
            for side in self.sides(group) {
                if let Some(before) = before
                    && self.is_joined(before, side)
                {
                    let (a, b) = (
                        root(&mut parents, before.triangle),
                        root(&mut parents, side.triangle),
                    );
                    parents[a.max(b) as usize] = a.min(b);
                }
                before = Some(side);
            }
        }
        self.charts = (0..self.count() as u32)
            .map(|t| root(&mut parents, t))
            .collect();
    }
}

/// First of the set, halving the way to it.
fn root(parents: &mut [u32], mut at: u32) -> u32 {
    while parents[at as usize] != at {
        let above = parents[parents[at as usize] as usize];
        parents[at as usize] = above;
        at = above;
    }
    at
}

struct Welder {
    origin: DVec3,
    per_step: f64,
    places: HashMap<[i32; 3], u32>,
}

impl Welder {
    fn new(surface: &Surface) -> Self {
        let bounds = surface.bounds().filter(|b| b.radius_m().is_finite());
        let (origin, extent) = bounds.map_or((DVec3::ZERO, 1.0), |b| {
            let (min, max) = (b.min_m.as_dvec3(), b.max_m.as_dvec3());
            (min, (max - min).max_element())
        });
        let step = (extent * WELD).max(f64::MIN_POSITIVE);
        Self {
            origin,
            per_step: 1.0 / step,
            places: HashMap::new(),
        }
    }

    fn place(&mut self, position: Vec3) -> u32 {
        // Casts saturate; a third of a step keeps round numbers off the border.
        let steps = (position.as_dvec3() - self.origin) * self.per_step + 1.0 / 3.0;
        let key = steps.to_array().map(|s| s.round() as i32);
        let next = self.places.len() as u32;
        *self.places.entry(key).or_insert(next)
    }
}
