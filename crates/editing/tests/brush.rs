//! The brush, against formulas and against every texel.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::BTreeSet;
use std::f32::consts::{PI, TAU};

use common::{Random, WHOLE, canvas, grid, plane, surface};
use ganosis_editing::regions::{Selection, StrokePoint, TexelGeometry};
use glam::{Vec2, Vec3};

fn at(position_m: Vec3, normal: Vec3) -> StrokePoint {
    StrokePoint { position_m, normal }
}

fn all(_: usize) -> bool {
    true
}

fn positions(geometry: &TexelGeometry, selection: &Selection) -> Vec<Vec3> {
    let texels = selection.texels().iter();
    texels
        .map(|t| geometry.point(*t).unwrap().position_m)
        .collect()
}

/// Texels of a disc of radius r (in texels) counted by their centres differ from
/// πr² by no more than the rim's share: half a texel along 2πr.
fn rim(radius_texels: f64) -> f64 {
    std::f64::consts::PI * radius_texels
}

#[test]
fn a_dab_on_a_plane_is_a_disc() {
    let surface = plane(0.2, 7);
    let (geometry, _) = canvas(&surface, 400);
    let texel_m = 0.2 / 400.0;
    for (place, radius) in [(Vec3::ZERO, 0.03), (Vec3::new(0.031, -0.017, 0.0), 0.011)] {
        let dab = geometry.stroke(&[at(place, Vec3::Z)], radius, &all);
        let texels = f64::from(radius) / texel_m;
        let wanted = std::f64::consts::PI * texels * texels;
        let got = dab.texels().len() as f64;
        assert!((got - wanted).abs() < rim(texels), "{got} for {wanted}");
        // And exactly those texels whose centre is within the radius, but for
        // single-precision rounding (0.2 m × 2⁻²³) at the rim.
        let inside: BTreeSet<u32> = (0..400 * 400)
            .filter(|t| {
                let centre =
                    Vec2::new((t % 400) as f32 + 0.5, (t / 400) as f32 + 0.5) * texel_m as f32;
                let centre = Vec3::new(centre.x - 0.1, 0.1 - centre.y, 0.0);
                centre.distance(place) < radius
            })
            .collect();
        let dab: BTreeSet<u32> = dab.texels().iter().copied().collect();
        assert!(inside.symmetric_difference(&dab).count() <= 4);
    }
}

#[test]
fn a_line_on_a_plane_is_a_band_with_round_ends() {
    let (geometry, _) = canvas(&plane(0.2, 5), 400);
    let line = [
        Vec3::new(-0.05, 0.0, 0.0),
        Vec3::new(0.0, 0.0, 0.0),
        Vec3::new(0.0, 0.04, 0.0),
    ];
    let stroke = geometry.stroke(&line.map(|p| at(p, Vec3::Z)), 0.01, &all);
    // Two bands that meet at a right angle: at the outer corner a quarter disc
    // joins them, at the inner a square of r² is covered twice.
    let (r, length) = (0.01_f64, 0.09);
    let wanted = 2.0 * r * length + 1.25 * std::f64::consts::PI * r * r - r * r;
    let got = stroke.texels().len() as f64 * (0.2 / 400.0_f64).powi(2);
    let rim = (2.0 * length + 2.0 * std::f64::consts::PI * r) * 0.5 * 0.2 / 400.0;
    assert!((got - wanted).abs() < rim, "{got} for {wanted}");
}

/// A cylinder about the y axis, its seam at +x: one chart.
fn cylinder(radius: f32, height: f32, around: u32) -> ganosis_surface::Surface {
    surface(vec![grid(
        0,
        [around, 8],
        [Vec2::splat(0.1), Vec2::splat(0.9)],
        |s, t| {
            // Both ends of the seam at exactly one place.
            let angle = if s == 1.0 { 0.0 } else { s * TAU };
            Vec3::new(
                radius * angle.cos(),
                (0.5 - t) * height,
                -radius * angle.sin(),
            )
        },
    )])
}

