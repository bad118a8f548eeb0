//! Which photograph sees which texel, against casting a ray at every triangle.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod scene;

use ganosis_imaging::Encoding;
use ganosis_imaging::drape::room::InMemory;
use ganosis_imaging::drape::texels::Place;
use ganosis_imaging::drape::{Drape, Mesh, Picture, Tiles, View};
use ganosis_imaging::lens::Lens;
use ganosis_imaging::pose::PosedPhoto;
use glam::DVec3;
use scene::{Photographs, bent, meets, mesh, posed, settings, torus_and_ball, views};

const SIDE_PX: usize = 512;

/// Pairs of a texel and a photograph that are compared.
const PAIRS: usize = 100_000;

fn cameras() -> Vec<PosedPhoto> {
    let lens = |focal: f64| Lens {
        distortion: bent(),
        ..Lens::simple(600, 400, focal)
    };
    let looks = [
        // From afar, from near so that the object is cut off, and from within the ring.
        (600.0, [0.3, 0.2, 0.9], [0.0, 0.0, 0.0]),
        (500.0, [-0.5, 0.1, 0.4], [0.0, 0.0, 0.0]),
        (700.0, [0.2, -0.6, 0.1], [0.05, 0.0, 0.0]),
        (400.0, [0.0, 0.02, 0.3], [0.2, 0.1, 0.0]),
        (300.0, [0.01, 0.0, 0.02], [0.3, 0.05, 0.0]),
        (600.0, [0.1, 0.5, -0.7], [0.0, 0.0, 0.0]),
    ];
    looks
        .iter()
        .enumerate()
        .map(|(i, (focal, from, to))| {
            posed(
                &format!("{i}"),
                lens(*focal),
                DVec3::from(*from),
                DVec3::from(*to),
            )
        })
        .collect()
}

fn grey(view: &View) -> Picture {
    let lens = view.lens.lens();
    Picture {
        width_px: lens.width_px,
        height_px: lens.height_px,
        channels: 1,
        codes: vec![30_000; lens.width_px * lens.height_px],
        light_of_code: Encoding::Linear.light_of_code(),
    }
}

/// Whether a photograph sees a place: its front, within the picture, nothing between.
fn sees(mesh: &Mesh, view: &View, place: &Place) -> bool {
    let face = &mesh.faces[place.face as usize];
    let point = face.point(place.weights());
    let from = point.as_dvec3();
    if face.cross_m2().dot(view.centre_m - from) <= 0.0 {
        return false;
    }
    let lens = view.lens.lens();
    let inside = view
        .lens
        .project(view.camera_of(point).to_array())
        .is_some_and(|[x, y]| {
            (0.5..=lens.width_px as f64 - 0.5).contains(&x)
                && (0.5..=lens.height_px as f64 - 0.5).contains(&y)
        });
    inside
        && !mesh.faces.iter().enumerate().any(|(number, other)| {
            // What is met within a micrometre or so is the place itself.
            number != place.face as usize
                && meets(other.corners, from, view.centre_m).is_some_and(|at| at > 3e-6 && at < 1.0)
        })
}

#[test]
fn photographs_see_what_rays_against_every_triangle_say() {
    let surface = torus_and_ball();
    let mesh = mesh(&surface, SIDE_PX as u32);
    let tiles = Tiles::new(&mesh, 4.0);
    let views = views(&cameras());
    let room = InMemory::default();
    let drape = Drape {
        mesh: &mesh,
        tiles: &tiles,
        views: &views,
        settings: settings(1, 4.0),
        room: &room,
    };
    let report = drape
        .run(&Photographs::new(views.iter().map(grey).collect()))
        .unwrap();
    assert!(report.seen_texels > 100_000, "{report:?}");
    // The whole sheet, so that neighbours can be asked.
    let (mut places, mut seen) = (Vec::new(), Vec::new());
    places.resize(SIDE_PX * SIDE_PX, None);
    seen.resize(SIDE_PX * SIDE_PX, 0);
    for (number, tile) in tiles.tiles.iter().enumerate() {
        let own = tiles.places(&mesh, number);
        let masks = drape.seen(number).unwrap().remove(0);
        for (i, place) in own.into_iter().enumerate() {
            let (x, y) = tile.texel(i);
            let (x, y) = (x as usize, y as usize);
            places[y * SIDE_PX + x] = (place.face != Place::NONE).then_some(place);
            seen[y * SIDE_PX + x] = masks[i];
        }
    }
    let mut state = 7_u64;
    let mut random = |below: usize| {
        // Knuth's MMIX generator, upper bits.
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let (mut compared, mut visible, mut at_silhouettes) = (0, 0, 0);
    let mut wrong = Vec::new();
    while compared < PAIRS {
        let (x, y) = (1 + random(SIDE_PX - 2), 1 + random(SIDE_PX - 2));
        let Some(place) = places[y * SIDE_PX + x].filter(Place::is_chart) else {
            continue;
        };
        let k = random(views.len());
        let ours = seen[y * SIDE_PX + x] >> k & 1 == 1;
        let theirs = sees(&mesh, &views[k], &place);
        compared += 1;
        visible += usize::from(theirs);
        if ours != theirs {
            let neighbours = (0..9).map(|n| (y + n / 3 - 1) * SIDE_PX + x + n % 3 - 1);
            let differs = neighbours
                .filter_map(|at| places[at])
                .any(|n| sees(&mesh, &views[k], &n) != theirs);
            if differs {
                at_silhouettes += 1;
            } else {
                wrong.push((x, y, k, ours));
            }
        }
    }
    println!("{compared} pairs, {visible} visible, {at_silhouettes} differ at silhouettes");
    assert!(visible > compared / 10 && visible < compared * 9 / 10);
    assert!(
        wrong.is_empty(),
        "{} wrong: {:?}",
        wrong.len(),
        &wrong[..wrong.len().min(10)]
    );
    // Of the texels at silhouettes themselves hardly any may differ.
    assert!(at_silhouettes * 1000 < compared, "{at_silhouettes}");
}
