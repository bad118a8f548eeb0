//! Normals for meshes that bring none.

use std::collections::HashMap;

use glam::Vec3;

use crate::model::{face_normal, place_key};

/// Vertices at one place share their normal where their own normals differ by
/// less than this: a UV seam stays invisible, the edge of a box stays sharp.
/// Choice of this project; cosine of 60°.
const SMOOTH_COSINE: f32 = 0.5;

/// One unit normal per vertex, the sum of the adjoining faces weighted by angle
/// (Thürmer and Wüthrich, "Computing vertex normals from polygonal facets",
/// Journal of Graphics Tools 3(1), 1998); zero for a vertex of no proper triangle.
///
/// glTF asks for flat shading where normals are missing; scanned surfaces, the
/// usual case here, would show every facet, so this smooths them.
pub(super) fn computed(positions: &[Vec3], indices: &[u32]) -> Vec<Vec3> {
    let own = summed(positions, indices);
    let mut places: HashMap<[u32; 3], Vec<usize>> = HashMap::new();
    for (vertex, p) in positions.iter().enumerate() {
        places.entry(place_key(*p)).or_default().push(vertex);
    }
    let mut normals: Vec<Vec3> = own.iter().map(|n| n.normalize_or_zero()).collect();
    for vertices in places.values().filter(|v| v.len() > 1) {
        let groups = groups(vertices, &own);
        for &vertex in vertices {
            let unit = own[vertex].normalize_or_zero();
            let near = |(direction, _): &&(Vec3, Vec3)| direction.dot(unit) > SMOOTH_COSINE;
            let sum: Vec3 = groups.iter().filter(near).map(|(_, sum)| *sum).sum();
            let smooth = sum.normalize_or_zero();
            if smooth != Vec3::ZERO {
                normals[vertex] = smooth;
            }
        }
    }
    normals
}

/// The vertices of one place gathered by direction, as (first direction, sum).
/// At most a few dozen groups can exist, so many vertices at one place stay cheap.
fn groups(vertices: &[usize], own: &[Vec3]) -> Vec<(Vec3, Vec3)> {
    /// Cosine of about 8°: directions this close count as one.
    const SAME_COSINE: f32 = 0.99;
    let mut groups: Vec<(Vec3, Vec3)> = Vec::new();
    for &vertex in vertices {
        let unit = own[vertex].normalize_or_zero();
        if unit == Vec3::ZERO {
            continue;
        }
        match groups
            .iter_mut()
            .find(|(direction, _)| direction.dot(unit) > SAME_COSINE)
        {
            Some((_, sum)) => *sum += own[vertex],
            None => groups.push((unit, own[vertex])),
        }
    }
    groups
}

fn summed(positions: &[Vec3], indices: &[u32]) -> Vec<Vec3> {
    let mut sums = vec![Vec3::ZERO; positions.len()];
    for t in indices.chunks_exact(3) {
        let t = [t[0] as usize, t[1] as usize, t[2] as usize];
        let p = t.map(|v| positions[v]);
        let face = face_normal(p);
        if face == Vec3::ZERO {
            continue;
        }
        for k in 0..3 {
            let (a, b) = (p[(k + 1) % 3] - p[k], p[(k + 2) % 3] - p[k]);
            let angle_rad = a.angle_between(b);
            if angle_rad.is_finite() {
                sums[t[k]] += face * angle_rad;
            }
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seam_is_smoothed_and_a_right_angle_is_kept() {
        // Two squares' triangles meeting at the y axis, vertices not shared.
        let fold = |z: f32| {
            let positions = vec![
                Vec3::ZERO,
                Vec3::X,
                Vec3::Y,
                Vec3::ZERO,
                Vec3::Y,
                Vec3::new(-1.0, 0.0, z),
            ];
            computed(&positions, &[0, 1, 2, 3, 4, 5])
        };
        let flat = fold(0.2);
        assert_eq!(flat[0], flat[3]);
        let square = fold(-100.0);
        assert!(square[0].distance(Vec3::Z) < 1e-6, "{:?}", square[0]);
        assert!(square[0].dot(square[3]).abs() < 0.02);
    }

    #[test]
    fn a_degenerate_triangle_gives_no_normal() {
        assert_eq!(computed(&[Vec3::ZERO; 3], &[0, 1, 2]), vec![Vec3::ZERO; 3]);
    }
}
