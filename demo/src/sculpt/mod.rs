//! The sculpture as a signed distance: what is stone, and what part of the carving it is.
//!
//! Lengths are centimetres; x to the right, y up, z to the viewer, the axis of the boss is z.

pub(crate) mod block;
pub(crate) mod heron;
pub(crate) mod plants;
pub(crate) mod shapes;
pub(crate) mod wear;

use crate::maths::{smooth_min, smoothstep};
use crate::region::Region;
use glam::Vec3;

/// The sculpture at a point.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sample {
    /// Signed distance in centimetres, negative inside; a bound, not always exact.
    pub(crate) d: f32,
    /// What the nearest stone is.
    pub(crate) region: Region,
    /// First local coordinate; its meaning is the region's own.
    pub(crate) u: f32,
    /// Second local coordinate.
    pub(crate) v: f32,
    /// Stone lost here since the carving, centimetres.
    pub(crate) lost: f32,
}

impl Sample {
    pub(crate) fn new(d: f32, region: Region, u: f32, v: f32) -> Self {
        Self {
            d,
            region,
            u,
            v,
            lost: 0.0,
        }
    }

    /// Adds another body; the seam is rounded over `k` centimetres (as a carver leaves it).
    pub(crate) fn join(&mut self, other: Self, k: f32) {
        let d = smooth_min(self.d, other.d, k);
        if other.d < self.d {
            *self = other;
        }
        self.d = d;
    }
}

/// Which solid to evaluate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    /// The boss as it is: the bill is a stump.
    Boss,
    /// The lost bill, from the fracture on.
    Bill,
}

/// The whole carving.
#[derive(Debug)]
pub(crate) struct Sculpture {
    plants: plants::Plants,
    heron: heron::Heron,
    wear: wear::Wear,
}

impl Sculpture {
    /// Sets everything up from a seed.
    pub(crate) fn new(seed: u64) -> Self {
        Self {
            plants: plants::Plants::new(),
            heron: heron::Heron::new(),
            wear: wear::Wear::new(seed),
        }
    }

    /// Evaluates one solid.
    pub(crate) fn sample(&self, part: Part, p: Vec3) -> Sample {
        match part {
            Part::Bill => self.heron.restored_bill(p),
            Part::Boss => {
                let mut s = block::sample(p);
                self.plants.add(p, &mut s);
                self.heron.add(p, &mut s);
                self.wear.apply(p, &mut s);
                s
            }
        }
    }

    /// Signed distance alone.
    pub(crate) fn distance(&self, part: Part, p: Vec3) -> f32 {
        self.sample(part, p).d
    }

    /// Outward unit normal from central differences over `step` centimetres.
    pub(crate) fn normal(&self, part: Part, p: Vec3, step: f32) -> Vec3 {
        let along = |axis: Vec3| {
            self.distance(part, p + axis * step) - self.distance(part, p - axis * step)
        };
        Vec3::new(along(Vec3::X), along(Vec3::Y), along(Vec3::Z)).normalize_or(Vec3::Z)
    }

    /// How bare a break is at a point: 1 on the floor of a chip or on the fracture of the bill.
    pub(crate) fn breakage(&self, p: Vec3, s: &Sample) -> f32 {
        smoothstep(0.02, 0.10, s.lost).max(self.heron.fracture(p))
    }
}
