//! Distances, loops and profiles against surfaces with a formula (within 0.5 %), several resolutions,
//! regular and irregular, and against a brute-force search where there is none.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::BinaryHeap;
use std::f64::consts::{PI, TAU};

use common::{Dice, grid, sphere};
use ganosis_surface::measure::{
    Mesh, Spot, Walks, angle_at_rad, angle_between_rad, loops, profile,
};
use ganosis_surface::pick::Picker;
use ganosis_surface::{Patch, Sheet, Surface};
use glam::{DVec3, Vec3};

/// The relative error that is allowed everywhere.
const WITHIN: f64 = 0.005;

fn near(got: f64, exact: f64, what: &str) {
    assert!(
        (got - exact).abs() <= WITHIN * exact,
        "{what}: {got} for {exact}, {:.3} % off",
        (got / exact - 1.0) * 100.0
    );
}

/// A grid whose inner corners are moved about in (s, t) and whose diagonals run either way.
fn irregular(steps: u32, seed: u64, place: impl Fn(f32, f32) -> Vec3) -> Surface {
    let mut dice = Dice(seed);
    let mut patch = Patch::default();
    for j in 0..=steps {
        for i in 0..=steps {
            // Corners on the border stay, so that seams fit.
            let inner = [i, j].iter().all(|k| *k > 0 && *k < steps);
            let mut shift = || {
                if inner {
                    (dice.roll() - 0.5) * 0.45
                } else {
                    0.0
                }
            };
            let (s, t) = (
                (i as f32 + shift()) / steps as f32,
                (j as f32 + shift()) / steps as f32,
            );
            patch.positions.push(place(s, t));
        }
    }
    for j in 0..steps {
        for i in 0..steps {
            let a = j * (steps + 1) + i;
            let c = a + steps + 1;
            patch.indices.extend(if dice.roll() < 0.5 {
                [a, a + 1, c + 1, a, c + 1, c]
            } else {
                [a, a + 1, c, a + 1, c + 1, c]
            });
        }
    }
    Surface {
        sheets: vec![Sheet::plain("crown")],
        patches: vec![patch],
        ..Surface::default()
    }
}

struct Ground {
    mesh: Mesh,
    picker: Picker,
}

impl Ground {
    fn new(surface: &Surface) -> Self {
        Self {
            mesh: Mesh::new(surface, &|_| true),
            picker: Picker::new(surface),
        }
    }

    fn spot(&self, place: Vec3) -> Spot {
        let faces = |normal: Vec3| normal != Vec3::ZERO;
        let hit = self.picker.nearest_facing(place, 10.0, &|_| true, &faces);
        self.mesh.spot(&hit.unwrap()).unwrap()
    }

    fn distance(&self, a: Vec3, b: Vec3) -> Option<f64> {
        let way = Walks::new(&self.mesh).shortest(&self.spot(a), &self.spot(b))?;
        let along: f64 = way.points_m.windows(2).map(|p| p[0].distance(p[1])).sum();
        assert!(
            (along / way.length_m - 1.0).abs() < 1e-4,
            "{along} is not {}",
            way.length_m
        );
        Some(way.length_m)
    }
}

/// Both kinds of mesh at three resolutions.
fn meshes(place: impl Fn(f32, f32) -> Vec3 + Copy) -> Vec<Ground> {
    [48, 80, 140]
        .into_iter()
        .flat_map(|steps| {
            [
                grid(steps, place),
                irregular(steps, u64::from(steps) + 5, place),
            ]
        })
        .map(|surface| Ground::new(&surface))
        .collect()
}

#[test]
fn over_a_plane_it_is_the_straight_distance() {
    let plane = |s: f32, t: f32| Vec3::new(s * 2.0, t, 0.3 * s);
    for ground in meshes(plane) {
        let mut dice = Dice(11);
        for _ in 0..40 {
            let [a, b] = [0; 2].map(|_| plane(dice.roll(), dice.roll()));
            let exact = f64::from(a.distance(b));
            let got = ground.distance(a, b).unwrap();
            assert!((got - exact).abs() < 1e-5, "{got} for {exact}");
        }
    }
}

