//! The triangle mesh of a solid, with what each vertex sees of the sky.

use super::lattice::Lattice;
use crate::noise::Random;
use crate::sculpt::{Part, Sculpture};
use anyhow::{Result, ensure};
use fast_surface_nets::{SurfaceNetsBuffer, surface_nets};
use glam::Vec3;
use ndshape::RuntimeShape;
use rayon::prelude::*;

/// A mesh in centimetres.
#[derive(Debug)]
pub(crate) struct Mesh {
    /// Vertex positions.
    pub(crate) positions: Vec<Vec3>,
    /// Outward unit normals.
    pub(crate) normals: Vec<Vec3>,
    /// Share of the sky seen over the vertex, 0..1.
    pub(crate) openness: Vec<f32>,
    /// How hollow (positive) or proud (negative) the stone is there, about -1..1.
    pub(crate) hollow: Vec<f32>,
    /// How a coat of paint lies there, see [`Lie`].
    pub(crate) lie: Vec<Lie>,
    /// Counter-clockwise triangles.
    pub(crate) triangles: Vec<[u32; 3]>,
}

/// Spacing of the first, coarse lattice that tells how fine the real one has to be.
const COARSE_CM: f32 = 0.42;
/// Finest spacing allowed: below it the lattice alone would take gigabytes.
const FINEST_CM: f32 = 0.045;

/// A mesh of the boss with at least `triangles` triangles, and the bill, a little finer.
pub(crate) fn build(
    sculpture: &Sculpture,
    seed: u64,
    triangles: usize,
    say: &dyn Fn(&str),
) -> Result<(Mesh, Mesh)> {
    let coarse = isosurface(&Lattice::sample(sculpture, Part::Boss, COARSE_CM))?;
    // The count grows with the square of the fineness, and a little more with finer relief.
    let mut step = COARSE_CM * (coarse.1.len() as f32 / triangles as f32).sqrt() * 0.995;
    loop {
        ensure!(
            step >= FINEST_CM,
            "--triangles {triangles} is too many: this machine's memory would not hold it; ask for at most 6000000"
        );
        let lattice = Lattice::sample(sculpture, Part::Boss, step);
        let (positions, faces) = isosurface(&lattice)?;
        if faces.len() < triangles {
            step *= 0.985;
            continue;
        }
        say(&format!(
            "{} triangles at {:.1} mm spacing",
            faces.len(),
            step * 10.0
        ));
        let boss = finish(sculpture, seed, Part::Boss, &lattice, positions, faces);
        let small = Lattice::sample(sculpture, Part::Bill, step * 0.7);
        let (positions, faces) = isosurface(&small)?;
        let bill = finish(sculpture, seed, Part::Bill, &small, positions, faces);
        return Ok((boss, bill));
    }
}

type Faces = (Vec<Vec3>, Vec<[u32; 3]>);

fn isosurface(lattice: &Lattice) -> Result<Faces> {
    let size = lattice.size.to_array();
    let shape = RuntimeShape::<u32, 3>::new(size);
    let mut buffer = SurfaceNetsBuffer::default();
    surface_nets(
        &lattice.values,
        &shape,
        [0; 3],
        size.map(|n| n - 1),
        &mut buffer,
    );
    ensure!(
        !buffer.indices.is_empty(),
        "the solid has no surface at this spacing"
    );
    let positions: Vec<Vec3> = buffer
        .positions
        .iter()
        .map(|p| lattice.origin + Vec3::from(*p) * lattice.step)
        .collect();
    let mut triangles: Vec<[u32; 3]> = buffer
        .indices
        .chunks_exact(3)
        .map(|t| [t[0], t[1], t[2]])
        .collect();
    let volume: f64 = triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|i| positions[i as usize].as_dvec3());
            a.dot(b.cross(c))
        })
        .sum();
    if volume < 0.0 {
        triangles.iter_mut().for_each(|t| t.swap(1, 2));
    }
    Ok((positions, triangles))
}

