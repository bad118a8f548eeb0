//! The surface point under a ray, and the one nearest to a place.

mod tree;
mod triangle;

use glam::{DVec3, Vec2, Vec3};

use crate::Surface;
use crate::normals::face_normal;
pub(crate) use tree::Tree;

/// A point of the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Index into [`Surface::patches`].
    pub patch: usize,
    /// Triangle within the patch.
    pub triangle: usize,
    /// Weights of the three corners, summing to 1.
    pub barycentric: [f32; 3],
    /// World position in metres.
    pub position_m: Vec3,
    /// Unit normal, interpolated; the triangle's own where that gives none.
    pub normal: Vec3,
    /// On the image of the patch's sheet ([`Surface::sheet_uv`]).
    pub uv: Vec2,
    /// From the ray's origin or from the place asked for, in metres.
    pub distance_m: f32,
}

/// Answers questions about one surface quickly. Holds its own copy of what it needs.
#[derive(Debug)]
pub struct Picker {
    tree: Tree,
    /// Corner positions of every triangle, all patches in a row.
    corners: Vec<[Vec3; 3]>,
    normals: Vec<[Vec3; 3]>,
    uvs: Vec<[Vec2; 3]>,
    /// Patch and triangle of each.
    owners: Vec<(u32, u32)>,
}

impl Picker {
    /// Builds the bounding volume hierarchy: O(n log n) in triangles.
    /// Triangles with an index out of range or a position that is not finite are left out.
    pub fn new(surface: &Surface) -> Self {
        let mut picker = Self {
            tree: Tree::default(),
            corners: Vec::new(),
            normals: Vec::new(),
            uvs: Vec::new(),
            owners: Vec::new(),
        };
        for (p, patch) in surface.patches.iter().enumerate() {
            for triangle in 0..patch.triangle_count() {
                let Some(vertices) = patch.triangle(triangle) else {
                    continue;
                };
                let corners = vertices.map(|v| patch.positions[v]);
                if !corners.iter().all(|c| c.is_finite()) {
                    continue;
                }
                picker.corners.push(corners);
                picker
                    .normals
                    .push(vertices.map(|v| patch.normals.get(v).copied().unwrap_or_default()));
                picker
                    .uvs
                    .push(vertices.map(|v| surface.sheet_uv(patch, v)));
                picker.owners.push((p as u32, triangle as u32));
            }
        }
        picker.tree = Tree::new(&picker.corners);
        picker
    }

    /// The first hit along a ray, from either side of the surface, on patches
    /// that `visible` accepts. `direction` need not be a unit vector; `None` for
    /// a zero or non-finite one.
    pub fn ray(
        &self,
        origin: Vec3,
        direction: Vec3,
        visible: &dyn Fn(usize) -> bool,
    ) -> Option<Hit> {
        let direction = direction.as_dvec3().normalize_or_zero();
        if direction == DVec3::ZERO || !origin.is_finite() {
            return None;
        }
        let ray = triangle::Ray::new(origin.as_dvec3(), direction);
        let mut best: Option<(f64, [f64; 3], usize)> = None;
        self.tree.along(&ray, |number| {
            let limit = best.map_or(f64::INFINITY, |b| b.0);
            if !visible(self.owners[number].0 as usize) {
                return limit;
            }
            if let Some((distance, weights)) = ray.meets(self.corners[number])
                && distance < limit
            {
                best = Some((distance, weights, number));
                return distance;
            }
            limit
        });
        best.map(|(distance, weights, number)| self.hit(number, weights, distance))
    }

    /// Whether a ray meets any patch within `within_m`, from either side.
    pub fn meets(&self, origin: Vec3, direction: Vec3, within_m: f32) -> bool {
        let direction = direction.as_dvec3().normalize_or_zero();
        if direction == DVec3::ZERO || !origin.is_finite() {
            return false;
        }
        let ray = triangle::Ray::new(origin.as_dvec3(), direction);
        let mut limit = f64::from(within_m);
        let mut met = false;
        self.tree.along(&ray, |number| {
            if !met
                && let Some((distance, _)) = ray.meets(self.corners[number])
                && distance < limit
            {
                met = true;
                // Nothing more is looked for, not even in boxes around the origin.
                limit = f64::NEG_INFINITY;
            }
            limit
        });
        met
    }

    /// The point of the surface nearest to `place`, on patches that `visible`
    /// accepts and no further than `within_m`.
    pub fn nearest(
        &self,
        place: Vec3,
        within_m: f32,
        visible: &dyn Fn(usize) -> bool,
    ) -> Option<Hit> {
        self.nearest_facing(place, within_m, visible, &|_| true)
    }

    /// As [`Picker::nearest`], among triangles whose own unit normal `faces`
    /// accepts (a degenerate triangle's is zero).
    pub fn nearest_facing(
        &self,
        place: Vec3,
        within_m: f32,
        visible: &dyn Fn(usize) -> bool,
        faces: &dyn Fn(Vec3) -> bool,
    ) -> Option<Hit> {
        if !place.is_finite() {
            return None;
        }
        let mut limit = f64::from(within_m).powi(2);
        let mut best: Option<([f64; 3], usize)> = None;
        self.tree.around(place.as_dvec3(), limit, |number| {
            let corners = self.corners[number];
            if visible(self.owners[number].0 as usize) && faces(face_normal(corners)) {
                let (squared, weights) = triangle::nearest(corners, place.as_dvec3());
                if squared < limit || (best.is_none() && squared <= limit) {
                    limit = squared;
                    best = Some((weights, number));
                }
            }
            limit
        });
        best.map(|(weights, number)| self.hit(number, weights, limit.sqrt()))
    }

    fn hit(&self, number: usize, weights: [f64; 3], distance: f64) -> Hit {
        let (patch, triangle) = self.owners[number];
        let corners = self.corners[number];
        let w = weights.map(|w| w as f32);
        let mix = |v: [Vec3; 3]| v[0] * w[0] + v[1] * w[1] + v[2] * w[2];
        let position: DVec3 = (0..3).map(|k| corners[k].as_dvec3() * weights[k]).sum();
        let smooth = mix(self.normals[number]).normalize_or_zero();
        let uvs = self.uvs[number];
        Hit {
            patch: patch as usize,
            triangle: triangle as usize,
            barycentric: w,
            position_m: position.as_vec3(),
            normal: if smooth == Vec3::ZERO {
                face_normal(corners)
            } else {
                smooth
            },
            uv: uvs[0] * w[0] + uvs[1] * w[1] + uvs[2] * w[2],
            distance_m: distance as f32,
        }
    }
}
