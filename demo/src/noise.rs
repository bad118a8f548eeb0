//! A small hash, a small generator of random numbers, and noise in space, all from one seed.

use crate::maths::mix;
use glam::Vec3;

/// Mixes a number well. The finaliser of MurmurHash3 (public domain, A. Appleby).
pub(crate) fn scramble(mut x: u32) -> u32 {
    x ^= x >> 16;
    x = x.wrapping_mul(0x85eb_ca6b);
    x ^= x >> 13;
    x = x.wrapping_mul(0xc2b2_ae35);
    x ^ (x >> 16)
}

/// A hash of a lattice point.
fn lattice(seed: u32, x: i32, y: i32, z: i32) -> u32 {
    let mut h = seed;
    for c in [x, y, z] {
        h = scramble(h ^ (c as u32).wrapping_mul(0x9e37_79b1));
    }
    h
}

fn unit(h: u32) -> f32 {
    (h >> 8) as f32 * (1.0 / 16_777_216.0)
}

/// A generator of random numbers: a counter through [`scramble`].
#[derive(Debug, Clone)]
pub(crate) struct Random {
    key: u32,
    count: u32,
}

impl Random {
    /// A generator for one purpose; different purposes give unrelated numbers.
    pub(crate) fn new(seed: u64, purpose: &str) -> Self {
        let mut key = scramble(seed as u32 ^ scramble((seed >> 32) as u32));
        for b in purpose.bytes() {
            key = scramble(key ^ u32::from(b));
        }
        Self { key, count: 0 }
    }

    /// The next 32 bits.
    pub(crate) fn bits(&mut self) -> u32 {
        self.count = self.count.wrapping_add(1);
        scramble(self.key ^ scramble(self.count))
    }

    /// A number in 0..1.
    pub(crate) fn unit(&mut self) -> f32 {
        unit(self.bits())
    }

    /// A number between two others.
    pub(crate) fn between(&mut self, low: f32, high: f32) -> f32 {
        mix(low, high, self.unit())
    }

    /// A number near 0 with standard deviation 1 (sum of twelve uniform ones).
    pub(crate) fn bell(&mut self) -> f32 {
        (0..12).map(|_| self.unit()).sum::<f32>() - 6.0
    }
}

/// Value noise in space, -1..1, smooth, with features of size 1.
pub(crate) fn value(seed: u32, p: Vec3) -> f32 {
    let f = p.floor();
    let (x, y, z) = (f.x as i32, f.y as i32, f.z as i32);
    let t = p - f;
    let s = t * t * (Vec3::splat(3.0) - 2.0 * t);
    let c = |i, j, k| unit(lattice(seed, x + i, y + j, z + k));
    let plane = |k| {
        mix(
            mix(c(0, 0, k), c(1, 0, k), s.x),
            mix(c(0, 1, k), c(1, 1, k), s.x),
            s.y,
        )
    };
    mix(plane(0), plane(1), s.z) * 2.0 - 1.0
}

/// Several octaves of value noise, about -1..1.
pub(crate) fn fractal(seed: u32, mut p: Vec3, octaves: u32) -> f32 {
    let mut sum = 0.0;
    let mut weight = 0.5;
    for octave in 0..octaves {
        sum += weight * value(seed.wrapping_add(octave), p);
        // A factor off 2 and an offset keep the lattices of the octaves apart.
        p = p * 2.03 + Vec3::new(17.1, 9.7, 31.3);
        weight *= 0.5;
    }
    sum
}

/// The nearest of scattered points, one in each unit cell.
pub(crate) struct Cell {
    /// Distance to the nearest point.
    pub(crate) distance: f32,
    /// Distance to the second nearest.
    pub(crate) second: f32,
    /// A hash that is the cell's own.
    pub(crate) id: u32,
}

/// Cellular noise with cells of size 1.
pub(crate) fn cells(seed: u32, p: Vec3) -> Cell {
    let f = p.floor();
    let mut best = Cell {
        distance: f32::MAX,
        second: f32::MAX,
        id: 0,
    };
    for k in -1..=1 {
        for j in -1..=1 {
            for i in -1..=1 {
                let (x, y, z) = (f.x as i32 + i, f.y as i32 + j, f.z as i32 + k);
                let h = lattice(seed, x, y, z);
                let q = Vec3::new(x as f32, y as f32, z as f32)
                    + Vec3::new(unit(h), unit(scramble(h ^ 1)), unit(scramble(h ^ 2)));
                let d = q.distance(p);
                if d < best.distance {
                    best.second = best.distance;
                    best.distance = d;
                    best.id = h;
                } else if d < best.second {
                    best.second = d;
                }
            }
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mixer_gives_the_published_finaliser_values() {
        // MurmurHash3 fmix32 as published by A. Appleby (smhasher, public domain): 0 maps to 0,
        // and the map is one to one; the value for 1 is from memory of common test vectors.
        assert_eq!(scramble(0), 0);
        assert_eq!(scramble(1), 0x514e_28b7);
    }

    #[test]
    fn noise_stays_within_its_range_and_is_not_constant() {
        let mut random = Random::new(3, "noise test");
        let (mut low, mut high) = (f32::MAX, f32::MIN);
        for _ in 0..2000 {
            let p = Vec3::new(random.unit(), random.unit(), random.unit()) * 40.0;
            let v = value(7, p);
            low = low.min(v);
            high = high.max(v);
        }
        assert!(low >= -1.0 && high <= 1.0 && low < -0.6 && high > 0.6);
    }
}
