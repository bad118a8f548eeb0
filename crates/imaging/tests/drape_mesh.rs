//! What is odd about a mesh is found and measured.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod scene;

use ganosis_imaging::drape::{Mesh, SheetSize};
use glam::{DVec3, Vec2, Vec3};
use scene::{grid, mesh, square, surface, torus_and_ball};

#[test]
fn a_sound_surface_is_sound() {
    let found = mesh(&torus_and_ball(), 512).findings;
    assert_eq!(
        (found.mirrored, found.without_place, found.across_edge),
        (0, 0, 0)
    );
    assert!(found.overlapping_m2 < 1e-4 * found.area_m2, "{found:?}");
    // The ball's pole rows have one triangle without area a column.
    assert_eq!(found.without_area, 2 * 32);
}

#[test]
fn overlapping_uvs_are_told_with_their_area() {
    // Two squares of 0.2 m whose charts share a quarter.
    let place = |shift: f64| {
        move |u: f64, v: f64| DVec3::new((u - 0.5) * 0.2 + shift, (0.5 - v) * 0.2, 0.0)
    };
    let a = grid(6, 6, Vec2::splat(0.1), Vec2::splat(0.5), &place(0.0));
    let b = grid(6, 6, Vec2::splat(0.3), Vec2::splat(0.7), &place(1.0));
    let found = mesh(&surface(vec![a, b]), 800).findings;
    assert!((found.area_m2 - 0.08).abs() < 1e-6);
    assert!((found.overlapping_m2 - 0.01).abs() < 0.0002, "{found:?}");
}

#[test]
fn mirrored_uvs_are_told_with_their_area() {
    let mut half = square(0.2, 4);
    for uv in &mut half.uvs {
        uv.x = 1.0 - uv.x;
    }
    let found = mesh(&surface(vec![half]), 256).findings;
    assert_eq!(found.mirrored, 32);
    assert!((found.mirrored_m2 - 0.04).abs() < 1e-6);
}

#[test]
fn missing_uvs_and_an_empty_mesh_are_refused_and_flat_triangles_are_left_out() {
    let size = || {
        vec![SheetSize {
            name: "page".to_owned(),
            width_px: 64,
            height_px: 64,
        }]
    };
    let mut bare = square(0.2, 2);
    bare.uvs.fill(Vec2::ZERO);
    let error = Mesh::new(&surface(vec![bare]), size(), &|_| true).unwrap_err();
    assert!(
        error.what.contains("no UVs") && error.advice.contains("ganosis unwrap"),
        "{error}"
    );
    let error = Mesh::new(&surface(vec![square(0.2, 2)]), size(), &|_| false).unwrap_err();
    assert!(error.what.contains("no triangle"), "{error}");
    let mut flat = square(0.2, 2);
    flat.positions.push(Vec3::ZERO);
    flat.normals.push(Vec3::Z);
    flat.uvs.push(Vec2::splat(0.5));
    let last = flat.positions.len() as u32 - 1;
    flat.indices.extend([0, last, last]);
    let mesh = Mesh::new(&surface(vec![flat]), size(), &|_| true).unwrap();
    assert_eq!((mesh.findings.without_area, mesh.faces.len()), (1, 8));
}
