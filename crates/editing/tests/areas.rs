//! Areas of regions, against formulas and the area of the mesh.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::f64::consts::PI;

use common::{Random, canvas, grid, plane, surface};
use ganosis_editing::regions::{Over, Selection, StrokePoint};
use ganosis_surface::area::patch_m2;
use glam::{Vec2, Vec3};

#[test]
fn areas_are_those_of_the_formula_and_add_up_to_the_mesh() {
    let surface = plane(0.2, 7);
    let (geometry, mut maps) = canvas(&surface, 256);
    let point = StrokePoint {
        position_m: Vec3::new(0.01, 0.02, 0.0),
        normal: Vec3::Z,
    };
    let disc = geometry.stroke(&[point], 0.05, &|_| true);
    maps.paint(&disc, 300, &Over::All);
    let areas = geometry.areas(&surface, &maps);
    // Each texel of the plane is (0.2 / 256)² m², to single precision.
    let texels = disc.texels().len() as f64 * (0.2_f64 / 256.0).powi(2);
    assert!((areas.regions_m2[&300] / texels - 1.0).abs() < 1e-5);
    let rim = PI * 0.05 * 0.2 / 256.0;
    assert!((areas.regions_m2[&300] - PI * 0.05 * 0.05).abs() < rim);
    let sum = areas.regions_m2[&300] + areas.unassigned_m2;
    assert!((sum - patch_m2(&surface.patches[0])).abs() < 1e-12);
    // 0.2 m is not a number of single precision: 2^-23 of it on both sides.
    assert!((sum / 0.04 - 1.0).abs() < 4.8e-7);
}

#[test]
fn of_triangles_cut_by_texels_each_part_counts_where_it_lies() {
    // Columns of 8 texels, numbered 1 to 8, over a chart turned on the map so
    // that each triangle lies in many: the number of a place is that of its u.
    let turned = |k: u64| {
        let mut random = Random(40 + k);
        let mut patch = grid(0, [3, 2], [Vec2::splat(-0.5), Vec2::splat(0.5)], |s, t| {
            Vec3::new(s * 0.3, -t * 0.1, 0.0)
        });
        let (sin, cos) = (random.part() * 6.0).sin_cos();
        for uv in &mut patch.uvs {
            *uv = Vec2::new(cos * uv.x - sin * uv.y, sin * uv.x + cos * uv.y) * 0.6 + 0.5;
        }
        patch
    };
    for k in 0..6 {
        let surface = surface(vec![turned(k)]);
        let (geometry, mut maps) = canvas(&surface, 8);
        for column in 0..8 {
            let texels = (0..8).map(|row| row * 8 + column).collect();
            maps.paint(&Selection::new(texels), column as u16 + 1, &Over::All);
        }
        let areas = geometry.areas(&surface, &maps);
        let patch = &surface.patches[0];
        // By 300² points of the chart.
        let mut wanted = [0.0; 9];
        let at = |s: f32, t: f32| {
            let [a, b, c] = [0, 3, 8].map(|v: usize| patch.uvs[v]);
            a + (b - a) * s + (c - a) * t
        };
        for (i, j) in (0..300).flat_map(|i| (0..300).map(move |j| (i, j))) {
            let uv = at((i as f32 + 0.5) / 300.0, (j as f32 + 0.5) / 300.0);
            wanted[(uv.x * 8.0) as usize + 1] += 0.03 / 90_000.0;
        }
        for (number, m2) in &areas.regions_m2 {
            // Points along the border of a column: 2 borders × 300 points.
            let wanted: f64 = wanted[usize::from(*number)];
            assert!(
                (m2 - wanted).abs() < 0.03 * 600.0 / 90_000.0 / 2.0,
                "{k} {number}: {m2} for {wanted}"
            );
        }
        let sum: f64 = areas.regions_m2.values().sum();
        assert!((sum - patch_m2(patch)).abs() < 1e-12 && areas.unassigned_m2 == 0.0);
    }
}

#[test]
fn surface_without_a_map_or_without_uvs_is_not_lost() {
    let mut bare = grid(0, [2; 2], [Vec2::ZERO; 2], |s, t| Vec3::new(s, t, 0.0));
    bare.sheet = 1;
    let square = grid(0, [2; 2], [Vec2::ZERO, Vec2::ONE], |s, t| {
        Vec3::new(s, t, 1.0)
    });
    let surface = surface(vec![square, bare]);
    let (geometry, mut maps) = canvas(&surface, 4);
    let last = geometry.texel_count() as u32;
    maps.paint(&Selection::new((0..last).collect()), 2, &Over::All);
    assert!((geometry.areas(&surface, &maps).regions_m2[&2] - 2.0).abs() < 1e-12);
    maps.maps.truncate(1);
    let areas = geometry.areas(&surface, &maps);
    assert!(
        (areas.regions_m2[&2] - 1.0).abs() < 1e-12 && (areas.unassigned_m2 - 1.0).abs() < 1e-12
    );
}
