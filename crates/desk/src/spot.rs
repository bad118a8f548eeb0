//! Where a region lies and how it faces, for a camera that looks straight at it.

use glam::{DVec3, Vec2, Vec3};
use serde_json::{Value, json};

use ganosis_surface::{Surface, area};

use crate::ground::Ground;
use crate::{Desk, DeskError};

/// Most samples along a side of a triangle, and where none of them met the region. Choices of ours.
const MOST_PARTS: f32 = 48.0;
const MOST_PARTS_AGAIN: f32 = 4096.0;
/// A region that faces all ways has no side of its own to be seen from: below this share of its area. A
/// choice of ours.
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
        let mut found = Found::default();
        for most in [MOST_PARTS, MOST_PARTS_AGAIN] {
            if found.m2 <= 0.0 {
                found = gather(surface, ground, number, most);
            }
        }
        let Found {
            points,
            facing,
            sum,
            m2: whole,
        } = found;
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

/// Samples of the surface that lie in a region.
#[derive(Default)]
struct Found {
    points: Vec<DVec3>,
    /// Of normals and of places, by their areas.
    facing: DVec3,
    sum: DVec3,
    m2: f64,
}

/// Looks at a place of every texel, up to `most` along a side of a triangle.
fn gather(surface: &Surface, ground: &Ground, number: u16, most: f32) -> Found {
    let mut found = Found::default();
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
            let parts = texels.sqrt().ceil().clamp(1.0, most) as u32;
            let m2 = area::triangle_m2(patch, t) / f64::from(parts * parts);
            let normal = (b - a).as_dvec3().cross((c - a).as_dvec3());
            let normal = normal.normalize_or_zero() * m2;
            for [i, j, k] in area::centroids(parts) {
                let uv = (u * i + v * j + w * k) * size;
                let texel = uv.floor().clamp(Vec2::ZERO, size - 1.0);
                let label = texel.y as usize * map.width_px as usize + texel.x as usize;
                if map.labels.get(label) == Some(&number) {
                    let point: Vec3 = a * i + b * j + c * k;
                    found.points.push(point.as_dvec3());
                    found.sum += point.as_dvec3() * m2;
                    found.facing += normal;
                    found.m2 += m2;
                }
            }
        }
    }
    found
}
