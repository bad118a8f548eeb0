//! The block: tapered drum, domed field carved as water, and moulded rim.

use super::Sample;
use super::shapes::meet;
use crate::maths::{atan2, cos, sin, smooth_max, smooth_min};
use crate::region::Region;
use glam::{Vec2, Vec3};
use std::f32::consts::TAU;

/// Radius of the field inside the rim.
pub(crate) const FIELD_CM: f32 = 15.9;
/// Depth of the back behind the plane of the rim.
pub(crate) const BACK_CM: f32 = 6.6;

/// Height of the dome at a distance from the axis.
pub(crate) fn dome(r: f32) -> f32 {
    let t = r / 15.5;
    2.6 * (1.0 - t * t) - 1.0
}

/// Waves of the water: bands that sway, like the water of carved capitals; -1..1.
pub(crate) fn waves(p: Vec3) -> f32 {
    let sway = 0.55 * sin(p.x * 1.05 + 0.8 * sin(p.y * 0.31)) + 0.2 * sin(p.x * 0.43 + 1.7);
    sin((p.y + sway) * 4.1)
}

fn ring(p: Vec2, r: f32, z: f32, radius: f32) -> f32 {
    p.distance(Vec2::new(r, z)) - radius
}

/// Pellets around the rim: so many, at this radius and height, so large.
const PELLETS: f32 = 40.0;

/// The pellet nearest by angle: a ball cut with a cross, as buds are on mouldings of the time.
fn pellet(p: Vec3, r: f32, around: f32) -> Sample {
    let sector = TAU / PELLETS;
    let folded = around - sector * (around / sector).round();
    let q = Vec3::new(r * cos(folded) - 17.72, r * sin(folded), p.z + 0.22);
    let cut = 0.13 * (1.0 - (q.x.abs().min(q.y.abs()) / 0.16).min(1.0));
    Sample::new(q.length() - 0.74 + cut, Region::Pellet, q.x, q.y)
}

/// The block at a point.
pub(crate) fn sample(p: Vec3) -> Sample {
    let r = Vec2::new(p.x, p.y).length();
    let q = Vec2::new(r, p.z);
    let around = atan2(p.y, p.x);
    // Back: a drum that narrows behind the rim; 0.93 = cosine of the batter.
    let side = (r - 20.1).max((r - 20.6 - 0.42 * (p.z + 1.2)) * 0.92);
    let mut drum = meet(side, -(p.z + BACK_CM), 0.5);
    // The hole for lifting and fixing, in the back.
    let hole = meet(r - 1.6, p.z + 3.4, 0.3);
    drum = drum.max(-hole);
    let ground = dome(r) + 0.10 * waves(p);
    let front = if r < FIELD_CM {
        p.z - ground
    } else {
        p.z + 0.35
    };
    let mut best = Sample::new(meet(drum, front * 0.93, 0.05), Region::Bed, around, r);
    if r < FIELD_CM + 0.4 && p.z > -2.0 {
        best.region = Region::Water;
    }
    let hollow = ring(q, 17.75, 0.35, 1.0);
    best.d = smooth_max(best.d, -hollow, 0.12);
    if r > 16.6 && p.z > -0.9 && r < 19.2 {
        best.region = Region::Hollow;
    }
    let fillet = meet((r - 16.45).abs() - 0.5, (p.z - 0.0).abs() - 0.75, 0.24);
    best.join(Sample::new(fillet, Region::Fillet, around, r), 0.16);
    best.join(pellet(p, r, around), 0.08);
    let roll = ring(q, 19.35, 0.3, 1.5);
    let d = smooth_min(best.d, roll, 0.15);
    if roll < best.d {
        best = Sample::new(d, Region::Roll, around, r);
        if p.z < -0.9 {
            best.region = Region::Bed;
        }
    }
    best.d = best.d.min(d);
    best
}
