//! The surface point under a ray, and the one nearest to a place.

mod tree;
mod triangle;

use std::rc::Rc;

use glam::{DVec3, Vec2, Vec3};

use crate::model::face_normal;
use crate::{Patch, Surface};
pub use tree::Tree;

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

/// The triangles of a surface in a row, all patches one after the other.
pub trait Triangles {
    /// Corner positions.
    fn corners(&self, number: usize) -> [Vec3; 3];
    /// Normals of the corners.
    fn normals(&self, number: usize) -> [Vec3; 3];
    /// UVs of the corners ([`Surface::sheet_uv`]).
    fn uvs(&self, number: usize) -> [Vec2; 3];
    /// Patch, and triangle within it.
    fn owner(&self, number: usize) -> (usize, usize);
}

/// Answers questions about one surface quickly.
#[derive(Debug)]
pub struct Picker<T = Copied> {
    tree: Tree,
    triangles: T,
}

/// What questions need, copied out of a surface so that it lies together.
#[derive(Debug, Default)]
pub struct Copied {
    corners: Vec<[Vec3; 3]>,
    normals: Vec<[Vec3; 3]>,
    uvs: Vec<[Vec2; 3]>,
    owners: Vec<(u32, u32)>,
}

impl Triangles for Copied {
    fn corners(&self, number: usize) -> [Vec3; 3] {
        self.corners[number]
    }

    fn normals(&self, number: usize) -> [Vec3; 3] {
        self.normals[number]
    }

    fn uvs(&self, number: usize) -> [Vec2; 3] {
        self.uvs[number]
    }

    fn owner(&self, number: usize) -> (usize, usize) {
        let (patch, triangle) = self.owners[number];
        (patch as usize, triangle as usize)
    }
}

/// A surface that stays where it is: a little slower, and without memory of its own.
#[derive(Debug)]
pub struct Shared {
    surface: Rc<Surface>,
    /// Number of the first triangle of each patch.
    firsts: Vec<usize>,
}

impl Shared {
    /// Of a surface whose indices are in range and whose positions are finite, as [`crate::gltf_in`]
    /// gives it.
    #[must_use]
    pub fn new(surface: Rc<Surface>) -> Self {
        let mut next = 0;
        let firsts = surface.patches.iter().map(|patch| {
            let first = next;
            next += patch.triangle_count();
            first
        });
        Self {
            firsts: firsts.collect(),
            surface,
        }
    }

    fn of<V: Default>(&self, number: usize, get: impl Fn(&Patch, usize) -> V) -> [V; 3] {
        let (patch, triangle) = self.owner(number);
        let patch = &self.surface.patches[patch];
        match patch.triangle(triangle) {
            Some(vertices) => vertices.map(|v| get(patch, v)),
            None => <[V; 3]>::default(),
        }
    }
}

impl Triangles for Shared {
    fn corners(&self, number: usize) -> [Vec3; 3] {
        self.of(number, |patch, v| patch.positions[v])
    }

    fn normals(&self, number: usize) -> [Vec3; 3] {
        self.of(number, |patch, v| {
            patch.normals.get(v).copied().unwrap_or_default()
        })
    }

    fn uvs(&self, number: usize) -> [Vec2; 3] {
        self.of(number, |patch, v| self.surface.sheet_uv(patch, v))
    }

    fn owner(&self, number: usize) -> (usize, usize) {
        let patch = self.firsts.partition_point(|first| *first <= number) - 1;
        (patch, number - self.firsts[patch])
    }
}

impl Picker {
    /// Builds the bounding volume hierarchy: O(n log n) in triangles.
    /// Triangles with an index out of range or a position that is not finite are left out.
    pub fn new(surface: &Surface) -> Self {
        let mut triangles = Copied::default();
        for (p, patch) in surface.patches.iter().enumerate() {
            for triangle in 0..patch.triangle_count() {
                let Some(vertices) = patch.triangle(triangle) else {
                    continue;
                };
                let corners = vertices.map(|v| patch.positions[v]);
                if !corners.iter().all(|c| c.is_finite()) {
                    continue;
                }
                triangles.corners.push(corners);
                triangles
                    .normals
                    .push(vertices.map(|v| patch.normals.get(v).copied().unwrap_or_default()));
                triangles
                    .uvs
                    .push(vertices.map(|v| surface.sheet_uv(patch, v)));
                triangles.owners.push((p as u32, triangle as u32));
            }
        }
        Self {
            tree: Tree::new(&triangles.corners),
            triangles,
        }
    }
}

impl Picker<Shared> {
    /// Over a surface that stays where it is; `tree` may have been built elsewhere ([`Tree::of`]).
    #[must_use]
    pub fn shared(surface: Rc<Surface>, tree: Option<Tree>) -> Self {
        Self {
            tree: tree.unwrap_or_else(|| Tree::of(&surface)),
            triangles: Shared::new(surface),
        }
    }
}

impl<T: Triangles> Picker<T> {
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
            if !visible(self.triangles.owner(number).0) {
                return limit;
            }
            if let Some((distance, weights)) = ray.meets(self.triangles.corners(number))
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
                && let Some((distance, _)) = ray.meets(self.triangles.corners(number))
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
            let corners = self.triangles.corners(number);
            if visible(self.triangles.owner(number).0) && faces(face_normal(corners)) {
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
        let (patch, triangle) = self.triangles.owner(number);
        let corners = self.triangles.corners(number);
        let w = weights.map(|w| w as f32);
        let mix = |v: [Vec3; 3]| v[0] * w[0] + v[1] * w[1] + v[2] * w[2];
        let position: DVec3 = (0..3).map(|k| corners[k].as_dvec3() * weights[k]).sum();
        let smooth = mix(self.triangles.normals(number)).normalize_or_zero();
        let uvs = self.triangles.uvs(number);
        Hit {
            patch,
            triangle,
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
