//! What light needs of a surface besides its normals: normals without the relief, and how much of the sky
//! the surface itself hides.

use std::collections::HashMap;
use std::rc::Rc;

use glam::{DVec3, Vec3};

use crate::Surface;
use crate::model::place_key;
use crate::pick::Picker;

/// Rounds of smoothing, as many edges wide: a choice of ours. Relief finer than about ten facets is lost
/// from the smoothed normals, and is what is exaggerated.
const ROUNDS: usize = 96;

/// Vertices at one place belong together, across seams and patches: numbers of places, and for every
/// vertex the number of its own.
struct Places {
    of: Vec<usize>,
    count: usize,
}

fn places(surface: &Surface) -> Places {
    let mut known: HashMap<[u32; 3], usize> = HashMap::new();
    let positions = surface.patches.iter().flat_map(|patch| &patch.positions);
    let of = positions
        .map(|p| {
            let next = known.len();
            *known.entry(place_key(*p)).or_insert(next)
        })
        .collect();
    Places {
        of,
        count: known.len(),
    }
}

/// Unit normals smoothed over the mesh, one a vertex, all patches in a row: each place takes the mean of
/// its own and its neighbours' (a Laplacian step), again and again. Zero where no normal is known.
pub fn smoothed_normals(surface: &Surface) -> Vec<Vec3> {
    let places = places(surface);
    let mut normals = vec![Vec3::ZERO; places.count];
    let own = surface.patches.iter().flat_map(|patch| {
        let normals = (0..patch.positions.len()).map(|v| patch.normals.get(v).copied());
        normals.map(Option::unwrap_or_default)
    });
    for (place, normal) in places.of.iter().zip(own) {
        normals[*place] += normal;
    }
    for normal in &mut normals {
        *normal = normal.normalize_or_zero();
    }
    let mut edges = Vec::new();
    let mut first = 0;
    for patch in &surface.patches {
        for triangle in 0..patch.triangle_count() {
            if let Some(corners) = patch.triangle(triangle) {
                let [a, b, c] = corners.map(|v| places.of[first + v] as u32);
                edges.extend([[a, b], [b, c], [c, a]]);
            }
        }
        first += patch.positions.len();
    }
    // An edge between two triangles counts once.
    for edge in &mut edges {
        edge.sort_unstable();
    }
    edges.sort_unstable();
    edges.dedup();
    let mut sums = normals.clone();
    for _ in 0..ROUNDS {
        sums.copy_from_slice(&normals);
        for [a, b] in &edges {
            let [a, b] = [*a as usize, *b as usize];
            sums[a] += normals[b];
            sums[b] += normals[a];
        }
        for (normal, sum) in normals.iter_mut().zip(&sums) {
            // Where all cancel out the normal stays as it was.
            *normal = sum.try_normalize().unwrap_or(*normal);
        }
    }
    places.of.iter().map(|place| normals[*place]).collect()
}

/// A unit direction as two numbers in 1/32767: unfolded from an octahedron onto a square (Q. Meyer et al.,
/// "On floating-point normal vectors", EGSR 2010).
#[must_use]
pub fn unfolded(n: Vec3) -> [i16; 2] {
    let sum = (n.x.abs() + n.y.abs() + n.z.abs()).max(f32::MIN_POSITIVE);
    let (x, y) = (n.x / sum, n.y / sum);
    if n.z >= 0.0 {
        return [snorm(x), snorm(y)];
    }
    [
        snorm((1.0 - y.abs()).copysign(x)),
        snorm((1.0 - x.abs()).copysign(y)),
    ]
}

/// A number -1..1 in 1/32767.
#[must_use]
pub fn snorm(x: f32) -> i16 {
    (x.clamp(-1.0, 1.0) * f32::from(i16::MAX)).round() as i16
}

/// How much of the sky is open at every vertex, all patches in a row, found in slices.
///
/// The share of rays over the hemisphere of the normal, spread by the cosine (as diffuse light counts
/// them), that meet nothing of the surface; the same rays for every vertex and every run.
#[derive(Debug)]
pub struct Openness {
    picker: Rc<Picker>,
    /// Place and normal of every vertex.
    vertices: Vec<(Vec3, Vec3)>,
    /// Rays in the frame of a normal along z.
    rays: Vec<DVec3>,
    /// A ray begins so far above the surface (m).
    lift_m: f32,
    /// And sees so far (m).
    reach_m: f32,
    open: Vec<f32>,
}

/// Rays a vertex: one is 1.6 % of the light. A choice of ours.
pub const RAYS: usize = 64;

/// How far above the surface a ray begins and how far it goes, in radii of the whole. Choices of ours:
/// above the rounding of f32 positions and below what is seen; across the object from anywhere on it.
const LIFT: f32 = 1e-4;
const REACH: f32 = 4.0;

