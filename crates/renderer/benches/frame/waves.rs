//! The object that is drawn: a square of one metre with waves on it.

use ganosis_surface::{Patch, Surface};
use glam::{Vec2, Vec3};

/// Height of the waves (m), and radians of them along the square.
const AMPLITUDE_M: f32 = 0.02;
const RADIANS: f32 = 40.0;

fn height_m(u: f32, v: f32) -> f32 {
    AMPLITUDE_M * (RADIANS * u).sin() * (RADIANS * v).cos()
}

/// Cells along a side, for about so many triangles.
pub(crate) fn cells(triangles: usize) -> usize {
    ((triangles as f64 / 2.0).sqrt() as usize).max(1)
}

/// The coarsest grid that lies within `error_m` of the waves, of those with a quarter of the triangles each: as
/// the viewer chooses among the levels of a packed surface. Of a chord between points `h` apart the height is
/// at most h²/8 times the second derivative, along u and along v.
pub(crate) fn coarse_cells(cells: usize, error_m: f32) -> usize {
    let curvature = 2.0 * AMPLITUDE_M * RADIANS * RADIANS;
    let within = |cells: usize| curvature / (8.0 * (cells * cells) as f32) <= error_m;
    let mut coarse = cells;
    while coarse > 1 && within(coarse / 2) {
        coarse /= 2;
    }
    coarse
}

/// The waves, on a grid of so many cells along a side.
pub(crate) fn waves(cells: usize) -> Surface {
    let at = |i: usize| i as f32 / cells as f32;
    let mut patch = Patch::default();
    for y in 0..=cells {
        for x in 0..=cells {
            let (u, v) = (at(x), at(y));
            patch
                .positions
                .push(Vec3::new(u - 0.5, 0.5 - v, height_m(u, v)));
            patch.normals.push(Vec3::Z);
            patch.uvs.push(Vec2::new(u, v));
        }
    }
    let row = cells + 1;
    for y in 0..cells {
        for x in 0..cells {
            let a = (y * row + x) as u32;
            let (b, c, d) = (a + 1, a + row as u32, a + row as u32 + 1);
            patch.indices.extend([a, c, b, b, c, d]);
        }
    }
    Surface {
        patches: vec![patch],
        ..Surface::default()
    }
}
