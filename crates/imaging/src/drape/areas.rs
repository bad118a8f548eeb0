//! The area of surface that each pixel of a photograph shows.

use glam::DVec3;
use rayon::prelude::*;

use super::mesh::Face;
use super::sight::Sight;
use super::view::View;

/// Steepest cosine between surface and line of sight that is told from 0, 89.9°: beyond, a pixel would show
/// any area (a choice of ours).
const LEAST_COSINE: f64 = 0.002;

/// Area in m² of the surface behind each pixel of a photograph, row by row; 0 where it shows none. Only
/// what is seen counts: of what lies behind an edge, or turns away, nothing.
///
/// A pixel is taken to show the plane of the triangle behind its middle. On the plane at distance 1 before
/// the lens it covers the area of the quadrangle of its corners, distortion taken away; there an area dA at
/// (x, y) is seen under the solid angle dA / (x² + y² + 1)^(3/2), and the surface at distance d under the
/// angle θ from its normal has d² / cos θ times that.
pub fn pixel_areas_m2(view: &View, faces: &[Face]) -> Vec<f32> {
    let sight = Sight::new(faces, view);
    let lens = view.lens.lens();
    let corners = |row: usize| -> Vec<Option<[f64; 2]>> {
        let columns = 0..=lens.width_px;
        let at = |column: usize| [column as f64, row as f64];
        columns.map(|c| view.lens.normalised_of(at(c))).collect()
    };
    (0..lens.height_px)
        .into_par_iter()
        .flat_map_iter(|row| {
            let (above, below) = (corners(row), corners(row + 1));
            (0..lens.width_px)
                .map(|column| {
                    let quadrangle = [
                        above[column],
                        above[column + 1],
                        below[column + 1],
                        below[column],
                    ];
                    area_m2(view, &sight, faces, quadrangle).unwrap_or(0.0) as f32
                })
                .collect::<Vec<f32>>()
        })
        .collect()
}

fn area_m2(
    view: &View,
    sight: &Sight,
    faces: &[Face],
    [a, b, c, d]: [Option<[f64; 2]>; 4],
) -> Option<f64> {
    let corners = [a?, b?, c?, d?];
    let middle = [0, 1].map(|k| corners.iter().map(|corner| corner[k]).sum::<f64>() / 4.0);
    let (face, inverse) = sight.first(middle)?;
    let [p, q, r] = faces[face as usize].corners.map(|c| view.camera_of(c));
    let normal = (q - p).cross(r - p).normalize();
    let along = DVec3::new(middle[0], middle[1], 1.0);
    let distance_m = along.length() / inverse;
    let cosine = normal.dot(along.normalize()).abs().max(LEAST_COSINE);
    // Half the cross product of the diagonals.
    let [a, b, c, d] = corners.map(glam::DVec2::from);
    let flat = 0.5 * (c - a).perp_dot(d - b).abs();
    Some(flat / along.length().powi(3) * distance_m * distance_m / cosine)
}
