//! The distance sampled on a regular lattice: input of the isosurface, and a fast look-up.

use crate::sculpt::{Part, Sculpture};
use glam::{UVec3, Vec3};
use rayon::prelude::*;

/// Distances on a lattice.
#[derive(Debug)]
pub(crate) struct Lattice {
    /// First lattice point, centimetres.
    pub(crate) origin: Vec3,
    /// Spacing, centimetres.
    pub(crate) step: f32,
    /// Points along each axis.
    pub(crate) size: UVec3,
    /// Distances, x fastest.
    pub(crate) values: Vec<f32>,
}

/// Edge of the blocks that are skipped where the surface is far.
const BLOCK: u32 = 4;
/// The distance is a bound that may err by this factor at worst (flattened and folded shapes).
const SLACK: f32 = 2.2;

/// Box around a solid, centimetres.
pub(crate) fn bounds(part: Part) -> (Vec3, Vec3) {
    match part {
        Part::Boss => (Vec3::new(-21.8, -21.8, -7.4), Vec3::new(21.8, 21.8, 8.2)),
        Part::Bill => (Vec3::new(4.0, 7.8, 3.0), Vec3::new(13.8, 12.6, 6.2)),
    }
}

impl Lattice {
    /// Samples a solid with a spacing in centimetres.
    pub(crate) fn sample(sculpture: &Sculpture, part: Part, step: f32) -> Self {
        let (low, high) = bounds(part);
        let size = ((high - low) / step).ceil().as_uvec3() + 1;
        let layer = (size.x * size.y) as usize;
        let mut values = vec![0.0_f32; layer * size.z as usize];
        values
            .par_chunks_mut(layer * BLOCK as usize)
            .enumerate()
            .for_each(|(slab, chunk)| {
                let z0 = slab as u32 * BLOCK;
                for y0 in (0..size.y).step_by(BLOCK as usize) {
                    for x0 in (0..size.x).step_by(BLOCK as usize) {
                        let block = UVec3::new(x0, y0, z0);
                        fill(sculpture, part, (low, step, size), block, chunk);
                    }
                }
            });
        Self {
            origin: low,
            step,
            size,
            values,
        }
    }

    /// Trilinear distance at a point; outside the box the nearest lattice value.
    pub(crate) fn at(&self, p: Vec3) -> f32 {
        let top = (self.size - 1).as_vec3() - 1e-3;
        let q = ((p - self.origin) / self.step).clamp(Vec3::ZERO, top);
        let f = q.floor();
        let t = q - f;
        let i = f.as_uvec3();
        let (w, l) = (self.size.x as usize, (self.size.x * self.size.y) as usize);
        let base = i.x as usize + i.y as usize * w + i.z as usize * l;
        let v = |o: usize| self.values[base + o];
        let row = |o: usize| v(o) + (v(o + 1) - v(o)) * t.x;
        let plane = |o: usize| row(o) + (row(o + w) - row(o)) * t.y;
        plane(0) + (plane(l) - plane(0)) * t.z
    }
}

/// Fills one block of a slab; far blocks get the value of their middle.
fn fill(
    sculpture: &Sculpture,
    part: Part,
    (low, step, size): (Vec3, f32, UVec3),
    block: UVec3,
    chunk: &mut [f32],
) {
    let half = (BLOCK - 1) as f32 * 0.5;
    let middle = low + (block.as_vec3() + half) * step;
    let centre = sculpture.distance(part, middle);
    let far = centre.abs() > SLACK * (half + 1.0) * 1.733 * step;
    for dz in 0..BLOCK.min(size.z - block.z) {
        for y in block.y..(block.y + BLOCK).min(size.y) {
            for x in block.x..(block.x + BLOCK).min(size.x) {
                let p = low + Vec3::new(x as f32, y as f32, (block.z + dz) as f32) * step;
                let i = (x + y * size.x + dz * size.x * size.y) as usize;
                chunk[i] = if far {
                    centre
                } else {
                    sculpture.distance(part, p)
                };
            }
        }
    }
}