/// What the form does to a coat of paint.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Lie {
    /// Paint is wiped off the brush and gathers where another face stands near, 0..1.
    pub(crate) gather: f32,
    /// Paint is drawn thin and rubbed where the stone turns away sharply, 0..1.
    pub(crate) edge: f32,
}

impl Lie {
    fn at(lattice: &Lattice, p: Vec3, n: Vec3) -> Self {
        // Over a face that stands alone the distance grows as the height does. Heights in
        // centimetres, from a brush's tip to a brush's breadth.
        let near = |(r, weight): (f32, f32)| weight * (r - lattice.at(p + n * r)) / r;
        let gather: f32 = [(0.3, 0.35), (0.8, 0.35), (1.8, 0.30)]
            .map(near)
            .iter()
            .sum();
        let depth = 0.16;
        Self {
            gather: gather.clamp(0.0, 1.0),
            edge: ((depth + lattice.at(p - n * depth)) / depth).clamp(0.0, 1.0),
        }
    }
}

/// Pulls vertices onto the surface, and finds normals, openness and hollows.
fn finish(
    sculpture: &Sculpture,
    seed: u64,
    part: Part,
    lattice: &Lattice,
    mut positions: Vec<Vec3>,
    triangles: Vec<[u32; 3]>,
) -> Mesh {
    let step = lattice.step;
    let normals: Vec<Vec3> = positions
        .par_iter_mut()
        .map(|p| {
            for _ in 0..2 {
                let n = sculpture.normal(part, *p, step * 0.35);
                // Less than half a cell, so that no triangle turns over.
                *p -= n * sculpture
                    .distance(part, *p)
                    .clamp(-0.22 * step, 0.22 * step);
            }
            sculpture.normal(part, *p, step * 0.4)
        })
        .collect();
    let rays = directions(seed);
    let (openness, (hollow, lie)) = positions
        .par_iter()
        .zip(&normals)
        .map(|(&p, &n)| {
            let shape = (hollowness(lattice, p, n), Lie::at(lattice, p, n));
            (sky(lattice, p, n, &rays), shape)
        })
        .unzip();
    Mesh {
        positions,
        normals,
        openness,
        hollow,
        lie,
        triangles,
    }
}

/// Directions spread over the sphere.
fn directions(seed: u64) -> Vec<Vec3> {
    let mut random = Random::new(seed, "sky");
    (0..64)
        .map(|_| Vec3::new(random.bell(), random.bell(), random.bell()).normalize_or(Vec3::Z))
        .collect()
}

/// Share of the hemisphere above a point that nothing within 9 cm blocks, weighted by cosine.
fn sky(lattice: &Lattice, p: Vec3, n: Vec3, rays: &[Vec3]) -> f32 {
    let mut seen = 0.0;
    for &ray in rays {
        // Unit vectors around the tip of the normal are distributed by the cosine.
        let d = (n + ray).normalize_or(n);
        let mut t = 0.18;
        let mut clear: f32 = 1.0;
        while t < 9.0 {
            let h = lattice.at(p + n * 0.08 + d * t);
            if h < 0.01 {
                clear = 0.0;
                break;
            }
            clear = clear.min(h / t * 4.0);
            t += (h * 0.8).max(0.12);
        }
        seen += clear.min(1.0);
    }
    seen / rays.len() as f32
}

/// Compares the distance at two heights over (and depths under) the surface with that of a plane.
fn hollowness(lattice: &Lattice, p: Vec3, n: Vec3) -> f32 {
    let mut sum = 0.0;
    for (r, weight) in [(0.35, 0.5), (0.9, 0.5)] {
        let above = (r - lattice.at(p + n * r)) / r;
        let below = (r + lattice.at(p - n * r)) / r;
        sum += weight * (above - below);
    }
    sum.clamp(-1.0, 1.0)
}
