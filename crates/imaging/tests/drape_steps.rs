//! Where depth steps in a photograph, against rays about each place; and what draping makes of it.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod scene;

use ganosis_imaging::Encoding;
use ganosis_imaging::drape::fill::Fill;
use ganosis_imaging::drape::room::InMemory;
use ganosis_imaging::drape::sight::Sight;
use ganosis_imaging::drape::steps::{Edges, Steps};
use ganosis_imaging::drape::texels::Place;
use ganosis_imaging::drape::{Drape, Mesh, Picture, Settings, Tiles, View, coverage};
use ganosis_imaging::lens::Lens;
use ganosis_imaging::pose::PosedPhoto;
use ganosis_surface::pick::Picker;
use glam::{DVec3, Vec2};
use scene::{Photographs, bent, grid, mesh, posed, settings, surface, torus_and_ball, views};

/// Depth that two rays of an eighth of a pixel apart cannot differ by on one surface of the scene, and by which
/// they surely differ where steps are looked for: pixels are some 1.2 mm, and a step counts from 4.8 of them.
const SURELY_NONE_M: f64 = 0.004;
const SURELY_M: f64 = 0.009;

#[test]
fn steps_are_where_rays_beside_one_another_meet_different_depths() {
    let surface = torus_and_ball();
    let mesh = mesh(&surface, 64);
    let picker = Picker::new(&surface);
    let edges = Edges::new(&mesh.faces);
    let lens = Lens {
        distortion: bent(),
        ..Lens::simple(600, 400, 660.0)
    };
    let (mut beside, mut clear) = (0, 0);
    let mut missed = 0;
    for from in [[0.3, 0.2, 0.9], [-0.6, 0.1, 0.6], [0.2, -0.8, 0.3]] {
        let posed = posed("a", lens, DVec3::from(from), DVec3::ZERO);
        let view = View::new(&posed, None);
        let sight = Sight::new(&mesh.faces, &view);
        let steps = Steps::new(&view, &sight, &mesh.faces, &edges);
        let distance_m = |pixel: [f64; 2]| {
            let along = DVec3::from(posed.pose.ray(view.lens.normalised_of(pixel)?));
            let origin = view.centre_m.as_vec3();
            let hit = picker.ray(origin, along.normalize().as_vec3(), &|_| true);
            // As far as nothing is.
            Some(hit.map_or(100.0, |h| f64::from(h.distance_m)))
        };
        for k in 0..4_000 {
            // An even spread (R2 sequence: M. Roberts, "The Unreasonable Effectiveness of Quasirandom
            // Sequences", 2018).
            let part = |step: f64| (0.5 + step * f64::from(k)).fract();
            let at = [
                10.0 + 580.0 * part(0.754_877_67),
                10.0 + 380.0 * part(0.569_840_29),
            ];
            if distance_m(at).unwrap() > 50.0 {
                continue;
            }
            let first_jump = |least_m: f64, directions: u32, most_px: f64| {
                let along = |direction: u32| {
                    let turn = std::f64::consts::TAU / f64::from(directions);
                    let (sin, cos) = (f64::from(direction) * turn).sin_cos();
                    let place = |t: f64| [at[0] + t * cos, at[1] + t * sin];
                    let mut before = distance_m(place(0.0)).unwrap();
                    let mut t = 0.0;
                    while t < most_px {
                        t += 0.125;
                        let here = distance_m(place(t)).unwrap();
                        if (here - before).abs() > least_m {
                            return t;
                        }
                        before = here;
                    }
                    f64::INFINITY
                };
                (0..directions).map(along).fold(f64::INFINITY, f64::min)
            };
            let said = f64::from(steps.distance_px(at, 8.0));
            let sure = first_jump(SURELY_M, 16, 4.0);
            // A place on the way of the rays is not nearer than the nearest; a step of rays is 0.125.
            if sure < 4.0 {
                missed += usize::from(said > sure + 0.15);
                beside += 1;
            }
            if said < 3.0 {
                // Between 48 directions there is 0.4 px of room at 3 px.
                let there = first_jump(SURELY_NONE_M, 48, said + 0.5);
                missed += usize::from(there.is_infinite());
                clear += 1;
            }
        }
    }
    println!("{beside} places beside a step, {clear} said to be, {missed} otherwise");
    // The outlines are some 3,000 px long in a picture of which the object fills 60,000.
    assert!(beside > 300 && clear > 200, "{beside} {clear}");
    // Where a step ends it has half its depth.
    assert!(
        missed * 50 < beside + clear,
        "{missed} of {beside} and {clear}"
    );
}

const BAR: f64 = 0.1;
const GROUND: f64 = 0.7;

/// A bright ground, and a dark bar 2 cm wide 6 cm before it.
fn ground_and_bar() -> Mesh {
    let ground = grid(
        8,
        8,
        Vec2::new(0.02, 0.02),
        Vec2::new(0.98, 0.7),
        &|u, v| DVec3::new((u - 0.5) * 0.4, (0.5 - v) * 0.3, 0.0),
    );
    let bar = grid(
        2,
        8,
        Vec2::new(0.02, 0.75),
        Vec2::new(0.1, 0.98),
        &|u, v| DVec3::new((u - 0.5) * 0.02, (0.5 - v) * 0.3, 0.06),
    );
    mesh(&surface(vec![ground, bar]), 256)
}

