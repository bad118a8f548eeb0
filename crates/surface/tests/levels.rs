//! Levels of a surface whose shape is a formula: a sphere.
#![cfg(feature = "levels")]

use std::f32::consts::{PI, TAU};

use ganosis_surface::levels::{COARSEST_TRIANGLES, is_closed, levels, packed};
use ganosis_surface::{Patch, Sheet, Surface, gltf_in};
use glam::{Vec2, Vec3};

const RADIUS_M: f32 = 0.3;

/// Half a sphere as a grid with a seam of UVs where longitude 0 meets 2π.
fn half(down: bool, across: usize, name: &str, sheet: usize) -> Patch {
    let rows = across / 4;
    let mut patch = Patch {
        sheet,
        node_path: vec!["object".into(), name.into()],
        ..Patch::default()
    };
    for row in 0..=rows {
        for column in 0..=across {
            let (u, v) = (column as f32 / across as f32, row as f32 / rows as f32);
            let (longitude, from_pole) = (u * TAU, 0.05 + v * (PI / 2.0 - 0.05));
            let up = if down { -1.0 } else { 1.0 };
            let n = Vec3::new(
                from_pole.sin() * longitude.cos(),
                from_pole.cos() * up,
                from_pole.sin() * longitude.sin(),
            );
            patch.positions.push(n * RADIUS_M);
            patch.normals.push(n);
            patch.uvs.push(Vec2::new(u, v));
        }
    }
    let width = across as u32 + 1;
    for row in 0..rows as u32 {
        for column in 0..across as u32 {
            let a = row * width + column;
            let (b, c, d) = (a + 1, a + width, a + width + 1);
            let quads = if down {
                [a, b, d, a, d, c]
            } else {
                [a, d, b, a, c, d]
            };
            patch.indices.extend(quads);
        }
    }
    patch
}

fn sphere(across: usize) -> Surface {
    Surface {
        sheets: vec![Sheet::plain("upper"), Sheet::plain("lower")],
        patches: vec![
            half(false, across, "top", 0),
            half(true, across, "bottom", 1),
        ],
        ..Surface::default()
    }
}

/// Largest distance of places on the triangles from the sphere (formula: length less radius), in mm.
fn from_the_sphere_mm(surface: &Surface) -> f64 {
    let mut most = 0.0_f32;
    for patch in &surface.patches {
        for [a, b, c] in (0..patch.triangle_count()).filter_map(|t| patch.corners(t)) {
            for p in [
                (a + b + c) / 3.0,
                (a + b) / 2.0,
                (b + c) / 2.0,
                (c + a) / 2.0,
                a,
                b,
                c,
            ] {
                most = most.max((p.length() - RADIUS_M).abs());
            }
        }
    }
    f64::from(most) * 1000.0
}

#[test]
fn what_a_level_is_said_to_be_off_is_what_the_formula_says() {
    let surface = sphere(560);
    let own_mm = from_the_sphere_mm(&surface);
    let levels = levels(&surface, &mut |_| {}).expect("levels");
    assert!(levels.len() >= 2, "{} levels", levels.len());
    for (n, level) in levels.iter().enumerate() {
        let read = gltf_in::read(&level.file, &|_| None).expect("read back");
        assert_eq!(read.triangle_count(), level.triangles);
        // The sphere lies within the grid's own sag of the grid, so by the triangle inequality:
        let off_mm = from_the_sphere_mm(&read);
        let said = level.deviation.error_mm;
        assert!(
            off_mm <= said + own_mm + 1e-3,
            "level {n}: {off_mm} mm off the sphere, said {said}"
        );
        assert!(
            said <= off_mm + own_mm + 0.05,
            "level {n}: said {said}, and {off_mm}"
        );
        assert!(level.deviation.shift_mm <= 1.0, "{:?}", level.deviation);
        if n > 0 {
            let before = &levels[n - 1];
            assert!(level.triangles as f64 > 1.3 * before.triangles as f64);
            assert!(said <= before.deviation.error_mm, "finer, and further off");
        }
    }
    assert!(levels[0].triangles <= COARSEST_TRIANGLES * 11 / 10);
    let finest = levels.last().expect("one");
    assert_eq!(finest.triangles, surface.triangle_count());
    // Steps of 2^-17 of 0.3 m.
    assert!(finest.deviation.error_mm < 0.005, "{:?}", finest.deviation);
}

