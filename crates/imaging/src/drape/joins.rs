//! Which corners of triangles are one, and which edges they share.

use std::collections::HashMap;
use std::hash::Hash;

use glam::Vec3;
use rayon::prelude::*;

use super::mesh::Face;

/// A number for each corner of each triangle: the same one where keys are the same. Gives how many there are.
pub(crate) fn joined<K: Hash + Eq>(
    faces: &[Face],
    keys_of: impl Fn(&Face) -> [K; 3],
) -> (Vec<[u32; 3]>, usize) {
    let mut ids: HashMap<K, u32> = HashMap::with_capacity(faces.len());
    let corners = faces
        .iter()
        .map(|face| {
            keys_of(face).map(|key| {
                let next = ids.len() as u32;
                *ids.entry(key).or_insert(next)
            })
        })
        .collect();
    (corners, ids.len())
}

/// Keys of places in space.
pub(crate) fn places(face: &Face) -> [[u32; 3]; 3] {
    // Adding zero makes -0 and +0 one place.
    face.corners
        .map(|c| (c + Vec3::ZERO).to_array().map(f32::to_bits))
}

/// One edge of one triangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Side {
    /// The two corners' numbers, the lower first.
    pub(crate) key: u64,
    /// The triangle.
    pub(crate) face: u32,
    /// The edge begins at this corner of it.
    pub(crate) corner: u8,
}

/// The edges of all triangles: those between the same corners follow one another.
pub(crate) fn sides(corners: &[[u32; 3]]) -> Vec<Side> {
    let mut sides: Vec<Side> = corners
        .iter()
        .enumerate()
        .flat_map(|(face, ids)| {
            [0, 1, 2].map(|k| {
                let (from, to) = (ids[k], ids[(k + 1) % 3]);
                Side {
                    key: (u64::from(from.min(to)) << 32) | u64::from(from.max(to)),
                    face: face as u32,
                    corner: k as u8,
                }
            })
        })
        .collect();
    sides.par_sort_unstable();
    sides
}
