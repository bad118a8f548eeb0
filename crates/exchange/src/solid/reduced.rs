//! Fewer triangles where a purpose asks for them, and how far off the surface then is.

use ganosis_surface::levels::{Weighed, fewer_triangles, used_vertices};
use ganosis_surface::pick::Picker;
use ganosis_surface::{Patch, Surface};
use glam::{Vec2, Vec3};
use serde_json::{Value, json};

use super::{Mesh, Purpose, Solid};

/// Furthest that reducing may go, as a share of a mesh's extent. A choice of ours: coarser than that
/// an object is another one.
const LARGEST_ERROR: f32 = 0.01;
/// What a change of UV by the whole sheet, and of the normal by one, weigh against a move by the whole
/// extent. Choices of ours: paint must stay in its place as much as the surface does; how light falls
/// matters less.
const UV_WEIGHT: f32 = 1.0;
const NORMAL_WEIGHT: f32 = 0.05;

/// What reducing has come to, measured from every vertex of the mesh as it was to the nearest point of
/// the same part of the mesh as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reduced {
    /// Triangles before.
    pub from: usize,
    /// Triangles that are left.
    pub to: usize,
    /// Mean distance, mm.
    pub mean_mm: f64,
    /// Largest distance, mm.
    pub largest_mm: f64,
}

impl Reduced {
    /// For a file's own record.
    #[must_use]
    pub fn to_value(&self) -> Value {
        // Ten nanometres are less than any surface is known by.
        let rounded = |mm: f64| (mm * 1e5).round() / 1e5;
        json!({
            "triangles_before": self.from, "triangles": self.to,
            "mean_mm": rounded(self.mean_mm), "largest_mm": rounded(self.largest_mm),
        })
    }
}

/// For people, from a file's own record.
pub(crate) fn told(record: &Value) -> Option<String> {
    let number = |name: &str| record[name].as_f64();
    Some(format!(
        "the whole mesh: of {} triangles {} are left, off by {} mm on average and {} mm at most",
        number("triangles_before")?,
        number("triangles")?,
        number("mean_mm")?,
        number("largest_mm")?,
    ))
}

/// Takes triangles away until there are no more than the purpose has room for. Borders of meshes stay,
/// so that no gap opens between them; seams of UVs stay seams.
pub fn reduce(solid: &mut Solid, purpose: Purpose) {
    let before: usize = solid.meshes.iter().map(triangles).sum();
    let limit = purpose.most_triangles();
    if before <= limit {
        return;
    }
    let share = limit as f64 / before as f64;
    let (mut sum_m, mut largest_m, mut count) = (0.0_f64, 0.0_f64, 0_usize);
    for mesh in &mut solid.meshes {
        let wanted = (triangles(mesh) as f64 * share) as usize * 3;
        let less = match fewer(mesh, wanted) {
            Ok(less) => less,
            Err(error) => {
                let name = &mesh.name;
                solid
                    .notes
                    .push(format!("the mesh {name} could not be reduced: {error}"));
                continue;
            }
        };
        for distance_m in distances_m(mesh, &less) {
            sum_m += distance_m;
            largest_m = largest_m.max(distance_m);
            count += 1;
        }
        *mesh = less;
    }
    let reduced = Reduced {
        from: before,
        to: solid.meshes.iter().map(triangles).sum(),
        mean_mm: sum_m / count.max(1) as f64 * 1000.0,
        largest_mm: largest_m * 1000.0,
    };
    solid.notes.push(format!(
        "the mesh is reduced from {} to {} triangles: it is off by {:.3} mm on average and {:.3} mm at most",
        reduced.from, reduced.to, reduced.mean_mm, reduced.largest_mm
    ));
    if reduced.to > limit {
        solid.notes.push(format!(
            "{limit} triangles would be better; more could not be taken away without changing its shape or opening gaps"
        ));
    }
    solid.reduced = Some(reduced);
}

fn triangles(mesh: &Mesh) -> usize {
    mesh.indices.len() / 3
}

/// The mesh with about `wanted` indices, and only the vertices that they name.
fn fewer(mesh: &Mesh, wanted: usize) -> Result<Mesh, String> {
    let values: Vec<f32> = mesh
        .uvs
        .iter()
        .zip(&mesh.normals)
        .flat_map(|([u, v], [x, y, z])| [*u, *v, *x, *y, *z])
        .collect();
    let weights = [
        UV_WEIGHT,
        UV_WEIGHT,
        NORMAL_WEIGHT,
        NORMAL_WEIGHT,
        NORMAL_WEIGHT,
    ];
    let weighed = Weighed {
        positions: &mesh.positions,
        attributes: &values,
        weights: &weights,
    };
    let left = fewer_triangles(weighed, &mesh.indices, wanted, LARGEST_ERROR)
        .map_err(|error| error.to_string())?;
    let (indices, used) = used_vertices(&left, mesh.positions.len());
    Ok(Mesh {
        indices,
        positions: used.iter().map(|&v| mesh.positions[v]).collect(),
        normals: used.iter().map(|&v| mesh.normals[v]).collect(),
        uvs: used.iter().map(|&v| mesh.uvs[v]).collect(),
        ..mesh.clone()
    })
}

