//! The surface as many small pieces of known area.

use ganosis_surface::{Patch, Surface, area};
use glam::{DVec2, DVec3, Vec3};

/// Most pieces of one sheet. A choice of ours: of a sheet of a third of a
/// square metre each is then about half a millimetre wide.
const MOST_PIECES: f64 = 1e6;

/// Most steps along an edge of one triangle, whatever its size.
const MOST_STEPS: f64 = 2048.0;

/// One piece: a place in its middle, and its area.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sample {
    pub(crate) uv: [f64; 2],
    pub(crate) position_m: Vec3,
    pub(crate) normal: Vec3,
    pub(crate) m2: f64,
}

/// Pieces per unit of UV area: one a texel, fewer where that is too many.
pub(crate) fn density(surface: &Surface, sheet: usize, size_px: [u32; 2]) -> f64 {
    let texels = f64::from(size_px[0].max(1)) * f64::from(size_px[1].max(1));
    let patches = surface.patches.iter().filter(|p| p.sheet == sheet);
    let used: f64 = patches
        .flat_map(|p| {
            (0..p.triangle_count())
                .filter_map(|t| p.triangle(t))
                .map(move |t| (p, t))
        })
        .map(|(p, t)| uv_area(t.map(|v| surface.sheet_uv(p, v).as_dvec2())))
        .sum();
    texels.min(MOST_PIECES / used.max(f64::MIN_POSITIVE))
}

fn uv_area([a, b, c]: [DVec2; 3]) -> f64 {
    (b - a).perp_dot(c - a).abs() * 0.5
}

/// Cuts each triangle into k² equal ones and visits their middles. Area is
/// kept exactly, whatever k is; k follows the size on the sheet.
pub(crate) fn samples(
    surface: &Surface,
    patch: &Patch,
    density: f64,
    visit: &mut dyn FnMut(Sample),
) {
    for triangle in 0..patch.triangle_count() {
        let (Some(vertices), Some(corners)) = (patch.triangle(triangle), patch.corners(triangle))
        else {
            continue;
        };
        let m2 = area::triangle_m2(patch, triangle);
        let uvs = vertices.map(|v| surface.sheet_uv(patch, v).as_dvec2());
        if m2 <= 0.0 || !m2.is_finite() || !uvs.iter().all(|uv| uv.is_finite()) {
            continue;
        }
        let steps = (uv_area(uvs) * density)
            .sqrt()
            .ceil()
            .clamp(1.0, MOST_STEPS);
        let normal = (corners[1] - corners[0])
            .cross(corners[2] - corners[0])
            .normalize_or_zero();
        let piece_m2 = m2 / (steps * steps);
        let middle = |u: f64, v: f64| {
            let (p, q) = (corners.map(|c| c.as_dvec3()), uvs);
            let position: DVec3 = p[0] + (p[1] - p[0]) * u + (p[2] - p[0]) * v;
            let uv = q[0] + (q[1] - q[0]) * u + (q[2] - q[0]) * v;
            Sample {
                uv: uv.to_array(),
                position_m: position.as_vec3(),
                normal,
                m2: piece_m2,
            }
        };
        cut(steps as u32, &mut |u, v| visit(middle(u, v)));
    }
}

/// Middles of the k² triangles, in coordinates along two edges.
fn cut(k: u32, visit: &mut dyn FnMut(f64, f64)) {
    let step = 1.0 / f64::from(k);
    for i in 0..k {
        for j in 0..k - i {
            let (u, v) = (f64::from(i), f64::from(j));
            visit((u + 1.0 / 3.0) * step, (v + 1.0 / 3.0) * step);
            if i + j + 1 < k {
                visit((u + 2.0 / 3.0) * step, (v + 2.0 / 3.0) * step);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_triangle_is_cut_into_as_many_pieces_as_it_should() {
        for k in 1..20 {
            let (mut count, mut u_sum) = (0, 0.0);
            cut(k, &mut |u, v| {
                assert!(u > 0.0 && v > 0.0 && u + v < 1.0);
                count += 1;
                u_sum += u;
            });
            assert_eq!(count, k * k);
            // The mean of the middles is the centroid.
            assert!((u_sum / f64::from(count) - 1.0 / 3.0).abs() < 1e-12);
        }
    }
}
