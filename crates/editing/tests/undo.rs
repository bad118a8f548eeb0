//! Steps taken back and made again.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::{Random, canvas, grid, surface};
use ganosis_editing::regions::{BandImage, Changes, Extent, Over, RegionMaps, StrokePoint};
use glam::{Vec2, Vec3};

fn all(_: usize) -> bool {
    true
}

#[test]
fn steps_taken_back_in_any_depth_give_the_maps_of_before_bit_for_bit() {
    let half = |k: usize| {
        grid(
            k,
            [6; 2],
            [Vec2::splat(0.05), Vec2::splat(0.95)],
            move |s, t| Vec3::new((k as f32 + s) * 0.1, t * 0.1, 0.01 * (s * 9.0).sin()),
        )
    };
    let (geometry, mut maps) = canvas(&surface(vec![half(0), half(1)]), 70);
    let values: Vec<u16> = (0..4900).map(|k| (k % 70 * k / 70 % 100) as u16).collect();
    let band = Some(BandImage {
        width_px: 70,
        height_px: 70,
        values: &values,
        full_scale: 100,
    });
    let mut random = Random(77);
    let mut kept: Vec<RegionMaps> = vec![maps.clone()];
    let mut steps: Vec<Changes> = Vec::new();
    for _ in 0..400 {
        if random.below(4) == 0 {
            // Back by some steps, compared at each, and forth again by fewer.
            let back = random.below(steps.len().min(12) as u32 + 1) as usize;
            let at = steps.len() - back;
            for k in (at..steps.len()).rev() {
                steps[k].undo(&mut maps);
                assert_eq!(maps, kept[k]);
            }
            let forth = random.below(back as u32 + 1) as usize;
            for k in at..at + forth {
                steps[k].redo(&mut maps);
                assert_eq!(maps, kept[k + 1]);
            }
            steps.truncate(at + forth);
            kept.truncate(at + forth + 1);
        }
        let number = random.below(6) as u16 * 60;
        let over = match random.below(3) {
            0 => Over::Free,
            1 => Over::All,
            _ => Over::Numbers(vec![0, 60, 120]),
        };
        let changes = match random.below(5) {
            0 => {
                let grown = geometry.grown(&maps, number, 0.004, &over);
                maps.paint(&grown, number, &over)
            }
            1 => {
                let shrunk = geometry.shrunk(&maps, number, 0.003);
                maps.paint(&shrunk, 0, &Over::All)
            }
            2 => maps.assign(random.below(6) as u16 * 60, number),
            3 => {
                let seed = random.below(9800);
                let fill =
                    geometry.fill_by_band(&[band, band], seed, [0.2, 0.7], Extent::Connected, &all);
                maps.paint(&fill, number, &over)
            }
            _ => {
                let mut place = || {
                    let position_m = Vec3::new(random.part() * 0.2, random.part() * 0.1, 0.0);
                    StrokePoint {
                        position_m,
                        normal: Vec3::ZERO,
                    }
                };
                let stroke = geometry.stroke(&[place(), place()], 0.015, &all);
                maps.paint(&stroke, number, &over)
            }
        };
        // The rectangles hold all that changed, and no more than they need to.
        let before = kept.last().unwrap();
        for (k, (old, new)) in before.maps.iter().zip(&maps.maps).enumerate() {
            let differing =
                (0..4900_u32).filter(|t| old.labels[*t as usize] != new.labels[*t as usize]);
            let places: Vec<(u32, u32)> = differing.map(|t| (t % 70, t / 70)).collect();
            let change = changes.maps.iter().find(|m| m.map == k);
            assert_eq!(change.is_some(), !places.is_empty());
            if let Some(rect) = change.map(|m| m.rect) {
                let x = places.iter().map(|p| p.0);
                let y = places.iter().map(|p| p.1);
                assert_eq!(
                    (rect.x, rect.y),
                    (x.clone().min().unwrap(), y.clone().min().unwrap())
                );
                let end = (rect.x + rect.width - 1, rect.y + rect.height - 1);
                assert_eq!(end, (x.max().unwrap(), y.max().unwrap()));
            }
        }
        steps.push(changes);
        kept.push(maps.clone());
    }
    let done = steps.iter().filter(|s| !s.is_empty()).count();
    assert!(done > 60, "{done} steps changed something");
    steps.iter().rev().for_each(|step| step.undo(&mut maps));
    assert_eq!(maps, kept[0]);
}
