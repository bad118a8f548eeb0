//! Stone: a warm grey shelly limestone with bedding, stains, dirt in hollows, soot and lichen.

use super::texel::{Place, tool_marks};
use crate::maths::{mix, smoothstep};
use crate::noise::{cells, fractal, value};
use crate::region::Region;
use glam::Vec3;

/// Stone at a place.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stone {
    /// Linear sRGB of the clean, carved stone.
    pub(crate) clean: Vec3,
    /// Linear sRGB as found.
    pub(crate) found: Vec3,
    /// Dirt and soot, 0..1.
    pub(crate) dirt: f32,
}

// Colours of the stone in linear sRGB, chosen by eye for the picture (invented object).
const LIGHT: Vec3 = Vec3::new(0.60, 0.53, 0.42);
const DARK: Vec3 = Vec3::new(0.37, 0.315, 0.235);
const BROKEN: Vec3 = Vec3::new(0.74, 0.69, 0.585);
const DIRT: Vec3 = Vec3::new(0.085, 0.068, 0.05);
const SOOT: Vec3 = Vec3::new(0.040, 0.037, 0.035);
const RUST: Vec3 = Vec3::new(0.40, 0.245, 0.115);
const LICHEN_GREY: Vec3 = Vec3::new(0.44, 0.47, 0.385);
const LICHEN_OCHRE: Vec3 = Vec3::new(0.55, 0.36, 0.09);

impl Stone {
    /// Linear sRGB of bare stone after cleaning: some dirt stays in hollows (0..1).
    pub(crate) fn bare(&self, hollow: f32) -> Vec3 {
        self.clean.lerp(DIRT, 0.42 * hollow)
    }
}

/// How strongly the marks of the claw chisel show: figures were rubbed smooth.
fn tooling(region: Region) -> f32 {
    match region {
        Region::Bed => 0.24,
        Region::LeafUnder | Region::Water => 0.17,
        Region::LeafUpper | Region::Hollow | Region::Roll => 0.085,
        _ => 0.05,
    }
}

/// The stone itself.
pub(crate) fn stone(seed: u32, place: &Place) -> Stone {
    let p = place.p;
    let cloud = fractal(seed ^ 11, p * 0.22, 4);
    // The natural bed lies across the block, as it should under load.
    let bed = fractal(
        seed ^ 12,
        Vec3::new(p.x * 0.12, p.y * 0.12, p.z * 1.6 + 0.9 * cloud),
        3,
    );
    let mut clean = DARK.lerp(LIGHT, (0.55 + 0.75 * cloud + 0.5 * bed).clamp(0.0, 1.0));
    let ooid = cells(seed ^ 13, p * 9.0);
    clean *= 1.0 + 0.10 * smoothstep(0.5, 0.1, ooid.distance) - 0.05;
    clean *= 1.0 + 0.08 * fractal(seed ^ 14, p * 16.0, 2);
    let shell = cells(seed ^ 15, p * Vec3::new(2.6, 1.7, 3.4));
    if shell.id.is_multiple_of(6) {
        let crescent = smoothstep(0.10, 0.02, (shell.distance - 0.2).abs())
            * smoothstep(0.0, 0.3, value(seed ^ 17, p * 3.1));
        clean = clean.lerp(BROKEN, 0.30 * crescent);
    }
    clean *= 1.0 + tooling(place.region) * tool_marks(seed ^ 16, place);
    clean *= 1.0 - 2.0 * place.groove.clamp(-0.08, 0.12);
    let found = weathered(seed, place, clean);
    Stone {
        clean,
        found: found.0,
        dirt: found.1,
    }
}

fn weathered(seed: u32, place: &Place, clean: Vec3) -> (Vec3, f32) {
    let p = place.p;
    let shelter = 1.0 - place.openness;
    let mottle = fractal(seed ^ 21, p * 0.9, 4);
    let mut c = clean;
    let rust = smoothstep(0.12, 0.45, fractal(seed ^ 22, p * 0.32, 4));
    c = c.lerp(RUST * clean / LIGHT * 1.35, 0.42 * rust);
    let hollow = place.hollow + 3.0 * place.groove;
    let dirt = smoothstep(
        -0.12,
        0.62,
        0.70 * hollow + 0.62 * shelter + 0.34 * mottle - 0.06,
    );
    c = c.lerp(DIRT, 0.86 * dirt);
    // Smoke of lamps rose from below: soot on what faces down, and drifting to one side.
    let down = smoothstep(0.15, -0.85, place.n.y);
    let drift = smoothstep(
        -0.1,
        0.5,
        fractal(seed ^ 23, p * Vec3::new(0.16, 0.10, 0.16), 4) + 0.25 * down,
    );
    let soot = 0.72 * drift * mix(0.35, 1.0, down);
    c = c.lerp(SOOT, soot);
    let worn = smoothstep(0.05, 0.55, -place.hollow - 0.25 * mottle) * (1.0 - drift * 0.5);
    c = c.lerp(clean * 1.10, 0.5 * worn);
    c = lichen(seed, place, c);
    let grain = 1.0 + 0.12 * value(seed ^ 26, p * 34.0);
    let age = smoothstep(0.2, -0.2, fractal(seed ^ 29, p * 0.11, 2));
    let face = BROKEN * grain * (1.0 + 0.22 * fractal(seed ^ 30, p * 4.0, 3));
    c = c.lerp(face, place.fresh * mix(0.25, 0.85, age));
    (c, (dirt + soot).min(1.0) * (1.0 - place.fresh))
}

/// Rosettes of lichen from the years in the churchyard, on the upper left and the sides.
fn lichen(seed: u32, place: &Place, c: Vec3) -> Vec3 {
    let p = place.p;
    let side = smoothstep(
        -2.0,
        20.0,
        -p.x + p.y * 0.7 + 10.0 * fractal(seed ^ 24, p * 0.2, 3),
    );
    let habitat = side * smoothstep(0.35, 0.7, place.openness);
    let spot = cells(seed ^ 25, p * 0.62);
    let size = 0.10 + 0.30 * ((spot.id & 255) as f32 / 255.0) * habitat;
    let ragged = spot.distance + 0.09 * fractal(seed ^ 27, p * 3.2, 3);
    if habitat < 0.25 || spot.id.is_multiple_of(3) {
        return c;
    }
    let body = smoothstep(size, size - 0.05, ragged);
    let ring = smoothstep(0.09, 0.0, (ragged - size + 0.05).abs());
    let tint = if spot.id % 7 == 1 {
        LICHEN_OCHRE
    } else {
        LICHEN_GREY
    };
    let speckle = 0.86 + 0.24 * value(seed ^ 28, p * 21.0);
    c.lerp(tint * speckle, 0.62 * body)
        .lerp(tint * 1.18, 0.35 * ring * body)
}
