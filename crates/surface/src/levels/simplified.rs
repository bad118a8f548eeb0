//! Fewer triangles.

use meshoptimizer_rs::optimize_vertex_cache;

use super::fewer::{Weighed, fewer_triangles, used_vertices, workspace};
use crate::{Bounds, Patch, Surface, area};

/// The surface with about `triangles` triangles: see [`fewer_triangles`]. UVs count as lengths on the
/// surface do; seams of UVs stay seams, and edges of patches are not touched.
#[must_use]
pub fn simplified(surface: &Surface, triangles: usize) -> Surface {
    let before = surface.triangle_count().max(1);
    let share = (triangles as f64 / before as f64).min(1.0);
    let patches = surface.patches.iter().map(|patch| {
        let target = (patch.triangle_count() as f64 * share).ceil() as usize * 3;
        with_triangles(surface, patch, target).unwrap_or_else(|| patch.clone())
    });
    Surface {
        patches: patches.collect(),
        ..surface.clone()
    }
}

/// The surface with its triangles and vertices in the order in which a device draws them fastest.
#[must_use]
pub(super) fn in_drawing_order(surface: &Surface) -> Surface {
    let ordered = |patch: &Patch| {
        let count = patch.positions.len();
        let ordered = optimize_vertex_cache(&patch.indices, count, &mut workspace());
        ordered.map_or_else(|_| patch.clone(), |indices| without_unused(patch, &indices))
    };
    Surface {
        patches: surface.patches.iter().map(ordered).collect(),
        ..surface.clone()
    }
}

/// None where the patch cannot be reduced, which then stays.
fn with_triangles(surface: &Surface, patch: &Patch, indices: usize) -> Option<Patch> {
    let uvs: Vec<f32> = (0..patch.positions.len())
        .flat_map(|v| surface.sheet_uv(patch, v).to_array())
        .collect();
    let mesh = Weighed {
        positions: bytemuck::cast_slice(&patch.positions),
        attributes: &uvs,
        weights: &[uv_weight(surface, patch); 2],
    };
    // The number of triangles decides; what it costs is measured afterwards.
    let simpler = fewer_triangles(mesh, &patch.indices, indices, 1.0).ok()?;
    let count = patch.positions.len();
    let ordered = optimize_vertex_cache(&simpler, count, &mut workspace()).ok()?;
    Some(without_unused(patch, &ordered))
}

/// What makes a shift on the sheet weigh as much as the same length on the surface, whose extent is 1 to
/// the library.
fn uv_weight(surface: &Surface, patch: &Patch) -> f32 {
    let [m2, uv] = area::on_surface_and_sheet(surface, patch);
    let extent = Bounds::of(patch.positions.iter().copied())
        .map_or(0.0, |b| f64::from((b.max_m - b.min_m).max_element()));
    let weight = (m2 / uv).sqrt() / extent;
    if weight.is_finite() {
        weight as f32
    } else {
        0.0
    }
}

/// The patch with these triangles and only the vertices that they use, in the order of their use.
fn without_unused(patch: &Patch, indices: &[u32]) -> Patch {
    let (indices, used) = used_vertices(indices, patch.positions.len());
    fn of<T: Copy>(all: &[T], used: &[usize]) -> Vec<T> {
        used.iter().map(|&v| all[v]).collect()
    }
    Patch {
        sheet: patch.sheet,
        node_path: patch.node_path.clone(),
        positions: of(&patch.positions, &used),
        normals: of(&patch.normals, &used),
        uvs: of(&patch.uvs, &used),
        uvs_1: patch.uvs_1.as_deref().map(|all| of(all, &used)),
        colours: patch.colours.as_deref().map(|all| of(all, &used)),
        indices,
        variant_sheets: patch.variant_sheets.clone(),
    }
}
