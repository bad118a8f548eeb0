//! Where a region lies and how it faces, for a camera that looks straight at it.

use glam::{DVec3, Vec2, Vec3};
use serde_json::{Value, json};

use ganosis_surface::area;

use crate::{Desk, DeskError};

/// Most samples along a side of a triangle. A choice of ours.
const MOST_PARTS: f32 = 48.0;
/// A region that faces all ways has no side of its own to be seen from: below this share of its area.
const FACES_ALL_WAYS: f64 = 0.2;

impl Desk {
    /// Where a region lies: `{middle_m, radius_m, azimuth_deg, elevation_deg}`; the angles are those of its
    /// mean normal by the object's own up and front, none where it faces all ways. Null where no texel has
    /// its number.
    ///
    /// # Errors
    /// If the surface or a region map cannot be read.
    pub fn spot(&mut self, number: u16) -> Result<Value, DeskError> {
        self.ground()?;
        let (Some(Ok(surface)), Some(ground)) = (&self.surface, &self.ground) else {
            return Err("the surface is not here".into());
        };
        let (mut points, mut facing, mut sum, mut whole) =
            (Vec::new(), DVec3::ZERO, DVec3::ZERO, 0.0);
        for patch in &surface.patches {
            let at = ground
                .origins
                .iter()
                .position(|origin| origin.size.sheet == patch.sheet);
            let Some(map) = at.and_then(|at| ground.maps.maps.get(at)) else {
                continue;
            };
            let size = Vec2::new(map.width_px as f32, map.height_px as f32);
            for t in 0..patch.triangle_count() {
                let Some(corners) = patch.triangle(t) else {
                    continue;
                };
                let [a, b, c] = corners.map(|v| patch.positions[v]);
                let [u, v, w] = corners.map(|v| surface.sheet_uv(patch, v));
                let texels = ((v - u) * size).perp_dot((w - u) * size).abs();
                let parts = texels.sqrt().ceil().clamp(1.0, MOST_PARTS) as u32;
                let m2 = area::triangle_m2(patch, t) / f64::from(parts * parts);
                let normal = (b - a).as_dvec3().cross((c - a).as_dvec3());
                let normal = normal.normalize_or_zero() * m2;
                for (i, j) in middles(parts) {
                    let uv = (u + (v - u) * i + (w - u) * j) * size;
                    let texel = uv.floor().clamp(Vec2::ZERO, size - 1.0);
                    let label = texel.y as usize * map.width_px as usize + texel.x as usize;
                    if map.labels.get(label) == Some(&number) {
                        let point: Vec3 = a + (b - a) * i + (c - a) * j;
                        points.push(point.as_dvec3());
                        sum += point.as_dvec3() * m2;
                        facing += normal;
                        whole += m2;
                    }
                }
            }
        }
        if whole <= 0.0 {
            return Ok(Value::Null);
        }
        let middle = sum / whole;
        let radius = points
            .iter()
            .map(|p| p.distance(middle))
            .fold(0.0, f64::max);
        let orientation = self
            .document()
            .object
            .orientation
            .clone()
            .unwrap_or_default();
        let up = DVec3::from_array(orientation.up).normalize_or(DVec3::Y);
        let right = up.cross(DVec3::from_array(orientation.front));
        let right = right.normalize_or(up.any_orthonormal_vector());
        let even = facing.length() > FACES_ALL_WAYS * whole;
        let n = facing.normalize_or_zero();
        let degrees = |angle: f64| even.then(|| angle.to_degrees());
        Ok(json!({
            "middle_m": middle.to_array(), "radius_m": radius,
            "azimuth_deg": degrees(n.dot(right).atan2(n.dot(right.cross(up)))),
            "elevation_deg": degrees(n.dot(up).clamp(-1.0, 1.0).asin()),
        }))
    }
}

/// Weights of the second and third corner in the middles of `parts`² equal triangles.
fn middles(parts: u32) -> impl Iterator<Item = (f32, f32)> {
    let n = parts as f32;
    (0..parts).flat_map(move |row| {
        let upright = (0..parts - row).map(move |k| (k as f32 + 1.0 / 3.0, row as f32 + 1.0 / 3.0));
        let turned = (0..(parts - row).saturating_sub(1))
            .map(move |k| (k as f32 + 2.0 / 3.0, row as f32 + 2.0 / 3.0));
        upright.chain(turned).map(move |(i, j)| (i / n, j / n))
    })
}

#[cfg(test)]
mod tests {
    use super::middles;

    #[test]
    fn the_middles_of_parts_are_those_of_the_whole() {
        for parts in [1, 2, 7] {
            let all: Vec<(f32, f32)> = middles(parts).collect();
            assert_eq!(all.len(), (parts * parts) as usize);
            let mean = all.iter().map(|(i, _)| i).sum::<f32>() / all.len() as f32;
            assert!((mean - 1.0 / 3.0).abs() < 1e-5);
        }
    }
}