#[test]
fn over_a_cylinder_it_is_the_line_of_the_unrolled_sheet() {
    // √((r Δφ)² + Δz²), the smaller Δφ.
    let at = |angle: f32, z: f32| Vec3::new(0.5 * angle.cos(), z, 0.5 * angle.sin());
    let cylinder = |s: f32, t: f32| at(s * std::f32::consts::TAU, t * 2.0);
    for ground in meshes(cylinder) {
        let mut dice = Dice(12);
        for _ in 0..30 {
            let [a, b] = [0; 2].map(|_| (dice.roll() * std::f32::consts::TAU, dice.roll() * 2.0));
            let turn = f64::from((a.0 - b.0).abs());
            let exact = (0.5 * turn.min(TAU - turn)).hypot(f64::from(a.1 - b.1));
            if exact > 0.05 {
                near(
                    ground.distance(at(a.0, a.1), at(b.0, b.1)).unwrap(),
                    exact,
                    "cylinder",
                );
            }
        }
    }
}

#[test]
fn over_a_sphere_it_is_the_great_circle() {
    // r arccos(a · b), with poles and a seam on the way. A coarse mesh of n steps lies (π/n)²/6 within.
    for ground in meshes(sphere) {
        let mut dice = Dice(13);
        for _ in 0..30 {
            let [a, b] = [0; 2].map(|_| dice.vector().normalize());
            let exact = angle_between_rad(a.as_dvec3(), b.as_dvec3()).unwrap();
            if exact > 0.2 {
                near(ground.distance(a, b).unwrap(), exact, "sphere");
            }
        }
    }
}

#[test]
fn over_a_cone_it_is_the_line_of_the_unrolled_sheet_or_leads_over_its_tip() {
    // Sides a, b from the tip, unrolled angle Δφ sin α: √(a² + b² − 2ab cos(Δφ sin α)).
    let slope = 0.4_f32;
    let at = |side: f32, angle: f32| {
        Vec3::new(
            side * slope.sin() * angle.cos(),
            -side * slope.cos(),
            side * slope.sin() * angle.sin(),
        )
    };
    let cone = |s: f32, t: f32| at(t, s * std::f32::consts::TAU);
    for ground in meshes(cone) {
        let mut dice = Dice(14);
        for _ in 0..30 {
            let [a, b] =
                [0; 2].map(|_| (0.2 + 0.8 * dice.roll(), dice.roll() * std::f32::consts::TAU));
            let turn = f64::from((a.1 - b.1).abs());
            let unrolled = turn.min(TAU - turn) * f64::from(slope).sin();
            let (p, q) = (f64::from(a.0), f64::from(b.0));
            let exact = (p * p + q * q - 2.0 * p * q * unrolled.cos()).sqrt();
            if exact > 0.1 {
                near(
                    ground.distance(at(a.0, a.1), at(b.0, b.1)).unwrap(),
                    exact,
                    "cone",
                );
            }
        }
    }
}