/// From each vertex of a mesh that a triangle has to the nearest point of another.
fn distances_m<'m>(mesh: &'m Mesh, other: &Mesh) -> impl Iterator<Item = f64> + 'm {
    let patch = Patch {
        positions: other.positions.iter().map(|p| Vec3::from(*p)).collect(),
        normals: other.normals.iter().map(|n| Vec3::from(*n)).collect(),
        uvs: other.uvs.iter().map(|uv| Vec2::from(*uv)).collect(),
        indices: other.indices.clone(),
        ..Patch::default()
    };
    let surface = Surface {
        sheets: vec![ganosis_surface::Sheet::plain("")],
        patches: vec![patch],
        ..Surface::default()
    };
    let picker = Picker::new(&surface);
    let mut used = vec![false; mesh.positions.len()];
    for index in &mesh.indices {
        used[*index as usize] = true;
    }
    let vertices = mesh.positions.iter().zip(used);
    vertices
        .filter(|(_, used)| *used)
        .filter_map(move |(place, _)| {
            let hit = picker.nearest(Vec3::from(*place), f32::INFINITY, &|_| true)?;
            Some(f64::from(hit.distance_m))
        })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail by panic")]
mod tests {
    use std::f32::consts::PI;

    use glam::DVec3;

    use super::*;

    const RADIUS_M: f32 = 0.2;

    /// A sphere by longitude and latitude, with a seam of UVs along one meridian.
    fn sphere(columns: u32, rows: u32) -> Mesh {
        let mut mesh = Mesh::default();
        for row in 0..=rows {
            for column in 0..=columns {
                let (u, v) = (column as f32 / columns as f32, row as f32 / rows as f32);
                // The same place to the bit on both sides of the seam.
                let turn = if column == columns { 0.0 } else { u };
                let (sin, cos) = (turn * 2.0 * PI).sin_cos();
                let (ring, height) = (v * PI).sin_cos();
                let normal = [ring * cos, height, ring * sin];
                mesh.positions.push(normal.map(|n| n * RADIUS_M));
                mesh.normals.push(normal);
                mesh.uvs.push([u, v]);
            }
        }
        let at = |column: u32, row: u32| row * (columns + 1) + column;
        for row in 0..rows {
            for column in 0..columns {
                let [a, b] = [at(column, row), at(column + 1, row)];
                let [c, d] = [at(column, row + 1), at(column + 1, row + 1)];
                if row > 0 {
                    mesh.indices.extend([a, b, d]);
                }
                if row + 1 < rows {
                    mesh.indices.extend([a, d, c]);
                }
            }
        }
        mesh
    }

    /// Distance from a point to a triangle by looking at its inside, its edges and its corners
    /// (C. Ericson, Real-Time Collision Detection, 2005, section 5.1.5, in its plainest form).
    fn distance(p: DVec3, [a, b, c]: [DVec3; 3]) -> f64 {
        let to_edge = |a: DVec3, b: DVec3| {
            let t = ((p - a).dot(b - a) / (b - a).length_squared()).clamp(0.0, 1.0);
            p.distance(a + (b - a) * t)
        };
        let edges = to_edge(a, b).min(to_edge(b, c)).min(to_edge(c, a));
        let normal = (b - a).cross(c - a).normalize();
        let q = p - normal * normal.dot(p - a);
        let inside = [(a, b), (b, c), (c, a)]
            .iter()
            .all(|(from, to)| (*to - *from).cross(q - *from).dot(normal) >= 0.0);
        if inside { p.distance(q) } else { edges }
    }

    fn corners(mesh: &Mesh) -> Vec<[DVec3; 3]> {
        let place = |i: &u32| DVec3::from(mesh.positions[*i as usize].map(f64::from));
        let three = mesh.indices.chunks_exact(3);
        three
            .map(|t| [place(&t[0]), place(&t[1]), place(&t[2])])
            .collect()
    }

