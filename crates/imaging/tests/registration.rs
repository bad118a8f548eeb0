//! Registration of invented photographs whose maps are known: a tiled object in bands of different,
//! inverted and partly missing contrast, sharp and out of focus.

#![allow(clippy::unwrap_used, reason = "a test may panic")]

use ganosis_imaging::geometry::{Homography, Point, distance};
use ganosis_imaging::register::{Kind, Options, Plane, Registration, register};
use rayon::prelude::*;

const W: usize = 640;
const H: usize = 480;

/// Evenly spread numbers below 1, from a number (the finaliser of MurmurHash3, public domain).
fn even(n: u64) -> f64 {
    let mut z = n.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x1234_5678;
    z = (z ^ (z >> 33)).wrapping_mul(0xFF51_AFD7_ED55_8CCD);
    z = (z ^ (z >> 33)).wrapping_mul(0xC4CE_B9FE_1A85_EC53);
    ((z ^ (z >> 33)) >> 11) as f64 / (1u64 << 53) as f64
}

/// A plane of cells around scattered sites, each of one of six paints.
struct Object {
    sites: Vec<(Point, usize)>,
    /// Sites that can be nearest to a point of each square of [`CELL`] pixels.
    near: Vec<Vec<usize>>,
}

const CELL: f64 = 20.0;
const CELLS: usize = 50;
/// The squares begin this far before the origin.
const BEFORE: f64 = 150.0;

fn square(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)
}

impl Object {
    fn new(seed: u64) -> Self {
        let site = |i: u64| {
            let at = |k: u64| even(seed * 1_000_003 + 3 * i + k);
            let p = [at(0) * 800.0 - 80.0, at(1) * 640.0 - 80.0];
            (p, (at(2) * 6.0) as usize)
        };
        let sites: Vec<(Point, usize)> = (0..260).map(site).collect();
        let near = (0..CELLS * CELLS)
            .map(|i| {
                let middle = |k: usize| (k as f64 + 0.5) * CELL - BEFORE;
                let centre = [middle(i % CELLS), middle(i / CELLS)];
                let far = |s: &usize| square(sites[*s].0, centre).sqrt();
                let least = (0..sites.len())
                    .map(|s| far(&s))
                    .fold(f64::INFINITY, f64::min);
                // Any point of the square is within 0.71 of its side from the centre.
                (0..sites.len())
                    .filter(|s| far(s) < least + 1.5 * CELL)
                    .collect()
            })
            .collect();
        Self { sites, near }
    }

    fn paint(&self, p: Point) -> usize {
        let cell = p.map(|v| (((v + BEFORE) / CELL) as usize).min(CELLS - 1));
        let near = self.near[cell[1] * CELLS + cell[0]].iter();
        let off = |s: &usize| square(self.sites[*s].0, p);
        let nearest = near.min_by(|a, b| off(a).total_cmp(&off(b)));
        self.sites[*nearest.unwrap()].1
    }
}

/// How a band sees the six paints, how blurred and how noisy.
#[derive(Clone, Copy)]
struct Band {
    tones: [f64; 6],
    blur_px: f64,
    noise: f64,
}

const VIS: Band = Band {
    tones: [0.1, 0.25, 0.4, 0.55, 0.7, 0.9],
    blur_px: 0.6,
    noise: 0.005,
};
const INVERTED: Band = Band {
    tones: [0.9, 0.7, 0.55, 0.4, 0.25, 0.1],
    ..VIS
};
/// Two pairs of paints look alike, the others are in no order.
const INFRARED: Band = Band {
    tones: [0.8, 0.8, 0.2, 0.65, 0.2, 0.5],
    blur_px: 1.5,
    noise: 0.01,
};
const LUMINESCENCE: Band = Band {
    tones: [0.03, 0.2, 0.03, 0.03, 0.12, 0.05],
    blur_px: 1.0,
    noise: 0.01,
};