impl Openness {
    /// Begins with `rays` rays a vertex, [`RAYS`] as a rule.
    pub fn new(surface: &Surface, picker: Rc<Picker>, rays: usize) -> Self {
        let vertices = surface.patches.iter().flat_map(|patch| {
            let normal = |v: usize| patch.normals.get(v).copied().unwrap_or_default();
            (0..patch.positions.len()).map(move |v| (patch.positions[v], normal(v)))
        });
        let radius_m = surface.bounds().map_or(0.0, |b| b.radius_m());
        Self {
            picker,
            vertices: vertices.collect(),
            rays: (0..rays).map(|i| cosine_ray(i, rays)).collect(),
            lift_m: radius_m * LIFT,
            reach_m: radius_m * REACH,
            open: Vec::new(),
        }
    }

    /// Goes on with up to `count` vertices; the share that is done, 0..1.
    pub fn step(&mut self, count: usize) -> f64 {
        let done = self.open.len();
        let end = (done + count).min(self.vertices.len());
        for &(place, normal) in &self.vertices[done..end] {
            self.open.push(self.at(place, normal));
        }
        end as f64 / self.vertices.len().max(1) as f64
    }

    /// What is known so far, one a vertex, 0..1.
    #[must_use]
    pub fn open(&self) -> &[f32] {
        &self.open
    }

    /// Share of the sky that is open above a place of the surface.
    #[must_use]
    pub fn at(&self, place: Vec3, normal: Vec3) -> f32 {
        let n = normal.as_dvec3();
        if n == DVec3::ZERO || self.rays.is_empty() {
            return 1.0;
        }
        let (right, up) = n.any_orthonormal_pair();
        let from = place + normal * self.lift_m;
        let free = self.rays.iter().filter(|ray| {
            let direction = right * ray.x + up * ray.y + n * ray.z;
            !self.picker.meets(from, direction.as_vec3(), self.reach_m)
        });
        free.count() as f32 / self.rays.len() as f32
    }
}

