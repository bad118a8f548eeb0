//! Fewer triangles.

use glam::Vec3;
use meshoptimizer_rs::{
    Attributes, Limits, Positions, SimplifyOptions, SimplifySettings, Workspace,
    optimize_vertex_cache, simplify_with_attributes,
};

use crate::{Patch, Surface, area};

/// The surface with about `triangles` triangles, by collapsing edges where it changes least (Garland and
/// Heckbert, "Surface simplification using quadric error metrics", SIGGRAPH 1997, with UVs as attributes:
/// Hoppe, "New quadric metric for simplifying meshes with appearance attributes", IEEE Visualization
/// 1999). Vertices stay where they are, on seams of UVs too; edges of patches are not touched, so that
/// no gap opens between them.
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

/// None where the patch cannot be reduced, which then stays.
fn with_triangles(surface: &Surface, patch: &Patch, indices: usize) -> Option<Patch> {
    let positions: &[[f32; 3]] = bytemuck::cast_slice(&patch.positions);
    let uvs: Vec<f32> = (0..patch.positions.len())
        .flat_map(|v| surface.sheet_uv(patch, v).to_array())
        .collect();
    let attributes = Attributes::from_interleaved(&uvs, patch.positions.len(), 2, 2, 0).ok()?;
    let settings = SimplifySettings {
        target_index_count: indices.min(patch.indices.len()),
        // The number of triangles decides; what it costs is measured afterwards.
        target_error: 1.0,
        options: SimplifyOptions::LOCK_BORDER,
    };
    let weight = uv_weight(surface, patch);
    // The library's own bound of 1 GiB is below what ten million triangles need; the surface was
    // bounded when it was read.
    let mut workspace = Workspace::new(Limits {
        max_bytes: usize::MAX,
        max_work: u64::MAX,
    });
    let simpler = simplify_with_attributes(
        &patch.indices,
        Positions::from_packed(positions),
        attributes,
        &[weight; 2],
        None,
        settings,
        &mut workspace,
    );
    let ordered = optimize_vertex_cache(
        &simpler.ok()?.indices,
        patch.positions.len(),
        &mut workspace,
    );
    Some(without_unused(patch, &ordered.ok()?))
}

/// What makes a shift on the sheet weigh as much as the same length on the surface, whose extent is 1 to
/// the library.
fn uv_weight(surface: &Surface, patch: &Patch) -> f32 {
    let (mut m2, mut uv) = (0.0, 0.0);
    for t in 0..patch.triangle_count() {
        if let Some(corners) = patch.triangle(t) {
            let [p, q, r] = corners.map(|v| surface.sheet_uv(patch, v));
            m2 += area::triangle_m2(patch, t);
            uv += f64::from((q - p).perp_dot(r - p).abs()) / 2.0;
        }
    }
    let (min, max) = patch
        .positions
        .iter()
        .fold((Vec3::INFINITY, Vec3::NEG_INFINITY), |(min, max), p| {
            (min.min(*p), max.max(*p))
        });
    let extent = f64::from((max - min).max_element());
    let weight = (m2 / uv).sqrt() / extent;
    if weight.is_finite() {
        weight as f32
    } else {
        0.0
    }
}

/// The patch with these triangles and only the vertices that they use, in the order of their use.
fn without_unused(patch: &Patch, indices: &[u32]) -> Patch {
    const NONE: u32 = u32::MAX;
    let mut place = vec![NONE; patch.positions.len()];
    let mut used = Vec::new();
    let renamed = indices.iter().map(|&v| {
        let own = &mut place[v as usize];
        if *own == NONE {
            *own = used.len() as u32;
            used.push(v as usize);
        }
        *own
    });
    let indices: Vec<u32> = renamed.collect();
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
