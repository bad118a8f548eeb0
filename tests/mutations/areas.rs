//! Region areas against geometry that has a formula, through the measures of the audit.

use std::f64::consts::PI;

use ganosis_surface::{Patch, Sheet, Surface};
use glam::{Vec2, Vec3};

use crate::sound::{self, Scene};

/// A grid of `n` by `m` quads over UV 0..1.
fn grid(n: usize, m: usize, at: impl Fn(f32, f32) -> Vec3) -> Patch {
    let mut patch = Patch::default();
    for j in 0..=m {
        for i in 0..=n {
            let uv = Vec2::new(i as f32 / n as f32, j as f32 / m as f32);
            patch.uvs.push(uv);
            patch.positions.push(at(uv.x, uv.y));
            patch.normals.push(Vec3::Z);
        }
    }
    let corner = |i: usize, j: usize| u32::try_from(j * (n + 1) + i).unwrap();
    for j in 0..m {
        for i in 0..n {
            let [a, b, c, d] = [
                corner(i, j),
                corner(i + 1, j),
                corner(i + 1, j + 1),
                corner(i, j + 1),
            ];
            patch.indices.extend([a, b, c, a, c, d]);
        }
    }
    patch
}

/// The areas of four regions that are the quarters of u, and the whole, in m².
fn quarters(patch: Patch) -> ([f64; 4], f64) {
    let mut scene: Scene = sound::scene();
    scene.document.surface.parts.clear();
    scene.surface = Surface {
        sheets: vec![Sheet::plain("stone")],
        patches: vec![patch],
        ..Surface::default()
    };
    scene.document.surface.sheets.truncate(1);
    let codes = (0..256)
        .flat_map(|_| (0..256u16).map(|column| 1 + column / 64))
        .collect();
    scene.labels.insert("body".to_owned(), ([256, 256], codes));
    let measures = ganosis_audit::run(&scene.document, &scene).measures;
    let area = |number: u32| measures.regions_m2.get(&number).copied().unwrap_or(0.0);
    (
        [area(1), area(2), area(3), area(4)],
        measures.total_m2.unwrap(),
    )
}

/// Within 0.5 % at about 100,000 triangles.
fn check(name: &str, patch: Patch, wanted: [f64; 4]) {
    assert!(
        (90_000..110_000).contains(&patch.triangle_count()),
        "{name}"
    );
    let (got, whole) = quarters(patch);
    for (got, wanted) in got.iter().zip(wanted) {
        assert!(
            (got / wanted - 1.0).abs() < 0.005,
            "{name}: wanted {wanted} m², got {got} m²"
        );
    }
    let sum: f64 = wanted.iter().sum();
    assert!(
        (whole / sum - 1.0).abs() < 0.005,
        "{name}: wanted {sum} m², got {whole} m²"
    );
}

/// Areas of revolution; Bronstein and others, Handbook of Mathematics, section
/// 3.3 (solids), from memory: sphere 4 π r², cylinder 2 π r h, torus 4 π² R r.
#[test]
fn areas_of_regions_are_those_of_the_formulas() {
    const TURN: f32 = std::f32::consts::TAU;
    let sphere = grid(316, 158, |u, v| {
        let (a, b) = (u * TURN, v * TURN / 2.0);
        Vec3::new(b.sin() * a.cos(), b.cos(), b.sin() * a.sin()) * 0.21
    });
    check("sphere", sphere, [PI * 0.21 * 0.21; 4]);
    let cylinder = grid(316, 158, |u, v| {
        let a = u * TURN;
        Vec3::new(0.1 * a.cos(), v * 0.3, 0.1 * a.sin())
    });
    check("cylinder", cylinder, [2.0 * PI * 0.1 * 0.3 / 4.0; 4]);
    // Quarters about the axis.
    let torus = grid(316, 158, |u, v| {
        let (a, b) = (u * TURN, v * TURN);
        let out = 0.2 + 0.05 * b.cos();
        Vec3::new(out * a.cos(), 0.05 * b.sin(), out * a.sin())
    });
    check("torus", torus, [4.0 * PI * PI * 0.2 * 0.05 / 4.0; 4]);
    // Quarters about the tube: outside and inside differ. The area between
    // angles b1 and b2 is 2 π r (R (b2 - b1) + r (sin b2 - sin b1)), by
    // integration of the surface element.
    let tube = grid(316, 158, |u, v| {
        let (a, b) = (v * TURN, u * TURN);
        let out = 0.2 + 0.05 * b.cos();
        Vec3::new(out * a.cos(), 0.05 * b.sin(), out * a.sin())
    });
    let between =
        |b1: f64, b2: f64| 2.0 * PI * 0.05 * (0.2 * (b2 - b1) + 0.05 * (b2.sin() - b1.sin()));
    check(
        "tube",
        tube,
        [0.0, 1.0, 2.0, 3.0].map(|q| between(q * PI / 2.0, (q + 1.0) * PI / 2.0)),
    );
}