#[test]
fn a_dab_over_the_seam_of_a_cylinder_is_as_large_as_elsewhere() {
    let (radius, brush) = (0.05_f32, 0.012_f32);
    let (geometry, _) = canvas(&cylinder(radius, 0.2, 180), 500);
    // The ball about a point of the cylinder: |y|² + (2 R sin(φ/2))² ≤ b²; area
    // by the midpoint rule over φ.
    let steps = 20_000;
    let end = 2.0 * (brush / (2.0 * radius)).asin();
    let area: f64 = (0..steps)
        .map(|k| {
            let phi = f64::from(end) * ((f64::from(k) + 0.5) / f64::from(steps) * 2.0 - 1.0);
            let chord = 2.0 * f64::from(radius) * (phi / 2.0).sin();
            2.0 * (f64::from(brush).powi(2) - chord * chord).max(0.0).sqrt()
        })
        .sum::<f64>()
        * f64::from(radius)
        * 2.0
        * f64::from(end)
        / f64::from(steps);
    let texel = [f64::from(TAU * radius) / 400.0, 0.2 / 400.0];
    for angle in [0.0_f32, 0.05, 2.0, -0.1] {
        let normal = Vec3::new(angle.cos(), 0.0, -angle.sin());
        let dab = geometry.stroke(&[at(normal * radius, normal)], brush, &all);
        let got = dab.texels().len() as f64 * texel[0] * texel[1];
        // Half of the larger texel along the rim, and as much along both sides
        // of the seam (texels there lie in part on the surface): 2 × 2b.
        let rim = (f64::from(TAU * brush) * 0.5 + f64::from(4.0 * brush) * 0.5) * texel[0];
        assert!((got - area).abs() < rim, "{angle}: {got} for {area}");
        for p in positions(&geometry, &dab) {
            assert!(p.distance(normal * radius) <= brush * 1.0001);
        }
    }
}

#[test]
fn a_dab_on_a_sphere_is_a_cap() {
    // Latitude and longitude: the cap lies away from the poles and over the seam.
    let radius = 0.1_f32;
    let sphere = surface(vec![grid(0, [256, 128], WHOLE, |s, t| {
        let (longitude, latitude) = (if s == 1.0 { 0.0 } else { s * TAU }, (0.5 - t) * PI);
        radius
            * Vec3::new(
                latitude.cos() * longitude.cos(),
                latitude.sin(),
                -latitude.cos() * longitude.sin(),
            )
    })]);
    let (geometry, _) = canvas(&sphere, 1024);
    for normal in [Vec3::X, Vec3::new(0.8, 0.3, -0.6).normalize()] {
        let dab = geometry.stroke(&[at(normal * radius, normal)], 0.02, &all);
        let got: f64 = positions(&geometry, &dab)
            .iter()
            .map(|p| {
                let latitude = f64::from(p.y / radius).asin();
                (f64::from(TAU) / 1024.0)
                    * (f64::from(PI) / 1024.0)
                    * latitude.cos()
                    * f64::from(radius).powi(2)
            })
            .sum();
        // A cap of chord c on a sphere has the area πc² (Archimedes), here to
        // half a texel of its rim.
        let wanted = std::f64::consts::PI * 0.02_f64.powi(2);
        let rim = std::f64::consts::PI * 0.02 * f64::from(TAU * radius) / 1024.0;
        assert!((got - wanted).abs() < rim, "{got} for {wanted}");
    }
}

#[test]
fn a_thin_plate_is_painted_on_one_side_only() {
    // Two planes 1 mm apart that nothing joins, and a brush of 5 mm.
    let side = |z: f32, turned: f32, low: f32| {
        grid(
            0,
            [9; 2],
            [Vec2::new(low, 0.0), Vec2::new(low + 0.5, 1.0)],
            move |s, t| Vec3::new((s - 0.5) * turned * 0.1, (0.5 - t) * 0.1, z),
        )
    };
    let (geometry, _) = canvas(
        &surface(vec![side(0.0, 1.0, 0.0), side(-0.001, -1.0, 0.5)]),
        256,
    );
    for (z, normal, patch) in [(0.0, Vec3::Z, 0), (-0.001, -Vec3::Z, 1)] {
        let dab = geometry.stroke(&[at(Vec3::new(0.01, 0.0, z), normal)], 0.005, &all);
        assert!(dab.texels().len() > 100);
        for texel in dab.texels() {
            assert_eq!(geometry.point(*texel).unwrap().patch, patch);
        }
    }
    // A part that is not shown is not painted.
    let hidden = geometry.stroke(&[at(Vec3::ZERO, Vec3::Z)], 0.005, &|patch| patch == 1);
    assert!(positions(&geometry, &hidden).iter().all(|p| p.z < 0.0));
}

