//! Filling, against a search through every texel.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::{BTreeSet, HashMap};
use std::f32::consts::TAU;

use common::{Random, WHOLE, canvas, grid, plane, surface};
use ganosis_colorimetry::{Encoded, LabD50, Srgb, delta_e_2000};
use ganosis_editing::regions::{BandImage, ColourImage, Extent, TexelGeometry};
use glam::{Vec2, Vec3};

fn all(_: usize) -> bool {
    true
}

/// Smooth noise of 0..1 with hills some 6 texels wide.
fn hills(size: u32, seed: u64) -> Vec<f32> {
    let mut random = Random(seed);
    let waves: Vec<[f32; 4]> = (0..8)
        .map(|_| [random.part(), random.part(), random.part(), random.part()])
        .collect();
    let at = |x: u32, y: u32| {
        let sum: f32 = waves
            .iter()
            .map(|[a, b, c, d]| {
                let (x, y) = (x as f32 / 6.0, y as f32 / 6.0);
                ((a - 0.5) * 2.0 * x + (b - 0.5) * 2.0 * y + c * TAU).sin() * d
            })
            .sum();
        (0.5 + sum / 4.0).clamp(0.0, 1.0)
    };
    (0..size * size).map(|k| at(k % size, k / size)).collect()
}

/// The component that holds `seed` in a grid of texels, by relabelling until
/// nothing changes; `wraps` joins the first column to the last.
fn component(size: u32, belongs: &[bool], seed: u32, wraps: bool) -> BTreeSet<u32> {
    let mut label: Vec<u32> = (0..size * size).collect();
    let mut changed = true;
    while changed {
        changed = false;
        for at in 0..size * size {
            let (x, y) = (at % size, at / size);
            let mut around = Vec::new();
            around.extend((x > 0).then(|| at - 1));
            around.extend((y > 0).then(|| at - size));
            around.extend((wraps && x == 0).then(|| at + size - 1));
            for other in around {
                let (a, b) = (at as usize, other as usize);
                if belongs[a] && belongs[b] && label[a] != label[b] {
                    let least = label[a].min(label[b]);
                    (label[a], label[b]) = (least, least);
                    changed = true;
                }
            }
        }
    }
    let own = label[seed as usize];
    (0..size * size)
        .filter(|t| belongs[*t as usize] && label[*t as usize] == own)
        .collect()
}

fn set(selection: &ganosis_editing::regions::Selection) -> BTreeSet<u32> {
    selection.texels().iter().copied().collect()
}

#[test]
fn a_fill_by_band_is_the_connected_component() {
    let size = 48;
    // The plane's pieces end within texels; the cylinder's first and last column meet.
    let cylinder = surface(vec![grid(0, [30, 7], WHOLE, |s, t| {
        let angle = if s == 1.0 { 0.0 } else { s * TAU };
        Vec3::new(angle.cos(), 1.0 - 2.0 * t, -angle.sin()) * 0.1
    })]);
    for (surface, wraps) in [(plane(0.1, 7), false), (cylinder, true)] {
        let (geometry, _) = canvas(&surface, size);
        let mut parts = 0;
        for seed in 1..12 {
            let values: Vec<u16> = hills(size, seed)
                .iter()
                .map(|v| (v * 4095.0) as u16)
                .collect();
            let image = BandImage {
                width_px: size,
                height_px: size,
                values: &values,
                full_scale: 4095,
            };
            let range = [0.45, 0.7];
            let belongs: Vec<bool> = values
                .iter()
                .map(|v| (range[0]..=range[1]).contains(&(f64::from(*v) / 4095.0)))
                .collect();
            let everywhere =
                geometry.fill_by_band(&[Some(image)], 0, range, Extent::Everywhere, &all);
            let whole: BTreeSet<u32> = (0..size * size).filter(|t| belongs[*t as usize]).collect();
            assert_eq!(set(&everywhere), whole);
            for start in (0..size * size).step_by(97) {
                let got =
                    geometry.fill_by_band(&[Some(image)], start, range, Extent::Connected, &all);
                let wanted = match belongs[start as usize] {
                    true => component(size, &belongs, start, wraps),
                    false => BTreeSet::new(),
                };
                assert_eq!(set(&got), wanted, "{wraps} {seed} {start}");
                parts += usize::from(!wanted.is_empty() && wanted.len() < whole.len());
            }
        }
        assert!(parts > 20, "the case is too easy: {parts}");
    }
}