/// Dijkstra over many points of every edge (Lanthier, Maheshwari, Sack 2001): slow, and never too short.
fn brute_force(surface: &Surface, a: DVec3, b: DVec3) -> f64 {
    const POINTS: usize = 24;
    let patch = &surface.patches[0];
    let mut nodes: Vec<DVec3> = vec![a, b];
    let mut numbers = std::collections::HashMap::new();
    let mut faces: Vec<Vec<usize>> = Vec::new();
    for t in 0..patch.triangle_count() {
        let corners = patch.triangle(t).unwrap();
        let mut own = Vec::new();
        for k in 0..3 {
            let ends = [corners[k], corners[(k + 1) % 3]];
            let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
            let first = *numbers.entry((low, high)).or_insert_with(|| {
                let [p, q] = [low, high].map(|v| patch.positions[v].as_dvec3());
                let first = nodes.len();
                nodes.extend((0..=POINTS).map(|n| p.lerp(q, n as f64 / POINTS as f64)));
                first
            });
            own.extend(first..=first + POINTS);
        }
        let [p, q, r] = patch.corners(t).unwrap().map(|c| c.as_dvec3());
        for (end, place) in [a, b].into_iter().enumerate() {
            let whole = (q - p).cross(r - p).length();
            let parts: f64 = [[p, q], [q, r], [r, p]]
                .map(|[x, y]| (x - place).cross(y - place).length())
                .iter()
                .sum();
            if (parts / whole - 1.0).abs() < 1e-6 {
                own.push(end);
            }
        }
        faces.push(own);
    }
    // Ends of edges that meet in a corner are one place.
    let mut at_node: Vec<Vec<usize>> = vec![Vec::new(); nodes.len()];
    for (face, own) in faces.iter().enumerate() {
        own.iter().for_each(|n| at_node[*n].push(face));
    }
    let mut lengths = vec![f64::INFINITY; nodes.len()];
    lengths[0] = 0.0;
    let mut open = BinaryHeap::from([(std::cmp::Reverse(0_u64), 0_usize)]);
    let mut corners = std::collections::HashMap::<[u64; 3], Vec<usize>>::new();
    for (n, place) in nodes.iter().enumerate() {
        corners
            .entry(place.to_array().map(f64::to_bits))
            .or_default()
            .push(n);
    }
    while let Some((std::cmp::Reverse(bits), node)) = open.pop() {
        let length = f64::from_bits(bits);
        if length > lengths[node] {
            continue;
        }
        if node == 1 {
            return length;
        }
        let mut reach = |next: usize, length: f64| {
            if length < lengths[next] {
                lengths[next] = length;
                open.push((std::cmp::Reverse(length.to_bits()), next));
            }
        };
        for same in &corners[&nodes[node].to_array().map(f64::to_bits)] {
            reach(*same, length);
        }
        for face in &at_node[node] {
            for next in &faces[*face] {
                reach(*next, length + nodes[node].distance(nodes[*next]));
            }
        }
    }
    f64::INFINITY
}

#[test]
fn over_bumps_it_is_no_longer_than_a_far_finer_search_finds() {
    let mut dice = Dice(15);
    let mut worst: f64 = 0.0;
    for seed in 1..9_u64 {
        // Hills about as steep as they are wide, on every second mesh with noise as of a scan.
        let noise: Vec<f32> = (0..4096).map(|_| dice.roll() - 0.5).collect();
        let rough = if seed % 2 == 0 { 0.04 } else { 0.0 };
        let hills = |s: f32, t: f32| {
            let at = ((s * 611.0) as usize * 37 + (t * 977.0) as usize) % noise.len();
            let height =
                0.12 * (s * 19.0 + seed as f32).sin() * (t * 17.0).cos() + rough * noise[at];
            Vec3::new(s, t, height)
        };
        let surface = irregular(14, seed, hills);
        let ground = Ground::new(&surface);
        for _ in 0..3 {
            let [a, b] = [0; 2].map(|_| Vec3::new(dice.roll(), dice.roll(), 0.0));
            let spots = [a, b].map(|p| ground.spot(p));
            let [p, q] = spots.map(|s| ground.mesh.position_m(&s));
            if p.distance(q) < 0.3 {
                continue;
            }
            let exact = brute_force(&surface, p, q);
            let got = Walks::new(&ground.mesh)
                .shortest(&spots[0], &spots[1])
                .unwrap()
                .length_m;
            worst = worst.max(got / exact - 1.0);
            near(got, exact, "hills");
        }
    }
    println!("at most {:.3} % longer", worst * 100.0);
}

