//! What six and a half centuries did: chips at exposed edges, and a softened surface.

use super::Sample;
use crate::maths::{cos, sin, smooth_max};
use crate::noise::{Random, fractal, scramble, value};
use crate::region::Region;
use glam::Vec3;
use std::f32::consts::TAU;

/// A bite out of the stone.
#[derive(Debug, Clone, Copy)]
struct Chip {
    centre: Vec3,
    radius: f32,
}

/// Single knocks on leaves and reeds: x, y, z, radius.
const KNOCKS: [[f32; 4]; 7] = [
    [-14.1, 9.0, 3.6, 1.0],
    [-15.4, -3.2, 3.3, 0.9],
    [-11.0, -13.4, 3.7, 1.0],
    [13.2, -11.8, 4.0, 1.1],
    [15.3, 1.6, 3.2, 0.9],
    [8.6, 14.4, 2.6, 0.9],
    [-5.6, 14.4, 2.6, 0.8],
];

/// All the damage.
#[derive(Debug)]
pub(crate) struct Wear {
    chips: Vec<Chip>,
    seed: u32,
}

/// Angles (degrees from +x) where the rim was hit hard: old damage that the texts refer to.
const BLOWS_DEG: [f32; 5] = [-38.0, -61.0, 118.0, 171.0, 24.0];

impl Wear {
    pub(crate) fn new(seed: u64) -> Self {
        let mut random = Random::new(seed, "chips");
        let mut chips = Vec::new();
        let mut bite = |angle: f32, r: f32, z: f32, radius: f32| {
            chips.push(Chip {
                centre: Vec3::new(r * cos(angle), r * sin(angle), z),
                radius,
            });
        };
        for blow in BLOWS_DEG {
            let angle = blow.to_radians();
            for _ in 0..4 {
                let a = angle + random.between(-0.07, 0.07);
                bite(
                    a,
                    random.between(20.4, 21.5),
                    random.between(0.2, 1.8),
                    random.between(0.7, 1.5),
                );
            }
        }
        for _ in 0..26 {
            let angle = random.between(0.0, TAU);
            bite(
                angle,
                random.between(20.7, 21.3),
                random.between(0.2, 1.7),
                random.between(0.35, 0.8),
            );
        }
        for _ in 0..9 {
            let angle = random.between(0.0, TAU);
            bite(
                angle,
                random.between(16.2, 16.9),
                random.between(0.85, 1.2),
                random.between(0.3, 0.55),
            );
        }
        for [x, y, z, radius] in KNOCKS {
            chips.push(Chip {
                centre: Vec3::new(x, y, z),
                radius,
            });
        }
        Self {
            chips,
            seed: scramble(seed as u32 ^ 0x77),
        }
    }

    fn chip_distance(&self, chip: &Chip, p: Vec3) -> f32 {
        p.distance(chip.centre) - chip.radius
    }

    fn rough(&self, p: Vec3) -> f32 {
        0.22 * fractal(self.seed, p * 1.6, 3)
    }

    /// Wears a sample. Damage only takes stone away, but for a roughness of some tenths of a
    /// millimetre.
    pub(crate) fn apply(&self, p: Vec3, s: &mut Sample) {
        if s.d.abs() > 1.6 {
            return;
        }
        let carved = !matches!(s.region, Region::Bed);
        let amount = if carved { 0.035 } else { 0.10 };
        let mut d = s.d + amount * fractal(self.seed ^ 5, p * 0.8, 3);
        if !carved {
            // Rough dressing with the point: shallow pecked rows.
            d += 0.04 * value(self.seed ^ 9, p * 2.0);
        }
        let whole = d;
        for chip in &self.chips {
            let c = self.chip_distance(chip, p);
            if c < 0.8 {
                d = smooth_max(d, -(c + self.rough(p)), 0.08);
            }
        }
        s.lost = d - whole;
        s.d = d;
    }
}
