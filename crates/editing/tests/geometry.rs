//! Where texels lie, against points of the surface.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::{Random, canvas, grid, surface};
use ganosis_editing::regions::{MapSize, RegionError, TexelGeometry};
use glam::{Vec2, Vec3};

#[test]
fn under_every_point_of_the_surface_lies_a_texel_that_shows_it() {
    // Curved charts turned on the map, each between borders of texels anyhow.
    let mut random = Random(7);
    for _ in 0..5 {
        let chart = |random: &mut Random, middle: Vec2| {
            let (sin, cos) = (random.part() * 6.0).sin_cos();
            let mut patch = grid(0, [9, 6], [Vec2::splat(-0.5), Vec2::splat(0.5)], |s, t| {
                Vec3::new(s, t, 0.2 * (5.0 * s).sin() * (4.0 * t).cos()) * 0.1
            });
            for uv in &mut patch.uvs {
                *uv = Vec2::new(cos * uv.x - sin * uv.y, sin * uv.x + cos * uv.y) * 0.33 + middle;
            }
            patch
        };
        let patches = (0..4)
            .map(|k| {
                chart(
                    &mut random,
                    Vec2::new((k % 2) as f32, (k / 2) as f32) * 0.5 + 0.25,
                )
            })
            .collect();
        let surface = surface(patches);
        let size = 64;
        let (geometry, _) = canvas(&surface, size);
        for _ in 0..20_000 {
            let k = random.below(4) as usize;
            let patch = &surface.patches[k];
            let triangle = random.below(patch.triangle_count() as u32) as usize;
            let (mut v, mut w) = (random.part(), random.part());
            if v + w > 1.0 {
                (v, w) = (1.0 - v, 1.0 - w);
            }
            let corners = patch.triangle(triangle).unwrap();
            let weights = [1.0 - v - w, v, w];
            let mix2: Vec2 = (0..3).map(|k| patch.uvs[corners[k]] * weights[k]).sum();
            let mix3: Vec3 = (0..3)
                .map(|k| patch.positions[corners[k]] * weights[k])
                .sum();
            let texel = geometry
                .texel_at(0, mix2)
                .expect("a free texel under the surface");
            let point = geometry.point(texel).unwrap();
            assert_eq!(point.patch, k);
            // Two places of a texel are no more than its diagonal apart on the map;
            // in space a texel is 0.1 m / (0.33 × 64) wide, and slopes reach 1 in 1.
            let reach = 0.1 / (0.33 * size as f32) * 2.0_f32.sqrt() * 2.0_f32.sqrt();
            let away = point.position_m.distance(mix3);
            assert!(away <= reach * 1.01, "{away} for {reach}");
            assert!(point.normal.is_normalized());
            let (map, x, y) = geometry.place(texel).unwrap();
            assert_eq!((map, y * size + x), (0, texel));
        }
    }
}

#[test]
fn a_texel_off_the_surface_is_nowhere() {
    let square = grid(0, [2; 2], [Vec2::splat(0.25), Vec2::splat(0.75)], |s, t| {
        Vec3::new(s, t, 0.0)
    });
    let (geometry, _) = canvas(&surface(vec![square]), 8);
    let covered = (0..64).filter(|t| geometry.point(*t).is_some()).count();
    assert_eq!(covered, 16);
    for uv in [Vec2::splat(0.1), Vec2::splat(5.0), Vec2::NAN] {
        assert_eq!(geometry.texel_at(0, uv), None);
    }
    assert_eq!(geometry.texel_at(1, Vec2::splat(0.5)), None);
    assert!(geometry.point(64).is_none() && geometry.place(64).is_none());
}

#[test]
fn odd_meshes_and_sizes_are_taken_or_refused_in_words() {
    let mut odd = grid(0, [3; 2], [Vec2::ZERO, Vec2::ONE], |s, t| {
        Vec3::new(s, t, 0.0)
    });
    odd.uvs[4] = Vec2::NAN;
    odd.uvs[5] = Vec2::new(1e30, -1e30);
    odd.positions[6] = Vec3::INFINITY;
    odd.indices.extend([0, 0, 0, 1, 99, 2, 1, 1, 2]);
    odd.uvs.truncate(14);
    let surface = surface(vec![odd]);
    let (geometry, _) = canvas(&surface, 32);
    assert!((0..geometry.texel_count() as u32).any(|t| geometry.point(t).is_some()));
    let size = |sheet, width_px, height_px| MapSize {
        sheet,
        width_px,
        height_px,
    };
    let new = |sizes: &[MapSize]| TexelGeometry::new(&surface, sizes);
    assert!(matches!(
        new(&[size(3, 4, 4)]),
        Err(RegionError::NoSheet {
            number: 3,
            count: 1
        })
    ));
    let large = new(&[size(0, 1 << 20, 1 << 20)]).unwrap_err();
    assert!(
        large.to_string().contains("1099511627776 texels"),
        "{large}"
    );
    assert_eq!(new(&[size(0, 0, 7)]).unwrap().texel_count(), 0);
    assert_eq!(new(&[]).unwrap().texel_count(), 0);
}
