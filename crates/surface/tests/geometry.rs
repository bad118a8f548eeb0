//! Areas against formulas, picking against every triangle in turn, UV queries, anchors.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::f64::consts::PI;

use common::{Dice, grid, sphere};
use ganosis_surface::pick::Picker;
use ganosis_surface::{Anchor, Surface, area};
use glam::{Vec2, Vec3};

#[test]
fn areas_of_sphere_cylinder_and_torus_follow_their_formulas() {
    // Schoolbook formulas: 4πr², 2πrh, 4π²Rr. A grid of n steps falls short by about (π/n)²·2/3.
    let cylinder = |s: f32, t: f32| {
        let a = s * std::f32::consts::TAU;
        Vec3::new(0.5 * a.cos(), 3.0 * t, 0.5 * a.sin())
    };
    let torus = |s: f32, t: f32| {
        let (a, b) = (s * std::f32::consts::TAU, t * std::f32::consts::TAU);
        Vec3::new(
            (2.0 + 0.25 * b.cos()) * a.cos(),
            0.25 * b.sin(),
            (2.0 + 0.25 * b.cos()) * a.sin(),
        )
    };
    let cases = [
        (grid(200, sphere), 4.0 * PI),
        (grid(200, cylinder), 2.0 * PI * 0.5 * 3.0),
        (grid(200, torus), 4.0 * PI * PI * 2.0 * 0.25),
    ];
    for (surface, exact_m2) in cases {
        let got = area::sheet_m2(&surface, 0);
        assert!((got / exact_m2 - 1.0).abs() < 3e-4, "{got} for {exact_m2}");
        assert_eq!(area::sheet_m2(&surface, 1), 0.0);
    }
}

/// Möller and Trumbore, "Fast, Minimum Storage Ray/Triangle Intersection",
/// Journal of Graphics Tools 2(1), 1997: another method than the one under test.
fn brute_force(surface: &Surface, origin: Vec3, direction: Vec3) -> Option<f64> {
    let (o, d) = (origin.as_dvec3(), direction.as_dvec3().normalize());
    let mut best: Option<f64> = None;
    for patch in &surface.patches {
        for t in 0..patch.triangle_count() {
            let [a, b, c] = patch.corners(t).unwrap().map(|p| p.as_dvec3());
            let (e1, e2) = (b - a, c - a);
            let p = d.cross(e2);
            let determinant = e1.dot(p);
            let s = o - a;
            let (u, q) = (s.dot(p) / determinant, s.cross(e1));
            let (v, distance) = (d.dot(q) / determinant, e2.dot(q) / determinant);
            if determinant != 0.0 && u >= 0.0 && v >= 0.0 && u + v <= 1.0 && distance >= 0.0 {
                best = Some(best.map_or(distance, |b: f64| b.min(distance)));
            }
        }
    }
    best
}

#[test]
fn picking_agrees_with_trying_every_triangle() {
    let bumpy = |s: f32, t: f32| sphere(s, t) * (1.0 + 0.3 * (s * 40.0).sin() * (t * 31.0).sin());
    let surface = grid(40, bumpy);
    let picker = Picker::new(&surface);
    let mut dice = Dice(2025);
    let mut hits = 0;
    for _ in 0..2000 {
        let origin = dice.vector() * 3.0;
        let direction = dice.vector() * 1.5 - origin;
        let got = picker.ray(origin, direction, &|_| true);
        let wanted = brute_force(&surface, origin, direction);
        assert_eq!(got.is_some(), wanted.is_some(), "{origin} {direction}");
        if let (Some(hit), Some(wanted)) = (got, wanted) {
            assert!((f64::from(hit.distance_m) - wanted).abs() < 1e-6 * (1.0 + wanted));
            let along = origin + direction.normalize() * hit.distance_m;
            assert!(along.distance(hit.position_m) < 1e-5);
            hits += 1;
        }
    }
    assert!((500..1900).contains(&hits), "{hits}");
}

#[test]
fn no_ray_slips_through_an_edge_or_a_corner() {
    let surface = grid(16, |s, t| Vec3::new(s, t, 0.0));
    let picker = Picker::new(&surface);
    for i in 0..=32 {
        for j in 0..=32 {
            let target = Vec3::new(i as f32 / 32.0, j as f32 / 32.0, 0.0);
            for direction in [Vec3::NEG_Z, Vec3::new(0.3, -0.7, -0.1)] {
                let hit = picker.ray(target - direction, direction, &|_| true);
                let inside = (1..32).contains(&i) && (1..32).contains(&j);
                assert!(hit.is_some() || !inside, "{target} {direction}");
            }
        }
    }
    // A ray within a flat box: along the plane there is nothing to hit, and nothing breaks.
    assert!(
        picker
            .ray(Vec3::new(-1.0, 0.5, 0.0), Vec3::X, &|_| true)
            .is_none()
    );
}