/// Direction `i` of `count`, spread over the hemisphere of z by the cosine: points evenly spaced on a disc
/// (H. Vogel, "A better way to construct the sunflower head", Mathematical Biosciences 44, 1979) lifted onto
/// it (T. Malley's method).
fn cosine_ray(i: usize, count: usize) -> DVec3 {
    let share = (i as f64 + 0.5) / count as f64;
    // The golden angle.
    let angle = i as f64 * std::f64::consts::PI * (3.0 - 5.0_f64.sqrt());
    let radius = share.sqrt();
    DVec3::new(
        radius * angle.cos(),
        radius * angle.sin(),
        (1.0 - share).sqrt(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn begun(surface: &Surface, rays: usize) -> Openness {
        Openness::new(surface, Rc::new(Picker::new(surface)), rays)
    }
    use crate::{Patch, Sheet};

    fn surface(patches: Vec<Patch>) -> Surface {
        Surface {
            sheets: vec![Sheet::plain("all")],
            patches,
            ..Surface::default()
        }
    }

    /// A parallelogram with its own normal.
    fn quad(corner: Vec3, a: Vec3, b: Vec3) -> Patch {
        Patch {
            positions: vec![corner, corner + a, corner + a + b, corner + b],
            normals: vec![a.cross(b).normalize(); 4],
            uvs: vec![glam::Vec2::ZERO; 4],
            indices: vec![0, 1, 2, 0, 2, 3],
            ..Patch::default()
        }
    }

    /// A wall of height `h` at distance `d` from an element of the ground, without end sideways, hides
    /// (1 - cos φ) / 2 of its sky, with tan φ = h / d (J. R. Howell's catalogue, A-1: plane element to a
    /// strip of infinite length).
    #[test]
    fn a_long_wall_hides_what_the_formula_says() {
        let long = 2000.0;
        let ground = quad(Vec3::new(-1.0, -1.0, 0.0), Vec3::X * 2.0, Vec3::Y * 2.0);
        for (height, distance) in [(1.0_f32, 1.0_f32), (2.0, 1.0), (0.5, 1.0), (1.0, 0.05)] {
            let wall = quad(
                Vec3::new(distance, -long / 2.0, 0.0),
                Vec3::Y * long,
                Vec3::Z * height,
            );
            let mut openness = begun(&surface(vec![ground.clone(), wall]), 4096);
            openness.lift_m = 1e-5;
            let wanted = 1.0 - (1.0 - distance / distance.hypot(height)) / 2.0;
            let found = openness.at(Vec3::ZERO, Vec3::Z);
            assert!(
                (found - wanted).abs() < 0.01,
                "{height} at {distance}: {found}, wanted {wanted}"
            );
            // With as many rays as are used: within two rays and a half.
            let mut few = begun(
                &surface(vec![
                    ground.clone(),
                    quad(
                        Vec3::new(distance, -long / 2.0, 0.0),
                        Vec3::Y * long,
                        Vec3::Z * height,
                    ),
                ]),
                RAYS,
            );
            few.lift_m = 1e-5;
            let found = few.at(Vec3::ZERO, Vec3::Z);
            assert!(
                (found - wanted).abs() < 2.5 / RAYS as f32,
                "{height} at {distance}: {found}, wanted {wanted}"
            );
        }
    }

    /// The middle of the floor of an open box of side 2 and height 1 sees of the sky the configuration
    /// factor to a parallel square: four corners of 1 × 1 at height 1, each
    /// (1 / 2π) (x / √(1+x²) atan(y / √(1+x²)) + y / √(1+y²) atan(x / √(1+y²))) with x = y = 1 (J. R. Howell's
    /// catalogue, B-3).
    #[test]
    fn the_floor_of_a_box_sees_its_opening() {
        let (x, y, z) = (Vec3::X * 2.0, Vec3::Y * 2.0, Vec3::Z);
        let corner = Vec3::new(-1.0, -1.0, 0.0);
        let walls = vec![
            quad(corner, x, y),
            quad(corner, x, z),
            quad(corner, y, z),
            quad(corner + x, y, z),
            quad(corner + y, x, z),
        ];
        let root = 2.0_f32.sqrt();
        let wanted = 4.0 / std::f32::consts::TAU * 2.0 / root * (1.0 / root).atan();
        let openness = begun(&surface(walls), 4096);
        let found = openness.at(Vec3::ZERO, Vec3::Z);
        assert!((found - wanted).abs() < 0.01, "{found}, wanted {wanted}");
    }

    #[test]
    fn a_direction_comes_back_from_its_square() {
        for n in [
            Vec3::Z,
            Vec3::NEG_Z,
            Vec3::NEG_X,
            Vec3::new(0.6, -0.64, -0.48),
            Vec3::new(-0.36, 0.48, 0.8),
        ] {
            let [x, y] = unfolded(n).map(|v| f32::from(v) / f32::from(i16::MAX));
            let z = 1.0 - x.abs() - y.abs();
            let back = (-z).max(0.0);
            let found = Vec3::new(x - back.copysign(x), y - back.copysign(y), z).normalize();
            assert!(found.distance(n) < 1e-4, "{n} came back as {found}");
        }
    }

    #[test]
    fn slices_give_what_all_at_once_gives() {
        let ground = quad(Vec3::ZERO, Vec3::X, Vec3::Y);
        let wall = quad(Vec3::new(0.5, 0.0, 0.0), Vec3::Y, Vec3::Z);
        let both = surface(vec![ground, wall]);
        let mut whole = begun(&both, RAYS);
        assert_eq!(whole.step(usize::MAX >> 1), 1.0);
        let mut slices = begun(&both, RAYS);
        while slices.step(3) < 1.0 {}
        assert_eq!(whole.open(), slices.open());
        assert_eq!(whole.open().len(), 8);
    }

    /// A strip of wavy normals: a Laplacian step shrinks a wave of k cells a period by 1/3 + 2/3 cos(2π/k)
    /// along a chain whose every place has two neighbours of its own kind; what is left after many rounds is
    /// the even normal.
    #[test]
    fn waves_are_smoothed_away_and_even_normals_stay() {
        let columns = 200;
        let mut patch = Patch::default();
        for i in 0..columns {
            for y in [0.0, 1.0] {
                patch.positions.push(Vec3::new(i as f32, y, 0.0));
                let tilt = 0.3 * (i as f32 * std::f32::consts::TAU / 10.0).sin();
                patch.normals.push(Vec3::new(tilt, 0.0, 1.0).normalize());
            }
        }
        for i in 0..columns as u32 - 1 {
            let v = 2 * i;
            patch.indices.extend([v, v + 2, v + 1, v + 1, v + 2, v + 3]);
        }
        let even = smoothed_normals(&surface(vec![patch.clone()]));
        for normal in &even[100..300] {
            assert!(normal.angle_between(Vec3::Z) < 0.01, "{normal}");
        }
        patch.normals.fill(Vec3::new(0.6, 0.0, 0.8));
        for normal in smoothed_normals(&surface(vec![patch])) {
            assert!(normal.distance(Vec3::new(0.6, 0.0, 0.8)) < 1e-5);
        }
    }

    #[test]
    fn seams_do_not_hinder_smoothing() {
        // Two patches that meet at x = 1, their normals 60° apart.
        let mut left = quad(Vec3::ZERO, Vec3::X, Vec3::Y);
        let mut right = quad(Vec3::X, Vec3::X, Vec3::Y);
        left.normals.fill(Vec3::new(-0.5, 0.0, 0.75_f32.sqrt()));
        right.normals.fill(Vec3::new(0.5, 0.0, 0.75_f32.sqrt()));
        let normals = smoothed_normals(&surface(vec![left, right]));
        // Vertices 1 and 2 of the first are 0 and 3 of the second.
        assert_eq!(normals[1], normals[4]);
        assert_eq!(normals[2], normals[7]);
        assert!(normals[0].angle_between(normals[5]) < 0.05);
    }
}
