//! Draped colour against the paint, as colour differences, on a dome whose photographs are made by a
//! formula: two cameras with different lenses, noise, a highlight, the shadow of a stand.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod scene;

use ganosis_colorimetry::{LabD50, Linear, Srgb, delta_e_2000};
use ganosis_imaging::Encoding;
use ganosis_imaging::drape::room::InMemory;
use ganosis_imaging::drape::texels::Place;
use ganosis_imaging::drape::{Drape, Picture, Tiles, coverage};
use ganosis_imaging::lens::{Distortion, Lens};
use ganosis_imaging::pose::PosedPhoto;
use ganosis_surface::Surface;
use glam::{DVec3, Vec2};
use scene::{Photographs, bent, grid, mesh, posed, settings, surface, views};

/// Sides of the sheet in texels: a texel covers about 1.6, 4.5 and 12 pixels of a photograph.
const SIDES_PX: [u32; 3] = [512, 180, 64];
const RADIUS_M: f64 = 0.25;
/// Half the angle of the dome: it is 42 cm wide and 12 cm high.
const HALF_DEG: f64 = 57.0;

/// The dome's top is at the origin, its middle below.
const MIDDLE: DVec3 = DVec3::new(0.0, 0.0, -RADIUS_M);

/// Noise of a photograph: one standard deviation of linear light.
const NOISE: f64 = 0.003;

/// Linear sRGB by place: fields of strong colour with edges between, and a weave of 12 mm.
fn paint(at: DVec3) -> [f64; 3] {
    let fields = [
        [0.45, 0.08, 0.06],
        [0.60, 0.42, 0.09],
        [0.08, 0.16, 0.40],
        [0.12, 0.28, 0.13],
        [0.55, 0.52, 0.45],
    ];
    let ring = (at.x.hypot(at.y) / 0.06) as usize;
    let sector = ((at.y.atan2(at.x) + std::f64::consts::PI) / 1.3) as usize;
    let weave = 1.0 + 0.08 * (at.x * 520.0).sin() * (at.y * 520.0).cos();
    fields[(ring + 2 * sector) % fields.len()].map(|v| v * weave)
}

/// Where a ray meets the dome's sphere first.
fn meet(from: DVec3, direction: DVec3) -> Option<DVec3> {
    let d = direction.normalize();
    let to = from - MIDDLE;
    let along = to.dot(d);
    let rest = along * along - to.length_squared() + RADIUS_M * RADIUS_M;
    (rest >= 0.0).then(|| from + d * (-along - rest.sqrt()))
}

/// Even numbers below 1 (Knuth's MMIX multiplier), made normal (Box and Muller 1958).
struct Noise(u64);

