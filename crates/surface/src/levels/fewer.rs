//! Fewer triangles over the same vertices.

use meshoptimizer_rs::{
    Attributes, Error, Limits, Positions, SimplifyOptions, SimplifySettings, Workspace,
    simplify_with_attributes,
};

/// What a mesh is reduced by: its vertices, with further numbers that count besides their places.
#[derive(Debug, Clone, Copy)]
pub struct Weighed<'a> {
    /// Places.
    pub positions: &'a [[f32; 3]],
    /// Numbers of all vertices in a row, as many a vertex as there are weights.
    pub attributes: &'a [f32],
    /// What a change of each number by one weighs against a move by the mesh's extent.
    pub weights: &'a [f32],
}

/// About `wanted` of the indices of a triangle list, by collapsing edges where it changes least, and none
/// further than `largest_error`, a share of the extent (Garland and Heckbert, "Surface simplification
/// using quadric error metrics", SIGGRAPH 1997, with attributes: Hoppe, "New quadric metric for
/// simplifying meshes with appearance attributes", IEEE Visualization 1999). Vertices stay where they
/// are, and so do the edges of the mesh, so that no gap opens to its neighbours.
///
/// # Errors
/// A mesh that the library does not take.
pub fn fewer_triangles(
    mesh: Weighed<'_>,
    indices: &[u32],
    wanted: usize,
    largest_error: f32,
) -> Result<Vec<u32>, Error> {
    let width = mesh.weights.len();
    let settings = SimplifySettings {
        target_index_count: wanted.min(indices.len()),
        target_error: largest_error,
        options: SimplifyOptions::LOCK_BORDER,
    };
    let simplified = simplify_with_attributes(
        indices,
        Positions::from_packed(mesh.positions),
        Attributes::from_interleaved(mesh.attributes, mesh.positions.len(), width, width, 0)?,
        mesh.weights,
        None,
        settings,
        &mut workspace(),
    )?;
    Ok(simplified.indices)
}

/// The library's own bound of 1 GiB is below what ten million triangles need; a mesh was bounded when it
/// was read.
pub(super) fn workspace() -> Workspace {
    Workspace::new(Limits {
        max_bytes: usize::MAX,
        max_work: u64::MAX,
    })
}

/// The indices renamed to the vertices that they use, and those vertices' old numbers in the order of
/// their use; `count` is how many vertices there were.
#[must_use]
pub fn used_vertices(indices: &[u32], count: usize) -> (Vec<u32>, Vec<usize>) {
    let mut places: Vec<Option<u32>> = vec![None; count];
    let mut used = Vec::new();
    let renamed = indices.iter().map(|&v| {
        *places[v as usize].get_or_insert_with(|| {
            used.push(v as usize);
            // As many as there were, and those were counted in 32 bits.
            used.len() as u32 - 1
        })
    });
    let renamed = renamed.collect();
    (renamed, used)
}