#[test]
fn a_folded_sheet_is_painted_as_every_texel_says() {
    // A sheet folded like a hairpin, 4 mm between its arms, in pieces a quarter
    // each with UVs of its own: against a walk over a fine grid of the formula.
    let fold = |t: f32| {
        let (arm, bend) = (0.03_f32, 0.002 * PI);
        let along = t * (2.0 * arm + bend);
        if along < arm {
            Vec2::new(along, 0.002)
        } else if along < arm + bend {
            let angle = (along - arm) / 0.002;
            Vec2::new(arm + 0.002 * angle.sin(), 0.002 * angle.cos())
        } else {
            Vec2::new(2.0 * arm + bend - along, -0.002)
        }
    };
    let place = move |s: f32, t: f32| Vec3::new(fold(t).x, fold(t).y, (0.5 - s) * 0.04);
    let quarter = |k: f32| {
        let low = Vec2::new(0.02 + 0.49 * (k % 2.0), 0.02 + 0.49 * (k / 2.0).floor());
        grid(0, [12, 48], [low, low + 0.45], move |s, t| {
            place(s, (k + t) / 4.0)
        })
    };
    let (geometry, _) = canvas(&surface((0..4).map(|k| quarter(k as f32)).collect()), 300);
    let mut random = Random(11);
    for _ in 0..12 {
        let (s, t) = (0.2 + 0.6 * random.part(), random.part());
        let (centre, radius) = (place(s, t), 0.004 + 0.004 * random.part());
        // Points of the sheet within the radius, walked from the centre on.
        let (width, height) = (80_i32, 320_i32);
        let near = |x: i32, y: i32| {
            let p = place(
                (x as f32 + 0.5) / width as f32,
                (y as f32 + 0.5) / height as f32,
            );
            p.distance(centre) <= radius
        };
        let mut seen = BTreeSet::from([((s * width as f32) as i32, (t * height as f32) as i32)]);
        let mut open: Vec<(i32, i32)> = seen.iter().copied().collect();
        while let Some((x, y)) = open.pop() {
            for (x, y) in [(x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)] {
                if (0..width).contains(&x)
                    && (0..height).contains(&y)
                    && near(x, y)
                    && seen.insert((x, y))
                {
                    open.push((x, y));
                }
            }
        }
        let wanted = seen.len() as f64 / f64::from(width * height);
        let along = place(s, (t + 0.001).min(1.0)) - place(s, (t - 0.001).max(0.0));
        let normal = Vec3::Z.cross(along).normalize();
        let dab = geometry.stroke(&[at(centre, normal)], radius, &all);
        let got = dab.texels().len() as f64 / (4.0 * (0.45 * 300.0_f64).powi(2));
        // Rims of both counts, and the seams: a tenth.
        assert!(
            (got / wanted - 1.0).abs() < 0.1,
            "{s} {t} {radius}: {got} for {wanted}"
        );
    }
}

#[test]
fn a_brush_finer_than_a_texel_marks_the_texel_and_nonsense_marks_nothing() {
    let (geometry, _) = canvas(&plane(0.2, 2), 10);
    let place = Vec3::new(0.031, 0.031, 0.0);
    let dot = geometry.stroke(&[at(place, Vec3::Z)], 0.0, &all);
    assert_eq!(dot.texels(), [36]);
    for radius in [f32::NAN, f32::INFINITY, -1.0] {
        assert!(
            geometry
                .stroke(&[at(place, Vec3::Z)], radius, &all)
                .texels()
                .is_empty()
        );
    }
    for off in [Vec3::Z, Vec3::NAN, Vec3::splat(f32::INFINITY)] {
        assert!(
            geometry
                .stroke(&[at(off, Vec3::Z)], 0.01, &all)
                .texels()
                .is_empty()
        );
    }
    assert!(geometry.stroke(&[], 0.01, &all).texels().is_empty());
}