impl Noise {
    fn even(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let (a, b) = (1.0 - self.even(), self.even());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// Each pixel is the mean of nine rays, and noise.
fn photograph(posed: &PosedPhoto, number: usize) -> Picture {
    let projector = posed.projector();
    let centre = DVec3::from(posed.pose.centre_m());
    let (width_px, height_px) = (posed.lens.width_px, posed.lens.height_px);
    let mut noise = Noise(number as u64 + 1);
    let light = |pixel: [f64; 2]| -> [f64; 3] {
        let there = projector
            .lens
            .normalised_of(pixel)
            .and_then(|seen| meet(centre, DVec3::from(posed.pose.ray(seen))));
        let Some(at) = there else {
            return [0.02; 3];
        };
        match number {
            // A highlight of 12 mm, and the shadow of a stand 14 mm wide.
            1 if (at - DVec3::new(0.06, 0.03, -0.01)).length() < 0.012 => [0.98; 3],
            4 if (at.x + 0.07).abs() < 0.007 => paint(at).map(|v| 0.45 * v),
            _ => paint(at),
        }
    };
    let mut codes = Vec::with_capacity(3 * width_px * height_px);
    for y in 0..height_px {
        for x in 0..width_px {
            let mut sum = [0.0; 3];
            for k in 0..9 {
                let off = |i: usize| (i as f64 + 0.5) / 3.0;
                let one = light([x as f64 + off(k % 3), y as f64 + off(k / 3)]);
                sum = [0, 1, 2].map(|c| sum[c] + one[c] / 9.0);
            }
            codes.extend(sum.map(|v| {
                let noisy = v + NOISE * noise.normal();
                (noisy.clamp(0.0, 1.0) * 65535.0).round() as u16
            }));
        }
    }
    Picture {
        width_px,
        height_px,
        channels: 3,
        codes,
        light_of_code: Encoding::Linear.light_of_code(),
    }
}

fn eight() -> Vec<PosedPhoto> {
    let lenses = [
        Lens {
            distortion: bent(),
            ..Lens::simple(1200, 800, 1300.0)
        },
        Lens {
            distortion: Distortion {
                k1: 0.03,
                p1: -0.0004,
                ..Distortion::default()
            },
            ..Lens::simple(1000, 1000, 1500.0)
        },
    ];
    (0..8)
        .map(|k| {
            let turn = f64::from(k) * std::f64::consts::TAU / 7.0;
            let aside = if k == 7 { 0.0 } else { 0.55 };
            let from = DVec3::new(aside * turn.cos(), aside * turn.sin(), 0.6);
            let to = DVec3::new(0.0, 0.0, -0.05);
            posed(&format!("{k}"), lenses[k as usize % 2], from, to)
        })
        .collect()
}

/// A cap seen from above: the unit square is put on a disc, and the disc on the sphere.
fn place(u: f64, v: f64) -> DVec3 {
    let half = HALF_DEG.to_radians();
    let (x, y) = (2.0 * u - 1.0, 1.0 - 2.0 * v);
    let disc = DVec3::new(
        x * (1.0 - 0.5 * y * y).max(0.0).sqrt(),
        y * (1.0 - 0.5 * x * x).max(0.0).sqrt(),
        0.0,
    );
    let angle = disc.length() * half;
    let around = disc.normalize_or_zero();
    MIDDLE + RADIUS_M * DVec3::new(around.x * angle.sin(), around.y * angle.sin(), angle.cos())
}

/// Where the unit square lies on the sheet.
const SHEET: [f64; 2] = [0.02, 0.98];

/// Mean of the paint over the square of a texel, by 12 × 12 places.
fn texel_mean(x: u32, y: u32, side_px: u32) -> [f64; 3] {
    const EACH: u32 = 12;
    let along = |texel: u32, k: u32| {
        let at = (f64::from(texel) + (f64::from(k) + 0.5) / f64::from(EACH)) / f64::from(side_px);
        (at - SHEET[0]) / (SHEET[1] - SHEET[0])
    };
    let mut sum = [0.0; 3];
    for k in 0..EACH * EACH {
        let light = paint(place(along(x, k % EACH), along(y, k / EACH)));
        sum = [0, 1, 2].map(|c| sum[c] + light[c] / f64::from(EACH * EACH));
    }
    sum
}

#[test]
fn colour_differs_from_the_paint_by_less_than_one_at_any_size_of_the_sheet() {
    let low_high = SHEET.map(|edge| Vec2::splat(edge as f32));
    let dome = surface(vec![grid(160, 160, low_high[0], low_high[1], &place)]);
    let posed = eight();
    let pictures: Vec<Picture> = posed
        .iter()
        .enumerate()
        .map(|(number, posed)| photograph(posed, number))
        .collect();
    for side_px in SIDES_PX {
        let mut differences = differences(&dome, side_px, &posed, &pictures);
        differences.sort_by(f64::total_cmp);
        let n = differences.len();
        let mean = differences.iter().sum::<f64>() / n as f64;
        let p95 = differences[n * 95 / 100];
        println!("{side_px} px, {n} texels: ΔE00 mean {mean:.3}, 95th percentile {p95:.3}");
        assert!(n > (side_px * side_px / 2) as usize, "{n}");
        assert!(mean < 1.0 && p95 < 2.5, "{side_px} px: {mean} {p95}");
    }
}

/// ΔE00 of each texel that some photograph sees at under 60°.
fn differences(
    dome: &Surface,
    side_px: u32,
    posed: &[PosedPhoto],
    pictures: &[Picture],
) -> Vec<f64> {
    let mesh = mesh(dome, side_px);
    let (views, tiles, room) = (views(posed), Tiles::new(&mesh, 0.0), InMemory::default());
    let drape = Drape {
        mesh: &mesh,
        tiles: &tiles,
        views: &views,
        settings: settings(3, 0.0),
        room: &room,
    };
    let report = drape.run(&Photographs::new(pictures.to_vec())).unwrap();
    // The highlight and the shadow are some 2 and 20 cm² of the dome's 1800.
    let rejected = [1, 4].map(|k| report.photos[k].rejected);
    let least = u64::from(side_px * side_px) / 2600;
    assert!(rejected.iter().all(|r| *r > least), "{rejected:?}");
    let lab = |[r, g, b]: [f64; 3]| LabD50::from(Linear::<Srgb>::new(r, g, b));
    let mut differences = Vec::new();
    for (number, tile) in tiles.tiles.iter().enumerate() {
        let result = drape.tile(number).unwrap();
        for (i, texel) in tiles.places(&mesh, number).iter().enumerate() {
            if texel.face == Place::NONE || result.coverage[i] != coverage::SEEN {
                continue;
            }
            let face = &mesh.faces[texel.face as usize];
            let at = face.point(texel.weights()).as_dvec3();
            let normal = (at - MIDDLE).normalize();
            let under_60 = views
                .iter()
                .any(|view| normal.dot((view.centre_m - at).normalize()) > 0.5);
            if !under_60 {
                continue;
            }
            let light = [0, 1, 2].map(|c| f64::from(result.light[3 * i + c]));
            let (x, y) = tile.texel(i);
            let wanted = texel_mean(x, y, side_px);
            differences.push(delta_e_2000(lab(light), lab(wanted)));
        }
    }
    differences
}