#[test]
fn hidden_patches_are_passed_through() {
    let mut surface = grid(2, |s, t| Vec3::new(s, t, 0.0));
    let mut behind = surface.patches[0].clone();
    behind.positions.iter_mut().for_each(|p| p.z = -1.0);
    surface.patches.push(behind);
    let picker = Picker::new(&surface);
    let (origin, direction) = (Vec3::new(0.3, 0.4, 1.0), Vec3::NEG_Z);
    assert_eq!(picker.ray(origin, direction, &|_| true).unwrap().patch, 0);
    let hit = picker.ray(origin, direction, &|patch| patch == 1).unwrap();
    assert_eq!((hit.patch, hit.distance_m), (1, 2.0));
    assert!(hit.uv.distance(Vec2::new(0.3, 0.4)) < 1e-6);
    assert!(picker.ray(origin, direction, &|_| false).is_none());
}

#[test]
fn odd_questions_have_no_answer() {
    let picker = Picker::new(&Surface::default());
    assert!(picker.ray(Vec3::ZERO, Vec3::X, &|_| true).is_none());
    let picker = Picker::new(&grid(2, sphere));
    assert!(picker.ray(Vec3::ZERO, Vec3::ZERO, &|_| true).is_none());
    assert!(picker.ray(Vec3::NAN, Vec3::X, &|_| true).is_none());
    assert!(picker.ray(Vec3::ZERO, Vec3::NAN, &|_| true).is_none());
    assert!(picker.nearest(Vec3::splat(9.0), 1.0, &|_| true).is_none());
    // Very many triangles in one place: no endless build, no overflow.
    let mut surface = grid(1, |s, t| Vec3::new(s, t, 0.0));
    surface.patches[0].indices = [0, 1, 2].repeat(100_000);
    let picker = Picker::new(&surface);
    assert!(
        picker
            .ray(Vec3::new(0.2, 0.2, 1.0), Vec3::NEG_Z, &|_| true)
            .is_some()
    );
}

#[test]
fn the_nearest_point_of_a_sphere_lies_under_the_place() {
    let surface = grid(100, sphere);
    let picker = Picker::new(&surface);
    let mut dice = Dice(7);
    for _ in 0..500 {
        let place = dice.vector() * 2.0;
        let hit = picker.nearest(place, 10.0, &|_| true).unwrap();
        // The facets lie inside the sphere by at most 1 - cos(π/100) along each direction.
        let exact = (place.length() - 1.0).abs();
        assert!((hit.distance_m - exact).abs() < 2e-3, "{place}");
    }
}

#[test]
fn a_uv_leads_to_its_place_and_the_footprint_of_a_texel() {
    let surface = grid(10, |s, t| Vec3::new(2.0 * s, 0.0, 0.5 * t));
    let map = area::SheetMap::new(&surface, 0);
    let point = map.at(Vec2::new(0.37, 0.81)).unwrap();
    assert!(point.position_m.distance(Vec3::new(0.74, 0.0, 0.405)) < 1e-6);
    // 2 m × 0.5 m over 1000 × 500 texels.
    assert!((point.texel_m2(1000, 500) - 2.0 * 0.5 / 500_000.0).abs() < 1e-11);
    assert_eq!(point.normal, Vec3::NEG_Y);
    for off in [Vec2::new(1.2, 0.5), Vec2::NAN] {
        assert!(map.at(off).is_none());
    }
    for k in 0..=20 {
        assert!(
            map.at(Vec2::splat(k as f32 / 20.0)).is_some(),
            "on the diagonal, {k}"
        );
    }
}

#[test]
fn an_anchor_is_found_again_on_another_mesh() {
    let (old, new) = (grid(64, sphere), grid(90, sphere));
    let (from, to) = (Picker::new(&old), Picker::new(&new));
    let mut dice = Dice(99);
    for _ in 0..200 {
        let direction = dice.vector();
        let Some(hit) = from.ray(direction.normalize() * 3.0, -direction, &|_| true) else {
            continue;
        };
        let anchor = Anchor::from_hit(&old, &hit).unwrap();
        let found = anchor.find(&to, 0.05).unwrap();
        assert!(found.position_m.distance(anchor.position_m) < 3e-3);
        assert_eq!(anchor.sheet, "crown");
    }
}

#[test]
fn an_anchor_keeps_to_its_side_of_a_thin_leaf() {
    let mut leaf = grid(4, |s, t| Vec3::new(s, t, 0.0));
    let mut back = leaf.patches[0].clone();
    back.positions.iter_mut().for_each(|p| p.z = -0.001);
    back.indices.chunks_exact_mut(3).for_each(|t| t.swap(1, 2));
    leaf.patches.push(back);
    let anchor = Anchor {
        sheet: "crown".into(),
        uv: Vec2::ZERO,
        position_m: Vec3::new(0.5, 0.4, -0.0001),
        normal: Vec3::NEG_Z,
    };
    assert_eq!(anchor.find(&Picker::new(&leaf), 0.01).unwrap().patch, 1);
}