#[test]
fn what_does_not_touch_has_no_way_between() {
    let mut surface = grid(4, |s, t| Vec3::new(s, t, 0.0));
    surface
        .patches
        .extend(grid(4, |s, t| Vec3::new(s + 1.5, t, 0.0)).patches);
    // Touches the first in nothing but one corner.
    surface
        .patches
        .extend(grid(4, |s, t| Vec3::new(s - 1.0, t - 1.0, 0.0)).patches);
    let ground = Ground::new(&surface);
    let [a, b, c, d] =
        [[0.2, 0.5], [0.9, 0.3], [2.0, 0.5], [-0.5, -0.5]].map(|[x, y]| Vec3::new(x, y, 0.0));
    assert!(ground.distance(a, b).is_some());
    assert_eq!(ground.distance(a, c), None);
    assert_eq!(ground.distance(a, d), None);
    let spots = [a, b, c].map(|p| ground.spot(p));
    assert_eq!(loops::enclosed(&mut Walks::new(&ground.mesh), &spots), None);
    // A part that is not shown does not join anything.
    let hidden = Mesh::new(&surface, &|patch| patch != 0);
    assert_eq!(hidden.triangle_count(), 64);
    let hit = ground.picker.nearest(a, 1.0, &|_| true).unwrap();
    assert_eq!(hidden.spot(&hit), None);
}

#[test]
fn pieces_with_seams_are_joined() {
    // One square in two patches, whose shared edge each has for itself.
    let mut surface = grid(5, |s, t| Vec3::new(s * 0.5, t, 0.0));
    surface
        .patches
        .extend(grid(5, |s, t| Vec3::new(0.5 + s * 0.5, t, 0.0)).patches);
    let ground = Ground::new(&surface);
    let (a, b) = (Vec3::new(0.1, 0.2, 0.0), Vec3::new(0.9, 0.7, 0.0));
    let got = ground.distance(a, b).unwrap();
    assert!((got - f64::from(a.distance(b))).abs() < 1e-5, "{got}");
}

fn loop_of(ground: &Ground, places: &[Vec3]) -> loops::Loop {
    let spots: Vec<Spot> = places.iter().map(|p| ground.spot(*p)).collect();
    loops::enclosed(&mut Walks::new(&ground.mesh), &spots).unwrap()
}

#[test]
fn a_polygon_on_a_plane_has_the_area_of_the_shoelace_formula() {
    let plane = |s: f32, t: f32| Vec3::new(s, t, 0.0);
    let mut grounds = meshes(plane);
    // Two triangles that hold all of it.
    grounds.push(Ground::new(&grid(1, plane)));
    let star = |n: u32| {
        let (radius, angle) = (
            if n.is_multiple_of(2) { 0.45 } else { 0.2 },
            n as f32 * std::f32::consts::PI / 9.0,
        );
        Vec3::new(0.5 + radius * angle.cos(), 0.5 + radius * angle.sin(), 0.0)
    };
    // All but the whole square: inside is not the smaller side.
    let square =
        [[0.02, 0.02], [0.98, 0.02], [0.98, 0.98], [0.02, 0.98]].map(|[x, y]| Vec3::new(x, y, 0.0));
    for ground in grounds {
        for places in [(0..18).map(star).collect::<Vec<_>>(), square.to_vec()] {
            let sides = (0..places.len()).map(|k| {
                (
                    places[k].as_dvec3(),
                    places[(k + 1) % places.len()].as_dvec3(),
                )
            });
            let exact_m2 = sides
                .clone()
                .map(|(p, q)| p.x * q.y - p.y * q.x)
                .sum::<f64>()
                .abs()
                / 2.0;
            let exact_m: f64 = sides.map(|(p, q)| p.distance(q)).sum();
            let got = loop_of(&ground, &places);
            near(got.area_m2.unwrap(), exact_m2, "area");
            near(got.perimeter_m, exact_m, "perimeter");
        }
    }
}

#[test]
fn where_the_line_crosses_itself_even_and_odd_decide() {
    // A bow tie of two triangles: 2 · (0.4 · 0.8 / 2) / 2.
    let tie = [[0.1, 0.1], [0.9, 0.9], [0.9, 0.1], [0.1, 0.9]].map(|[x, y]| Vec3::new(x, y, 0.0));
    for steps in [1, 7, 40] {
        let got = loop_of(
            &Ground::new(&grid(steps, |s, t| Vec3::new(s, t, 0.0))),
            &tie,
        );
        near(got.area_m2.unwrap(), 0.32, "bow tie");
    }
}