#[test]
fn a_fill_by_colour_takes_what_differs_by_no_more_than_the_tolerance() {
    let size = 40;
    let (geometry, _) = canvas(&plane(0.1, 3), size);
    let heights = hills(size, 5);
    let codes: Vec<[u8; 4]> = heights
        .iter()
        .map(|h| [(90.0 + 120.0 * h) as u8, (160.0 - 90.0 * h) as u8, 70, 255])
        .collect();
    // Every texel twice as wide and three times as high.
    let rgba: Vec<u8> = (0..size * 3)
        .flat_map(|y| (0..size * 2).map(move |x| (x / 2, y / 3)))
        .flat_map(|(x, y)| codes[(y * size + x) as usize])
        .collect();
    let image = ColourImage {
        width_px: size * 2,
        height_px: size * 3,
        rgba: &rgba,
        display_p3: false,
    };
    let lab = |t: u32| -> LabD50 {
        let [r, g, b, _] = codes[t as usize];
        Encoded::<Srgb>::from_u8([r, g, b]).into()
    };
    let mut part = 0;
    for seed in [5 * size + 5, 20 * size + 11, 33 * size + 30] {
        let (sx, sy) = ((seed % size) as i32, (seed / size) as i32);
        let near: Vec<u32> = (0..size * size)
            .filter(|t| ((t % size) as i32 - sx).abs() + ((t / size) as i32 - sy).abs() <= 2)
            .collect();
        assert_eq!(near.len(), 13);
        let mean = |k: usize| near.iter().map(|t| lab(*t).to_array()[k]).sum::<f64>() / 13.0;
        let mean = LabD50::from_array([mean(0), mean(1), mean(2)]);
        for tolerance in [3.0, 8.0] {
            let belongs: Vec<bool> = (0..size * size)
                .map(|t| t == seed || delta_e_2000(mean, lab(t)) <= tolerance)
                .collect();
            let wanted = component(size, &belongs, seed, false);
            let got =
                geometry.fill_by_colour(&[Some(image)], seed, tolerance, Extent::Connected, &all);
            assert_eq!(set(&got), wanted, "{seed} {tolerance}");
            let everywhere =
                geometry.fill_by_colour(&[Some(image)], seed, tolerance, Extent::Everywhere, &all);
            assert_eq!(
                everywhere.texels().len(),
                belongs.iter().filter(|b| **b).count()
            );
            part += usize::from(wanted.len() > 20 && wanted.len() < everywhere.texels().len());
        }
    }
    assert!(part > 0, "the case is too easy");
}

#[test]
fn what_has_no_colour_is_never_filled() {
    let (geometry, _) = canvas(&plane(0.1, 1), 4);
    let mut rgba = vec![200; 64];
    // A transparent wall in the second column.
    (0..4).for_each(|row| rgba[(row * 4 + 1) * 4 + 3] = 0);
    let image = ColourImage {
        width_px: 4,
        height_px: 4,
        rgba: &rgba,
        display_p3: true,
    };
    let fill = |seed, images: &[Option<ColourImage>]| {
        geometry.fill_by_colour(images, seed, 1.0, Extent::Connected, &all)
    };
    assert_eq!(fill(0, &[Some(image)]).texels(), [0, 4, 8, 12]);
    assert!(fill(1, &[Some(image)]).texels().is_empty());
    assert!(fill(0, &[None]).texels().is_empty() && fill(0, &[]).texels().is_empty());
    assert!(fill(u32::MAX, &[Some(image)]).texels().is_empty());
    let short = ColourImage {
        rgba: &rgba[..20],
        ..image
    };
    assert_eq!(fill(0, &[Some(short)]).texels(), [0, 4]);
}