#[test]
fn a_level_keeps_order_names_and_vertices() {
    let mut surface = sphere(64);
    // Two nodes of one name, and a node with both a mesh and a child.
    surface.patches[0].node_path = vec!["object".into()];
    surface.patches.push(half(true, 64, "top", 0));
    surface.patches.push(Patch {
        colours: Some(vec![
            [1.0, 0.5, 0.25, 1.0];
            surface.patches[1].positions.len()
        ]),
        ..surface.patches[1].clone()
    });
    surface.patches[3].node_path = vec!["object".into()];
    let read = gltf_in::read(&packed(&surface), &|_| None).expect("read");
    let paths = |s: &Surface| -> Vec<Vec<String>> {
        s.patches.iter().map(|p| p.node_path.clone()).collect()
    };
    assert_eq!(paths(&read), paths(&surface));
    assert_eq!(read.sheets, surface.sheets);
    for (own, out) in surface.patches.iter().zip(&read.patches) {
        assert_eq!(own.sheet, out.sheet);
        assert_eq!(own.positions.len(), out.positions.len());
        let pairs = own.positions.iter().zip(&out.positions);
        let most = pairs.map(|(a, b)| a.distance(*b)).fold(0.0, f32::max);
        assert!(most < 5e-6, "{most} m");
        let uvs = own.uvs.iter().zip(&out.uvs);
        let most = uvs.map(|(a, b)| a.distance(*b)).fold(0.0, f32::max);
        assert!(most < 1.5 / 1_048_576.0, "{most}");
        let normals = own.normals.iter().zip(&out.normals);
        let least = normals.map(|(a, b)| a.dot(*b)).fold(1.0, f32::min);
        assert!(least > 0.06_f32.to_radians().cos(), "{least}");
        assert_eq!(own.colours.is_some(), out.colours.is_some());
        // Triangles may be turned and reordered, and stay the same.
        let set = |p: &Patch| {
            let mut all: Vec<[u32; 3]> = p
                .indices
                .chunks_exact(3)
                .map(|t| {
                    let least = (0..3).min_by_key(|k| t[*k]).unwrap_or(0);
                    [t[least], t[(least + 1) % 3], t[(least + 2) % 3]]
                })
                .collect();
            all.sort_unstable();
            all
        };
        assert_eq!(set(own), set(out));
    }
}

/// A cube of 1 m at `at`, its corners kept apart along one edge as a seam of UVs keeps them.
fn cube(at: Vec3, node: &str) -> Patch {
    let corner = |i: u32| at + Vec3::new((i & 1) as f32, (i >> 1 & 1) as f32, (i >> 2) as f32);
    let mut patch = Patch {
        node_path: vec![node.into()],
        positions: (0..8).chain([0, 4]).map(corner).collect(),
        ..Patch::default()
    };
    // Counter-clockwise from outside (glTF 2.0, 3.7.2.1).
    for [a, b, c, d] in [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [8, 1, 5, 9],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ] {
        patch.indices.extend([a, b, c, a, c, d]);
    }
    patch
}

/// What encloses a space with its front outside, by construction, and what does not.
#[test]
fn a_closed_surface_is_known_from_an_open_one() {
    let closed = |patches: Vec<Patch>| {
        is_closed(&Surface {
            patches,
            ..Surface::default()
        })
    };
    let one = || cube(Vec3::ZERO, "one");
    assert!(closed(vec![one()]));
    assert!(
        closed(vec![one(), cube(Vec3::X * 3.0, "one")]),
        "two pieces"
    );
    assert!(closed(vec![one(), cube(Vec3::X, "two")]), "face to face");
    // Two patches of a node that are closed together only.
    let (mut low, mut high) = (one(), one());
    low.indices.truncate(18);
    high.indices.drain(..18);
    assert!(closed(vec![low.clone(), high.clone()]));
    high.node_path = vec!["two".into()];
    assert!(!closed(vec![low, high]), "each may be left out by itself");
    let mut open = one();
    open.indices.truncate(33);
    assert!(!closed(vec![
        one(),
        Patch {
            node_path: vec!["two".into()],
            ..open
        }
    ]));
    let mut turned = one();
    turned.indices.reverse();
    assert!(!closed(vec![turned.clone()]), "inside out");
    let mut away = turned;
    away.positions
        .iter_mut()
        .for_each(|p| *p = *p * 0.5 + Vec3::X * 9.0);
    assert!(!closed(vec![one(), away]), "one piece inside out");
    let mut hollow = one();
    hollow.indices.reverse();
    hollow
        .positions
        .iter_mut()
        .for_each(|p| *p = *p * 0.5 + 0.2);
    assert!(closed(vec![one(), hollow]), "a hollow is not seen");
    let mut flipped = one();
    flipped.indices[..3].reverse();
    assert!(!closed(vec![flipped]));
    assert!(!closed(vec![]));
}