#[test]
fn a_cap_of_a_sphere_has_the_area_of_its_formula() {
    // 2πr²(1 − cos θ), of the smaller side; a circle of latitude by 60 places.
    for ground in meshes(sphere).into_iter().skip(2) {
        for colatitude in [0.4_f32, 1.1, 2.5] {
            let place = |n: u32| sphere(n as f32 / 60.0, colatitude / std::f32::consts::PI);
            let places: Vec<Vec3> = (0..60).map(place).collect();
            let cap = f64::from(colatitude).cos();
            let got = loop_of(&ground, &places);
            near(got.area_m2.unwrap(), TAU * (1.0 - cap.abs()), "cap");
            near(got.perimeter_m, TAU * f64::from(colatitude).sin(), "circle");
        }
    }
}

#[test]
fn a_field_of_a_cylinder_has_the_area_of_the_unrolled_sheet() {
    let at = |angle: f32, z: f32| Vec3::new(0.5 * angle.cos(), z, 0.5 * angle.sin());
    let cylinder = |s: f32, t: f32| at(s * std::f32::consts::TAU, t * 2.0);
    for ground in meshes(cylinder) {
        // Across the seam at 0.
        let field = [at(-0.7, 0.3), at(0.7, 0.3), at(0.7, 1.6), at(-0.7, 1.6)];
        let got = loop_of(&ground, &field);
        near(got.area_m2.unwrap(), 0.5 * 1.4 * 1.3, "field");
        near(got.perimeter_m, 2.0 * (0.7 + 1.3), "perimeter");
    }
}

#[test]
fn a_loop_around_a_ring_encloses_nothing() {
    let torus = |s: f32, t: f32| {
        let (a, b) = (s * std::f32::consts::TAU, t * std::f32::consts::TAU);
        Vec3::new(
            (2.0 + 0.5 * b.cos()) * a.cos(),
            0.5 * b.sin(),
            (2.0 + 0.5 * b.cos()) * a.sin(),
        )
    };
    let ground = Ground::new(&grid(60, torus));
    let around: Vec<Vec3> = (0..8).map(|n| torus(0.3, n as f32 / 8.0)).collect();
    let got = loop_of(&ground, &around);
    assert_eq!(got.area_m2, None);
    near(got.perimeter_m, TAU * 0.5, "tube");
}

#[test]
fn a_profile_of_a_sphere_is_a_circle() {
    for ground in meshes(sphere) {
        let (a, b) = (Vec3::new(0.6, 0.8, 0.0), Vec3::new(-0.6, 0.8, 0.0));
        let cut = profile::cut(&ground.mesh, &ground.spot(a), &ground.spot(b), DVec3::Y).unwrap();
        assert!(cut.whole && cut.samples_m.len() > 4);
        let highest = cut.samples_m.iter().map(|p| p.y).fold(0.0, f64::max);
        // Sagitta r − √(r² − (c/2)²), and every sample on the circle.
        assert!((highest - 0.2).abs() < WITHIN, "{highest}");
        for sample in &cut.samples_m {
            near((sample.x - 0.6).hypot(sample.y + 0.8), 1.0, "circle");
        }
        let length: f64 = cut.samples_m.windows(2).map(|p| p[0].distance(p[1])).sum();
        near(length, 2.0 * 0.6_f64.asin(), "arc");
    }
}