/// The photograph through `map`, from its pixels to the object, with rays a quarter to a half of a
/// pixel apart.
fn photograph(object: &Object, band: Band, map: &Homography, seed: u64) -> Plane {
    let rays = 4 + (3.0 * band.blur_px) as usize;
    // So that no two photographs have parts of their noise in common.
    let first = (even(seed) * (1u64 << 50) as f64) as u64;
    let values = (0..W * H)
        .into_par_iter()
        .map(|i| {
            let centre = [(i % W) as f64 + 0.5, (i / W) as f64 + 0.5];
            let mut light = 0.0;
            for ray in 0..rays * rays {
                let share = |k: usize| (k as f64 + 0.5) / rays as f64 - 0.5;
                // A pixel wide, and as wide again as the blur.
                let by = 1.0 + 2.0 * band.blur_px;
                let p = [
                    centre[0] + by * share(ray % rays),
                    centre[1] + by * share(ray / rays),
                ];
                light += band.tones[object.paint(map.apply(p))];
            }
            let noise: f64 = (0..4).map(|k| even(first + 4 * i as u64 + k) - 0.5).sum();
            let light = light / (rays * rays) as f64 + band.noise * 1.7 * noise;
            light.max(0.0).sqrt() as f32
        })
        .collect();
    Plane {
        width_px: W,
        height_px: H,
        values,
    }
}

fn similarity(scale: f64, turn_deg: f64, x: f64, y: f64) -> Homography {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    let (a, b) = (scale * cos, scale * sin);
    let (cx, cy) = (W as f64 / 2.0, H as f64 / 2.0);
    Homography::from_rows([
        [a, -b, x + cx - a * cx + b * cy],
        [b, a, y + cy - b * cx - a * cy],
        [0.0, 0.0, 1.0],
    ])
}

/// Largest distance between the map found and the true one within the picture.
fn worst(found: &Registration, truth: &Homography) -> f64 {
    let map = found.map();
    let points = (0..=10).flat_map(|y| (0..=10).map(move |x| [f64::from(x), f64::from(y)]));
    points
        .map(|[x, y]| [x / 10.0 * W as f64, y / 10.0 * H as f64])
        .map(|p| distance(map.apply(p), truth.apply(p)))
        .fold(0.0, f64::max)
}

fn checked(name: &str, moving_band: Band, truth: &Homography, options: &Options) -> Registration {
    let object = Object::new(1);
    let fixed = photograph(&object, VIS, &Homography::identity(), 1);
    // A pixel of the moving photograph shows what the pixel of the fixed one does that is mapped to it.
    let moving = photograph(&object, moving_band, &truth.inverse().unwrap(), 1 << 40);
    let found = register(&fixed, &moving, options).unwrap();
    let off = worst(&found, truth);
    println!(
        "{name}: off by {off:.3} px, said {:.3}; {} of {} of {} agree, {}, level {}",
        found.standard_error_px,
        found.agreeing,
        found.clear,
        found.squares,
        found.kind,
        found.level_px
    );
    assert!(off < 0.2, "{name}: off by {off} px; {found:?}");
    found
}

#[test]
fn shifts_by_parts_of_a_pixel_are_found_in_every_band() {
    let any = Options::default();
    for (name, band) in [
        ("same", VIS),
        ("inverted", INVERTED),
        ("infrared", INFRARED),
        ("luminescence", LUMINESCENCE),
    ] {
        for (x, y) in [(0.0, 0.0), (3.37, -2.61), (-0.5, 0.25), (21.75, 13.4)] {
            let found = checked(
                &format!("{name} by {x}, {y}"),
                band,
                &similarity(1.0, 0.0, x, y),
                &any,
            );
            assert!(found.kind == Kind::Translation, "{name}: {:?}", found.tried);
            assert!(found.chance_log10 < -20.0);
        }
    }
}