    #[test]
    fn the_error_is_that_of_brute_force_and_of_the_sphere() {
        let whole = sphere(96, 48);
        let less = fewer(&whole, whole.indices.len() / 6).unwrap();
        assert!(
            triangles(&less) * 5 < triangles(&whole),
            "{}",
            triangles(&less)
        );
        let found: Vec<f64> = distances_m(&whole, &less).collect();
        let triangles = corners(&less);
        let used: std::collections::BTreeSet<u32> = whole.indices.iter().copied().collect();
        let brute = used.iter().map(|i| {
            let place = DVec3::from(whole.positions[*i as usize].map(f64::from));
            let to = triangles.iter().map(|t| distance(place, *t));
            to.fold(f64::INFINITY, f64::min)
        });
        for (found, brute) in found.iter().zip(brute) {
            // Positions are single precision: 2^-24 of 0.2 m, a few times over.
            assert!(
                (found - brute).abs() < 1e-7,
                "{found}, by brute force {brute}"
            );
        }
        // A chord of the sphere that spans the angle a lies r (1 - cos(a / 2)) below it.
        let largest = found.iter().copied().fold(0.0, f64::max);
        let longest = triangles
            .iter()
            .flat_map(|[a, b, c]| {
                [
                    a.angle_between(*b),
                    b.angle_between(*c),
                    c.angle_between(*a),
                ]
            })
            .fold(0.0, f64::max);
        // Within a triangle the sphere is further off than along an edge: by at most 4/3 of it for
        // an equilateral one (r a²/6 in the middle against r a²/8), and twice that is no triangle's.
        assert!(largest <= 2.0 * f64::from(RADIUS_M) * (1.0 - (longest / 2.0).cos()));
        assert!(largest > 0.0);
    }

    #[test]
    fn paint_stays_in_its_place_across_the_seam() {
        let whole = sphere(96, 48);
        let less = fewer(&whole, whole.indices.len() / 6).unwrap();
        for (place, [u, v]) in less.positions.iter().zip(&less.uvs) {
            let turn = (place[2].atan2(place[0]) / (2.0 * PI)).rem_euclid(1.0);
            let row = (place[1] / RADIUS_M).clamp(-1.0, 1.0).acos() / PI;
            let at_pole = place[0].hypot(place[2]) < 1e-6;
            let apart = (turn - u).abs();
            assert!(
                at_pole || apart.min((1.0 - apart).abs()) < 1e-4,
                "{turn} {u}"
            );
            assert!((row - v).abs() < 1e-3, "{row} {v}");
        }
        // No triangle goes round the sphere the wrong way, which one across the seam would.
        for three in less.indices.chunks_exact(3) {
            let [a, b, c] = [0, 1, 2].map(|k| less.uvs[three[k] as usize][0]);
            assert!(a.max(b).max(c) - a.min(b).min(c) < 0.5, "{a} {b} {c}");
        }
    }

    #[test]
    fn borders_between_meshes_stay_and_a_small_mesh_is_left_alone() {
        let whole = sphere(96, 48);
        let half = |keep: fn(f32) -> bool| {
            let mut part = whole.clone();
            let middle = |t: &[u32]| t.iter().map(|i| whole.uvs[*i as usize][1]).sum::<f32>() / 3.0;
            let kept = whole.indices.chunks_exact(3).filter(|t| keep(middle(t)));
            part.indices = kept.flatten().copied().collect();
            part
        };
        let border = |mesh: &Mesh| {
            let mut found: Vec<[u32; 3]> = mesh
                .positions
                .iter()
                .filter(|p| p[1].abs() < 1e-6)
                .map(|p| p.map(f32::to_bits))
                .collect();
            found.sort_unstable();
            found
        };
        let [north, south] = [half(|v| v < 0.5), half(|v| v > 0.5)]
            .map(|part| fewer(&part, part.indices.len() / 6).unwrap());
        assert_eq!(border(&north), border(&south));
        assert!(border(&north).len() >= 96);
        let mut solid = Solid {
            meshes: vec![whole.clone()],
            ..Solid::default()
        };
        reduce(&mut solid, Purpose::Room);
        assert_eq!(
            (solid.meshes[0].indices.len(), solid.reduced),
            (whole.indices.len(), None)
        );
    }

    #[test]
    fn the_limit_of_a_purpose_is_kept_and_said() {
        let mut solid = Solid {
            meshes: vec![sphere(512, 256)],
            ..Solid::default()
        };
        let before = triangles(&solid.meshes[0]);
        assert!(before > Purpose::Room.most_triangles());
        reduce(&mut solid, Purpose::Room);
        let reduced = solid.reduced.unwrap();
        assert_eq!(
            (reduced.from, reduced.to),
            (before, triangles(&solid.meshes[0]))
        );
        assert!(reduced.to <= Purpose::Room.most_triangles());
        assert!(solid.notes[0].contains("mm at most"), "{:?}", solid.notes);
        assert!(reduced.mean_mm <= reduced.largest_mm);
        let line = told(&reduced.to_value()).unwrap();
        assert!(line.contains(&reduced.to.to_string()), "{line}");
    }
}