/// A square cut into `pieces` × `pieces` charts that lie on two sheets in an order
/// made at random, turned, 2 texels apart.
fn scattered(pieces: u32, random: &mut Random) -> ganosis_surface::Surface {
    let count = pieces * pieces;
    let mut slots: Vec<u32> = (0..count).collect();
    for k in (1..count).rev() {
        slots.swap(k as usize, random.below(k + 1) as usize);
    }
    let cells = (count.div_ceil(2) as f32).sqrt().ceil();
    let mut patches = Vec::new();
    for (piece, slot) in (0..count).zip(slots) {
        let (px, py) = ((piece % pieces) as f32, (piece / pieces) as f32);
        let (sheet, slot) = ((slot % 2) as usize, (slot / 2) as f32);
        let cell = Vec2::new(slot % cells, (slot / cells).floor());
        let (low, high) = ((cell + 0.06) / cells, (cell + 0.94) / cells);
        let turned = random.below(2) == 1;
        let mut patch = grid(sheet, [4; 2], [low, high], |s, t| {
            Vec3::new(px + s, py + t, 0.0) / pieces as f32
        });
        if turned {
            let (low, high) = (low, high);
            patch.uvs.iter_mut().for_each(|uv| *uv = low + (high - *uv));
        }
        patches.push(patch);
    }
    surface(patches)
}

#[test]
fn a_fill_crosses_every_seam_and_no_gap() {
    // A spiral painted over a square of 6 × 6 charts: the values come from the
    // place in space, so that the fill is right if it follows the spiral, and only it.
    let mut random = Random(3);
    let spiral = |p: Vec3| {
        let from = Vec2::new(p.x - 0.5, p.y - 0.5);
        let turns = from.length() / 0.1 - from.y.atan2(from.x) / TAU;
        (turns.rem_euclid(1.0) < 0.6) && from.length() < 0.45
    };
    for _ in 0..4 {
        let surface = scattered(6, &mut random);
        let (geometry, _) = canvas(&surface, 400);
        let mut values = [vec![0_u16; 400 * 400], vec![0; 400 * 400]];
        let mut painted = BTreeSet::new();
        for texel in 0..geometry.texel_count() as u32 {
            if let Some(point) = geometry.point(texel)
                && spiral(point.position_m)
            {
                values[texel as usize / 160_000][texel as usize % 160_000] = 1;
                painted.insert(texel);
            }
        }
        let images = [0, 1].map(|k: usize| {
            Some(BandImage {
                width_px: 400,
                height_px: 400,
                values: &values[k],
                full_scale: 1,
            })
        });
        let seed = *painted.first().unwrap();
        let got = set(&geometry.fill_by_band(&images, seed, [0.5, 1.0], Extent::Connected, &all));
        // One spiral: all of it, but for crumbs where its end is thinner than a texel.
        let missed = painted.difference(&got).count();
        assert!(
            got.is_subset(&painted) && missed * 500 < painted.len(),
            "{missed} of {}",
            painted.len()
        );
        assert!(painted.len() > 30_000);
        // A ring of rims: two that nothing joins stay apart.
        apart(&geometry, &mut values);
    }
}

/// Rings about the middle with gaps of 0.01 between them are filled one by one.
fn apart(geometry: &TexelGeometry, values: &mut [Vec<u16>; 2]) {
    let ring = |p: Vec3| {
        let away = Vec2::new(p.x - 0.5, p.y - 0.5).length() / 0.05;
        (away.fract() < 0.7 && away < 9.0).then_some(away as u32)
    };
    let mut rings: HashMap<u32, BTreeSet<u32>> = HashMap::new();
    values.iter_mut().for_each(|v| v.fill(0));
    for texel in 0..geometry.texel_count() as u32 {
        if let Some(number) = geometry.point(texel).and_then(|p| ring(p.position_m)) {
            values[texel as usize / 160_000][texel as usize % 160_000] = 1;
            rings.entry(number).or_default().insert(texel);
        }
    }
    let images = [0, 1].map(|k: usize| {
        Some(BandImage {
            width_px: 400,
            height_px: 400,
            values: &values[k],
            full_scale: 1,
        })
    });
    assert_eq!(rings.len(), 9);
    for ring in rings.values() {
        let seed = *ring.first().unwrap();
        let got = set(&geometry.fill_by_band(&images, seed, [0.5, 1.0], Extent::Connected, &all));
        assert_eq!(&got, ring);
    }
}
