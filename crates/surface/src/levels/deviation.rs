//! How far a level lies from the surface, as measured.

use std::rc::Rc;

use glam::Vec2;

use crate::pick::{Picker, Shared};
use crate::{Patch, Surface};

/// At most so many places are looked at, evenly spread over the list of vertices or triangles: the largest
/// of so many differs from the largest of all by little (a choice of ours).
const PLACES: usize = 100_000;

/// What a level costs.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Deviation {
    /// The largest distance between the two found: from places of the surface to the level and from the
    /// middles of the level's triangles and edges to the surface (mm).
    pub error_mm: f64,
    /// How far what a layer shows is shifted along the surface: of places of the surface, 99 in 100 less
    /// (mm). Places beside a seam of UVs are left out.
    pub shift_mm: f64,
}

/// Measures a level against the surface.
#[must_use]
pub fn deviation(level: &Surface, surface: &Surface) -> Deviation {
    let reach_m = surface.bounds().map_or(0.0, |b| 2.0 * b.radius_m());
    let to_level = Picker::<Shared>::shared(Rc::new(level.clone()), None);
    let to_surface = Picker::<Shared>::shared(Rc::new(surface.clone()), None);
    let mut error_m = 0.0_f32;
    let mut shifts = Vec::new();
    for (number, patch) in surface.patches.iter().enumerate() {
        let own = |p: usize| p == number;
        for v in spread(patch.positions.len(), &surface.patches) {
            let Some(hit) = to_level.nearest(patch.positions[v], reach_m, &own) else {
                continue;
            };
            error_m = error_m.max(hit.distance_m);
            let level_patch = &level.patches[number];
            if let Some(across) = metres_per_uv(level, level_patch, hit.triangle) {
                let shift = (surface.sheet_uv(patch, v) - hit.uv).length() * across;
                shifts.push(shift);
            }
        }
    }
    for (number, patch) in level.patches.iter().enumerate() {
        let own = |p: usize| p == number;
        for t in spread(patch.triangle_count(), &level.patches) {
            let Some([a, b, c]) = patch.corners(t) else {
                continue;
            };
            for place in [
                (a + b + c) / 3.0,
                (a + b) / 2.0,
                (b + c) / 2.0,
                (c + a) / 2.0,
            ] {
                let hit = to_surface.nearest(place, reach_m, &own);
                error_m = error_m.max(hit.map_or(0.0, |hit| hit.distance_m));
            }
        }
    }
    // A place beside a seam may find the other side of it, whose UVs lie elsewhere on the sheet: further
    // than a tenth of the object it is no shift.
    shifts.retain(|shift| *shift < reach_m / 20.0);
    shifts.sort_by(f32::total_cmp);
    let shift_m = shifts.get(shifts.len() * 99 / 100).copied().unwrap_or(0.0);
    Deviation {
        error_mm: f64::from(error_m) * 1000.0,
        shift_mm: f64::from(shift_m) * 1000.0,
    }
}

/// Numbers below `count`, as many of them as the patch's share of all places.
fn spread(count: usize, patches: &[Patch]) -> impl Iterator<Item = usize> {
    let all: usize = patches.iter().map(|p| p.positions.len()).sum();
    (0..count).step_by((all / PLACES).max(1))
}

/// Length on the surface of a length on the sheet, over one triangle; none where it has no area on either.
fn metres_per_uv(surface: &Surface, patch: &Patch, triangle: usize) -> Option<f32> {
    let vertices = patch.triangle(triangle)?;
    let [a, b, c] = vertices.map(|v| patch.positions[v]);
    let [p, q, r]: [Vec2; 3] = vertices.map(|v| surface.sheet_uv(patch, v));
    let m2 = (b - a).cross(c - a).length();
    let uv = (q - p).perp_dot(r - p).abs();
    (uv > 0.0 && m2 > 0.0).then(|| (m2 / uv).sqrt())
}
