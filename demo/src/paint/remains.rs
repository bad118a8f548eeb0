//! Paint, whole and as it survives: flakes in hollows, with priming or bole at their edges.

use super::scheme::Paint;
use super::texel::Place;
use crate::maths::{cos, mix, sin, smoothstep};
use crate::noise::{fractal, value};
use crate::region::Region;
use glam::Vec3;

/// How much of a place is still painted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Survival {
    /// Top paint, 0..1.
    pub(crate) paint: f32,
    /// Priming (or bole under gold) laid bare around the flakes, 0..1.
    pub(crate) under: f32,
}

/// How well the paint held, by region: sheltered, well bound, or rubbed away.
fn hold(region: Region) -> f32 {
    match region {
        Region::Bed => -9.0,
        Region::Hollow => -0.34,
        Region::Pellet => 0.10,
        Region::Fillet | Region::Crest | Region::Eye | Region::Pupil => 0.12,
        Region::LeafUnder => -0.30,
        Region::Water => -0.36,
        Region::Petal | Region::Heart => 0.06,
        Region::Roll => 0.02,
        _ => 0.10,
    }
}

/// What survives at a place.
pub(crate) fn survival(seed: u32, place: &Place) -> Survival {
    let p = place.p;
    let big = fractal(seed ^ 31, p * 0.42, 3);
    let small = fractal(seed ^ 32, p * 2.1, 4);
    let fleck = fractal(seed ^ 33, p * 9.0, 2);
    let shelter = 0.85 * place.hollow + 0.62 * (0.62 - place.openness) + 4.5 * place.groove;
    let s = shelter + hold(place.region) + 0.66 * big + 0.62 * small + 0.34 * fleck
        - 0.22
        - 2.0 * place.fresh;
    Survival {
        paint: smoothstep(0.0, 0.035, s),
        under: smoothstep(-0.085, -0.05, s + 0.06 * fleck) * 0.85,
    }
}

/// The colour of fresh paint at a place: that of the palette, with what a hand and a carved
/// surface do to a coat. No light or shade: a reconstruction is a colour, not a photograph.
pub(crate) fn fresh(seed: u32, place: &Place, paint: &Paint) -> Vec3 {
    paint.coat(coat(seed, place, paint.metal))
}

/// Thickness of the coat, -1..1: it runs together in hollows and cuts, is drawn out and soon
/// rubbed at edges, and keeps the marks of the brush.
fn coat(seed: u32, place: &Place, metal: bool) -> f32 {
    let p = place.p;
    let pooled = pooled(place);
    let edge = smoothstep(0.10, 0.45, -place.hollow - 1.5 * place.groove);
    let rubbed = edge * smoothstep(-0.25, 0.35, fractal(seed ^ 45, p * 1.7, 3));
    if metal {
        // Leaf lies in one thickness; laps between leaves and dull spots vary it a little.
        let leaf = fractal(seed ^ 41, p * 0.8, 3);
        return 0.8 * pooled + 0.35 * leaf - 0.9 * rubbed;
    }
    // Strokes follow the form: long across the steepest way down, fine along it.
    let brush = fractal(seed ^ 42, p * Vec3::new(1.2, 4.2, 1.2), 3);
    let hair = value(seed ^ 46, p * Vec3::new(3.0, 17.0, 3.0));
    pooled + 0.30 * brush + 0.10 * hair - 0.30 * edge - 0.55 * rubbed + drawing(place)
}

/// How far a coat, or dirt, gathers at a place, 0..1.
pub(crate) fn pooled(place: &Place) -> f32 {
    smoothstep(0.04, 0.55, place.hollow + 5.0 * place.groove)
}

/// Where the painter laid a second stroke: between the veins of leaves, at the roots of petals,
/// in the troughs of the water. As thickness of the coat.
fn drawing(place: &Place) -> f32 {
    match place.region {
        Region::LeafUpper => {
            // Thirteen lobes, as they are carved.
            let vein = (cos((place.u - std::f32::consts::PI) * 6.5)).abs();
            let line = smoothstep(0.10, 0.03, (1.0 - vein * vein).sqrt() * place.v)
                * smoothstep(0.06, 0.2, place.v);
            0.45 * smoothstep(0.75, 0.2, vein) - 0.8 * line
        }
        Region::Petal => 0.35 * smoothstep(0.55, 0.1, place.u),
        Region::Water => -0.55 * crate::sculpt::block::waves(place.p),
        Region::Reed | Region::Bud => 0.5 * (0.45 - place.u),
        _ => 0.0,
    }
}

/// Light and shade of the carving that any photograph in even light shows: for the photographs
/// of the survey only. Open places keep the full colour.
pub(crate) fn modelling(place: &Place) -> f32 {
    let open = smoothstep(0.05, 0.72, place.openness);
    let groove = 1.0 - 2.6 * place.groove.clamp(0.0, 0.12);
    let hollow = 1.0 - 0.14 * smoothstep(0.15, 0.8, place.hollow);
    mix(0.34, 1.0, open) * groove * hollow
}

/// Old paint: patchily darkened, rubbed thin where it stands proud, with pinholes.
pub(crate) fn aged(seed: u32, place: &Place, fresh: Vec3) -> Vec3 {
    let p = place.p;
    let cloud = fractal(seed ^ 43, p * 0.7, 4);
    let grain = fractal(seed ^ 44, p * 7.0, 3);
    let dull = Vec3::splat(fresh.dot(Vec3::new(0.2126, 0.7152, 0.0722)));
    let c = fresh.lerp(dull, 0.20 + 0.25 * smoothstep(-0.2, 0.4, cloud));
    let thin = smoothstep(0.1, 0.5, grain - 0.4 * place.hollow);
    let stone = Vec3::new(0.36, 0.31, 0.235);
    c.lerp(stone, 0.55 * thin) * (0.86 + 0.45 * cloud + 0.28 * grain)
}

/// The light of the survey: lamps all round, a little more from above and from the left.
pub(crate) fn even_light(place: &Place) -> f32 {
    0.94 + 0.16 * place.n.dot(Vec3::new(-0.45, 0.80, 0.39))
}

/// The carbon-black drawing that set the carving out for the painter; seen in the infrared.
pub(crate) fn underdrawing(place: &Place) -> f32 {
    let line = |x: f32| smoothstep(0.075, 0.03, x.abs());
    let r = place.p.truncate().length();
    match place.region {
        Region::Water => line(r - 9.0)
            .max(line(r - 13.5))
            .max(line(place.p.x))
            .max(line(place.p.y)),
        Region::Body | Region::Neck => line(sin(place.p.x * 1.3 - place.p.y * 2.3) * 0.35),
        Region::LeafUpper => line((place.v - 0.66) * 4.0),
        _ => 0.0,
    }
}