#[test]
fn turns_scales_and_perspective_are_found() {
    let any = Options::default();
    // The focus of infrared lies elsewhere, and the picture is a little larger.
    let found = checked("focus", INFRARED, &similarity(1.012, 0.0, 1.3, -0.8), &any);
    assert_eq!(found.kind, Kind::Similarity);
    assert!((found.scale - 1.012).abs() < 5e-4);
    let found = checked("nudged", INVERTED, &similarity(0.995, 1.6, -8.2, 5.6), &any);
    assert_eq!(found.kind, Kind::Similarity);
    assert!((found.turn_deg - 1.6).abs() < 0.03);
    let tilted = Homography::from_rows([
        [1.004, 0.003, -3.2],
        [-0.002, 0.998, 4.7],
        [6e-6, -4e-6, 1.0],
    ]);
    let found = checked("tilted", INVERTED, &tilted, &any);
    assert_eq!(found.kind, Kind::Homography);
    let forced = Options {
        kind: Some(Kind::Homography),
        ..any
    };
    checked(
        "shift as homography",
        VIS,
        &similarity(1.0, 0.0, 2.2, 1.1),
        &forced,
    );
}

#[test]
fn the_standard_error_said_is_about_the_error_made() {
    let object = Object::new(5);
    let fixed = photograph(&object, VIS, &Homography::identity(), 1);
    let (mut made, mut said) = (0.0, 0.0);
    for i in 0..4 {
        let truth = similarity(1.002, 0.2, 0.3 * f64::from(i), -0.17 * f64::from(i));
        let moving = photograph(&object, INVERTED, &truth.inverse().unwrap(), 1 << (41 + i));
        let found = register(&fixed, &moving, &Options::default()).unwrap();
        made += worst(&found, &truth);
        said += found.standard_error_px;
    }
    // The largest of 121 points is more than one standard deviation, and less than four.
    assert!(made / said < 4.0 && made / said > 0.25, "{made} {said}");
}

#[test]
fn photographs_that_have_nothing_in_common_are_refused() {
    let flat = |tone: f32| Plane {
        width_px: W,
        height_px: H,
        values: vec![tone; W * H],
    };
    let still = Homography::identity();
    let noise = Band {
        tones: [0.5; 6],
        ..VIS
    };
    let one = photograph(&Object::new(1), VIS, &still, 1);
    let others = [
        photograph(&Object::new(2), VIS, &still, 2),
        photograph(&Object::new(3), INFRARED, &still, 3),
        photograph(&Object::new(1), noise, &still, 4),
        // The same object, turned by more than any nudge.
        photograph(&Object::new(1), VIS, &similarity(1.0, 90.0, 0.0, 0.0), 5),
        flat(0.3),
    ];
    for (i, other) in others.iter().enumerate() {
        for kind in [None, Some(Kind::Translation), Some(Kind::Homography)] {
            let options = Options { kind, seed: 1 };
            let error = register(&one, other, &options).unwrap_err();
            assert!(error.what.contains("not sure"), "{i} {kind:?}: {error}");
        }
    }
    assert!(register(&flat(0.5), &flat(0.5), &Options::default()).is_err());
}

#[test]
fn a_pattern_that_repeats_is_refused() {
    let dots = |x0: f64| Plane {
        width_px: W,
        height_px: H,
        values: (0..W * H)
            .map(|i| {
                let (x, y) = ((i % W) as f64 + x0, (i / W) as f64);
                let wave = |v: f64| (v * std::f64::consts::TAU / 40.0).sin();
                (0.5 + 0.2 * wave(x) * wave(y)) as f32
            })
            .collect(),
    };
    let error = register(&dots(0.0), &dots(7.3), &Options::default()).unwrap_err();
    assert!(error.what.contains("two different maps"), "{error}");
}

#[test]
fn other_shapes_and_small_pictures_are_named() {
    let plane = |w: usize, h: usize| Plane {
        width_px: w,
        height_px: h,
        values: (0..w * h).map(|i| even(i as u64) as f32).collect(),
    };
    let options = Options::default();
    let error = register(&plane(640, 480), &plane(480, 640), &options).unwrap_err();
    assert!(error.what.contains("different shapes"), "{error}");
    let error = register(&plane(90, 480), &plane(90, 480), &options).unwrap_err();
    assert!(error.what.contains("too little"), "{error}");
}