#[test]
fn a_profile_goes_back_under_an_overhang() {
    // A ledge, as a folded line (x, y) drawn out along z.
    let fold = [
        [0.0, 0.0],
        [0.4, 0.0],
        [0.4, 0.1],
        [0.2, 0.1],
        [0.2, 0.3],
        [1.0, 0.3_f32],
    ];
    let ledge = |s: f32, t: f32| {
        let at = (s * 5.0).min(4.999_9);
        let (k, share) = (at as usize, at.fract());
        let [[x0, y0], [x1, y1]] = [fold[k], fold[k + 1]];
        Vec3::new(x0 + (x1 - x0) * share, y0 + (y1 - y0) * share, t)
    };
    for steps in [5, 20, 100] {
        let ground = Ground::new(&grid(steps, ledge));
        let (a, b) = (Vec3::new(0.1, 0.0, 0.5), Vec3::new(0.9, 0.3, 0.5));
        let cut = profile::cut(&ground.mesh, &ground.spot(a), &ground.spot(b), DVec3::Y).unwrap();
        assert!(cut.whole);
        assert!(
            cut.samples_m.windows(2).any(|p| p[1].x < p[0].x - 1e-3),
            "it never goes back"
        );
        let length: f64 = cut.samples_m.windows(2).map(|p| p[0].distance(p[1])).sum();
        near(length, 0.3 + 0.1 + 0.2 + 0.2 + 0.7, "along the fold");
        // Distance and height are along and across the line between the places.
        let whole = f64::from(a.distance(b));
        let last = cut.samples_m.last().unwrap();
        assert!(
            (last.x - whole).abs() < 1e-4 && last.y.abs() < 1e-4,
            "{last}"
        );
    }
}

#[test]
fn a_profile_over_a_gap_says_so() {
    let mut surface = grid(10, |s, t| Vec3::new(s, t, 0.0));
    surface
        .patches
        .extend(grid(10, |s, t| Vec3::new(s + 1.5, t, 0.0)).patches);
    let ground = Ground::new(&surface);
    let spots = [0.5, 2.0].map(|x| ground.spot(Vec3::new(x, 0.43, 0.0)));
    let cut = profile::cut(&ground.mesh, &spots[0], &spots[1], DVec3::Z).unwrap();
    assert!(!cut.whole);
    assert!(
        (cut.samples_m.last().unwrap().x - 0.5).abs() < 1e-5,
        "up to the border"
    );
    // No direction across.
    assert_eq!(
        profile::cut(&ground.mesh, &spots[0], &spots[1], DVec3::X),
        None
    );
    assert_eq!(
        profile::cut(&ground.mesh, &spots[0], &spots[0], DVec3::Z),
        None
    );
}

#[test]
fn angles_follow_the_law_of_cosines() {
    let [a, b, c] = [
        DVec3::new(3.0, 0.0, 1.0),
        DVec3::new(0.5, 0.2, 1.0),
        DVec3::new(0.0, 4.0, -2.0),
    ];
    let (p, q, r) = (a.distance(b), c.distance(b), a.distance(c));
    let exact = ((p * p + q * q - r * r) / (2.0 * p * q)).acos();
    assert!((angle_at_rad(a, b, c).unwrap() - exact).abs() < 1e-12);
    assert_eq!(angle_at_rad(a, a, c), None);
    // Small angles keep their digits: tan⁻¹(1e-9).
    let small = angle_between_rad(DVec3::X, DVec3::new(1.0, 1e-9, 0.0)).unwrap();
    assert!((small / 1e-9 - 1.0).abs() < 1e-9);
    assert!((angle_between_rad(DVec3::X, -DVec3::X).unwrap() - PI).abs() < 1e-12);
}

#[test]
fn four_hundred_thousand_triangles_take_seconds() {
    let bumpy =
        |s: f32, t: f32| sphere(s, t) * (1.0 + 0.02 * (s * 160.0).sin() * (t * 120.0).sin());
    let surface = grid(448, bumpy);
    let begun = std::time::Instant::now();
    let ground = Ground::new(&surface);
    assert!(
        ground.mesh.triangle_count() > 399_000,
        "{}",
        ground.mesh.triangle_count()
    );
    let joined = begun.elapsed();
    let (a, b) = (Vec3::new(1.0, 0.1, 0.2), Vec3::new(-1.0, -0.2, 0.1));
    let length = ground.distance(a, b).unwrap();
    println!(
        "joined in {joined:?}, measured after {:?}: {length}",
        begun.elapsed()
    );
    assert!(length > 2.8 && length < 3.8, "{length}");
    // An order of magnitude above what two slow cores need.
    assert!(begun.elapsed().as_secs() < 60, "{:?}", begun.elapsed());
}
