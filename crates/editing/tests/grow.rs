//! Growing and shrinking, against formulas and against every texel.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::BTreeSet;
use std::f64::consts::PI;

use common::{Random, canvas, grid, plane, surface};
use ganosis_editing::regions::{Over, RegionMaps, Selection, StrokePoint, TexelGeometry};
use glam::{Vec2, Vec3};

const TEXEL_M: f64 = 0.2 / 400.0;

fn disc(geometry: &TexelGeometry, place: Vec3, radius_m: f32) -> Selection {
    let point = StrokePoint {
        position_m: place,
        normal: Vec3::Z,
    };
    geometry.stroke(&[point], radius_m, &|_| true)
}

fn m2(maps: &RegionMaps, number: u16) -> f64 {
    let labels = maps.maps.iter().flat_map(|m| &m.labels);
    labels.filter(|n| **n == number).count() as f64 * TEXEL_M * TEXEL_M
}

#[test]
fn a_disc_grows_and_shrinks_by_the_distance() {
    let (geometry, mut maps) = canvas(&plane(0.2, 6), 400);
    let (radius, by) = (0.03_f32, 0.012_f32);
    maps.paint(&disc(&geometry, Vec3::ZERO, radius), 5, &Over::All);
    let before = maps.clone();
    // Half a texel along the rim of the larger disc.
    let rim = PI * f64::from(radius + by) * TEXEL_M;
    let grown = geometry.grown(&maps, 5, by, &Over::Free);
    maps.paint(&grown, 5, &Over::Free);
    let wanted = PI * f64::from(radius + by).powi(2);
    assert!(
        (m2(&maps, 5) - wanted).abs() < rim,
        "{} for {wanted}",
        m2(&maps, 5)
    );
    // Back again: to within a texel at the rim, here and there.
    let shrunk = geometry.shrunk(&maps, 5, by);
    maps.paint(&shrunk, 0, &Over::All);
    assert!((m2(&maps, 5) - PI * f64::from(radius).powi(2)).abs() < rim);
    let same = maps.maps[0].labels.iter().zip(&before.maps[0].labels);
    let differing = same.filter(|(a, b)| a != b).count() as f64 * TEXEL_M * TEXEL_M;
    assert!(differing < rim, "{differing} for {rim}");
    let shrunk = geometry.shrunk(&before, 5, by);
    let left = f64::from(radius - by).powi(2) * PI;
    let got = PI * f64::from(radius).powi(2) - shrunk.texels().len() as f64 * TEXEL_M * TEXEL_M;
    assert!((got - left).abs() < 2.0 * rim, "{got} for {left}");
}

#[test]
fn growing_finds_every_texel_within_the_distance_and_no_other() {
    let (geometry, mut maps) = canvas(&plane(0.2, 6), 100);
    let mut random = Random(4);
    for _ in 0..12 {
        let place = Vec3::new(random.part() - 0.5, random.part() - 0.5, 0.0) * 0.15;
        maps.paint(
            &disc(&geometry, place, 0.004 + 0.01 * random.part()),
            3,
            &Over::All,
        );
    }
    let labels = &maps.maps[0].labels;
    let positions: Vec<Vec3> = (0..10_000)
        .map(|t| geometry.point(t).unwrap().position_m)
        .collect();
    let position = |t: u32| positions[t as usize];
    let (inside, outside): (Vec<u32>, Vec<u32>) =
        (0..10_000).partition(|t| labels[*t as usize] == 3);
    for by in [0.005_f32, 0.016] {
        for (got, from, to) in [
            (geometry.grown(&maps, 3, by, &Over::Free), &inside, &outside),
            (geometry.shrunk(&maps, 3, by), &outside, &inside),
        ] {
            let near = |t: &u32| {
                from.iter()
                    .any(|f| position(*f).distance(position(*t)) <= by)
            };
            let wanted: BTreeSet<u32> = to.iter().copied().filter(near).collect();
            let got: BTreeSet<u32> = got.texels().iter().copied().collect();
            assert!(got.is_subset(&wanted));
            // A front handed from texel to texel can take a border texel that is
            // not quite the nearest: one in two hundred at the most.
            let missed = wanted.difference(&got).count();
            assert!(
                missed * 200 <= wanted.len(),
                "{by}: {missed} of {}",
                wanted.len()
            );
        }
    }
}

#[test]
fn growing_crosses_seams_but_not_other_regions_and_not_the_air() {
    // Two halves of a square with UVs apart, and a second square 2 mm behind.
    let half = |k: f32, z: f32| {
        let low = Vec2::new(0.02 + 0.5 * k, if z == 0.0 { 0.02 } else { 0.52 });
        grid(0, [5; 2], [low, low + Vec2::new(0.4, 0.4)], move |s, t| {
            Vec3::new((k + s) * 0.05 - 0.05, 0.05 - 0.1 * t, z)
        })
    };
    let surface = surface(vec![
        half(0.0, 0.0),
        half(1.0, 0.0),
        half(0.0, -0.002),
        half(1.0, -0.002),
    ]);
    let (geometry, mut maps) = canvas(&surface, 300);
    let left = Vec3::new(-0.004, 0.0, 0.0);
    maps.paint(&disc(&geometry, left, 0.003), 1, &Over::All);
    let grown = geometry.grown(&maps, 1, 0.015, &Over::Free);
    let points: Vec<Vec3> = grown
        .texels()
        .iter()
        .map(|t| geometry.point(*t).unwrap().position_m)
        .collect();
    assert!(points.iter().all(|p| p.z == 0.0));
    // As far on the other side of the seam as formula has it: 0.018 from the middle.
    let furthest = points.iter().map(|p| p.x).fold(f32::MIN, f32::max);
    assert!((furthest - 0.014).abs() < 0.001, "{furthest}");
    // Another region to the right keeps the front to the left.
    let wall: Vec<u32> = (0..geometry.texel_count() as u32)
        .filter(|t| {
            geometry
                .point(*t)
                .is_some_and(|p| (0.002..0.006).contains(&p.position_m.x))
        })
        .collect();
    maps.paint(&Selection::new(wall), 2, &Over::Free);
    let grown = geometry.grown(&maps, 1, 0.02, &Over::Free);
    assert!(
        grown
            .texels()
            .iter()
            .all(|t| geometry.point(*t).unwrap().position_m.x < 0.003)
    );
    let over = geometry.grown(&maps, 1, 0.02, &Over::Numbers(vec![0, 2]));
    assert!(over.texels().len() > grown.texels().len());
    // Maps of another size, or none, give nothing.
    assert!(
        geometry
            .grown(&RegionMaps::default(), 1, 0.02, &Over::All)
            .texels()
            .is_empty()
    );
    assert!(
        geometry
            .grown(&maps, 1, f32::NAN, &Over::All)
            .texels()
            .is_empty()
    );
}
