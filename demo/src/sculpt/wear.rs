//! What six and a half centuries did: chips at exposed edges, and a softened surface.

use super::Sample;
use crate::maths::{cos, sin, smooth_max, smoothstep};
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
        for _ in 0..16 {
            let angle = random.between(0.0, TAU);
            bite(
                angle,
                random.between(16.2, 16.9),
                random.between(0.85, 1.2),
                random.between(0.3, 0.55),
            );
        }
        for _ in 0..40 {
            let angle = random.between(0.0, TAU);
            bite(
                angle,
                random.between(7.0, 15.5),
                random.between(2.6, 4.4),
                random.between(0.35, 0.7),
            );
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

    /// The worn distance. The damage only takes stone away, except for a roughness of a tenth
    /// of a millimetre or two.
    pub(crate) fn apply(&self, p: Vec3, s: &Sample) -> f32 {
        let mut d = s.d;
        if d.abs() > 1.6 {
            return d;
        }
        let carved = !matches!(s.region, Region::Bed);
        let amount = if carved { 0.035 } else { 0.11 };
        d += amount * fractal(self.seed ^ 5, p * 0.8, 3);
        if !carved {
            // Rough dressing with the point: shallow pecked rows.
            d += 0.05 * value(self.seed ^ 9, p * 2.4);
        }
        for chip in &self.chips {
            let c = self.chip_distance(chip, p);
            if c < 0.8 {
                d = smooth_max(d, -(c + self.rough(p)), 0.08);
            }
        }
        d
    }

    /// 1 on the floor of a chip, 0 elsewhere.
    pub(crate) fn freshness(&self, p: Vec3) -> f32 {
        let mut fresh: f32 = 0.0;
        for chip in &self.chips {
            let c = self.chip_distance(chip, p);
            if c.abs() < 0.5 {
                fresh = fresh.max(smoothstep(0.16, 0.05, (c + self.rough(p)).abs()));
            }
        }
        fresh
    }
}