/// A photograph whose pixels are the mean of 8 × 8 places each.
fn photograph(posed: &PosedPhoto) -> Picture {
    let projector = posed.projector();
    let centre = DVec3::from(posed.pose.centre_m());
    let light = |pixel: [f64; 2]| {
        let along = DVec3::from(posed.pose.ray(projector.lens.normalised_of(pixel).unwrap()));
        let at = |z: f64| centre + along * ((z - centre.z) / along.z);
        if at(0.06).x.abs() <= 0.01 {
            BAR
        } else {
            GROUND
        }
    };
    let (width_px, height_px) = (posed.lens.width_px, posed.lens.height_px);
    let mut codes = Vec::with_capacity(width_px * height_px);
    for i in 0..width_px * height_px {
        let sum: f64 = (0..64)
            .map(|k| {
                let off = |k: usize| (k as f64 + 0.5) / 8.0;
                light([
                    (i % width_px) as f64 + off(k % 8),
                    (i / width_px) as f64 + off(k / 8),
                ])
            })
            .sum();
        codes.push((sum / 64.0 * 65535.0).round() as u16);
    }
    Picture {
        width_px,
        height_px,
        channels: 1,
        codes,
        light_of_code: Encoding::Linear.light_of_code(),
    }
}

/// Calls with place, coverage and light of each texel of a chart; with what may be filled filled.
fn each_texel(from: &[[f64; 3]], clear_only: bool, mut with: impl FnMut(DVec3, u8, f64)) {
    let mesh = ground_and_bar();
    let lens = Lens::simple(600, 400, 660.0);
    let posed: Vec<PosedPhoto> = from
        .iter()
        .map(|f| {
            posed(
                &format!("{f:?}"),
                lens,
                DVec3::from(*f),
                DVec3::new(0.0, 0.0, 0.03),
            )
        })
        .collect();
    let settings = Settings {
        clear_only,
        ..settings(1, 0.0)
    };
    let (views, room) = (views(&posed), InMemory::default());
    let tiles = Tiles::new(&mesh, settings.border_texels);
    let drape = Drape {
        mesh: &mesh,
        tiles: &tiles,
        views: &views,
        settings,
        room: &room,
    };
    let report = drape
        .run(&Photographs::new(posed.iter().map(photograph).collect()))
        .unwrap();
    let mut marked = 0;
    let fill = Fill::new(&drape).unwrap();
    for tile in 0..tiles.tiles.len() {
        let places = tiles.places(&mesh, tile);
        let mut result = drape.tile(tile).unwrap();
        marked += result
            .coverage
            .iter()
            .filter(|c| **c == coverage::EDGE)
            .count() as u64;
        if clear_only {
            fill.apply(&places, 1, &mut result);
        }
        for (i, place) in places.iter().enumerate() {
            if place.face != Place::NONE && place.is_chart() {
                let point = mesh.faces[place.face as usize].point(place.weights());
                let light = f64::from(result.light[i]);
                with(point.as_dvec3(), result.coverage[i], light);
            }
        }
    }
    assert_eq!(report.edge_texels, marked);
}

fn truth(at: DVec3) -> f64 {
    if at.z > 0.03 { BAR } else { GROUND }
}

#[test]
fn a_texel_that_every_photograph_sees_beside_a_step_is_marked_and_no_other_is_wrong() {
    let (mut seen, mut marked, mut wrong_marked) = (0, 0, 0);
    each_texel(&[[0.0, 0.0, 0.8]], false, |at, is, light| match is {
        coverage::SEEN => {
            seen += 1;
            // A pixel that is not astride has 0.1 or 0.7 to rounding; a cubic rings by 7 % of a step two
            // pixels from it.
            assert!(
                (light - truth(at)).abs() < 0.07 * (GROUND - BAR),
                "{at} {light}"
            );
        }
        coverage::EDGE => {
            marked += 1;
            wrong_marked += usize::from((light - truth(at)).abs() > 0.02);
        }
        _ => {}
    });
    println!("{seen} seen, {marked} marked, {wrong_marked} of them of another colour");
    assert!(
        wrong_marked > 50 && marked < seen / 20,
        "{seen} {marked} {wrong_marked}"
    );
}

#[test]
fn a_photograph_that_sees_a_texel_clear_of_a_step_has_the_word() {
    // From the side the bar lies elsewhere over the ground.
    let from = [[0.0, 0.0, 0.8], [0.35, 0.0, 0.72]];
    let (mut near_the_bar, mut most) = (0, 0.0_f64);
    each_texel(&from, false, |at, is, light| {
        // Beside the bar as the first photograph, which is the better one, sees it: 0.8 / 0.74 of its width.
        let beside = at.z < 0.03 && (at.x.abs() - 0.0108).abs() < 0.0015 && at.y.abs() < 0.13;
        // The second sees the one on its own side only.
        if beside && at.x > 0.0 {
            near_the_bar += 1;
            assert_eq!(is, coverage::SEEN, "{at}");
            most = most.max((light - GROUND).abs());
        }
    });
    println!("{near_the_bar} texels, off by {most:.4} at most");
    assert!(near_the_bar > 150, "{near_the_bar}");
    assert!(most < 0.01, "{most}");
}

#[test]
fn what_is_seen_beside_a_step_only_is_left_out_where_that_is_asked_for_and_filled_from_clear_light()
{
    let (mut filled, mut most) = (0, 0.0_f64);
    each_texel(&[[0.0, 0.0, 0.8]], true, |at, is, light| {
        assert_ne!(is, coverage::EDGE);
        if is == coverage::FILLED {
            filled += 1;
            most = most.max((light - truth(at)).abs());
        }
    });
    println!("{filled} texels filled, off by {most:.4} at most");
    assert!(filled > 300, "{filled}");
    assert!(most < 0.1 * (GROUND - BAR), "{most}");
}
