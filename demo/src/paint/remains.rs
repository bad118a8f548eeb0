//! Paint, whole and as it survives: flakes in hollows, with priming or bole at their edges.

use super::scheme::Paint;
use super::texel::Place;
use crate::maths::{cos, mix, sin, smoothstep};
use crate::noise::{fractal, value};
use crate::region::Region;
use crate::sculpt::{Part, Sculpture};
use crate::surface::mesh::Mesh;
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
pub(crate) fn fresh(seed: u32, place: &Place, paint: &Paint, usual: &Usual) -> Vec3 {
    paint.coat(coat(seed, place, paint.metal, usual))
}

/// Thickness of the coat, -1..1: it runs together in hollows and cuts, is drawn out and soon
/// rubbed at edges, and keeps the marks of the brush.
fn coat(seed: u32, place: &Place, metal: bool, usual: &Usual) -> f32 {
    let p = place.p;
    let pooled = usual.pooled(place);
    let mut edge = smoothstep(0.10, 0.60, place.lie.edge - 3.0 * place.groove);
    if place.region == Region::Petal {
        // As thin as an edge all over.
        edge *= 0.2;
    }
    let rubbed = edge * smoothstep(-0.25, 0.35, fractal(seed ^ 45, p * 1.7, 3));
    if metal {
        // Leaf lies in one thickness; laps between leaves and dull spots vary it a little.
        let leaf = fractal(seed ^ 41, p * 0.8, 3);
        return 0.8 * pooled + 0.35 * leaf - 0.9 * rubbed;
    }
    let (along, across) = strokes(place);
    let brush = fractal(seed ^ 42, along, 3);
    let hair = value(seed ^ 46, across);
    let load = fractal(seed ^ 47, p * 0.55, 3);
    let hand = 0.34 * brush + 0.14 * hair + 0.22 * load;
    if matches!(place.region, Region::Eye | Region::Pupil) {
        // A touch of the brush each.
        return 0.4 * (hand + pooled);
    }
    pooled + hand - 0.35 * edge - 0.60 * rubbed + drawing(place)
}

/// Places in the noise of the brush and of its hairs: long along a stroke, fine across it. On the
/// rim strokes run round, elsewhere across the block.
fn strokes(place: &Place) -> (Vec3, Vec3) {
    let p = place.p;
    match place.region {
        Region::Roll | Region::Hollow | Region::Fillet => {
            let out = p.truncate().length() + 0.7 * p.z;
            let round = |fine: f32| Vec3::new(p.x * 0.5, p.y * 0.5, out * fine);
            (round(2.4), round(9.0))
        }
        _ => (p * Vec3::new(1.2, 4.2, 1.2), p * Vec3::new(3.0, 17.0, 3.0)),
    }
}

/// How much a coat gathers in the usual place of each region: the palette gives the colour of that
/// coat, and only what gathers more is thicker.
#[derive(Debug, Clone)]
pub(crate) struct Usual([f32; Region::ALL.len()]);

impl Usual {
    /// Found over the vertices of the carving; a little below the median, for hollows are many.
    pub(crate) fn of(sculpture: &Sculpture, boss: &Mesh) -> Self {
        let mut found = vec![Vec::new(); Region::ALL.len()];
        // Every eleventh vertex: enough for a median, and soon done.
        for (p, lie) in boss.positions.iter().zip(&boss.lie).step_by(11) {
            let region = sculpture.sample(Part::Boss, *p).region;
            found[region.index()].push(lie.gather);
        }
        let mut usual = [0.0; Region::ALL.len()];
        for (usual, list) in usual.iter_mut().zip(&mut found) {
            list.sort_unstable_by(f32::total_cmp);
            *usual = list.get(list.len() * 9 / 20).copied().unwrap_or(0.0);
        }
        Self(usual)
    }

    /// How far a coat, or dirt, gathers at a place, 0..1.
    pub(crate) fn pooled(&self, place: &Place) -> f32 {
        let usual = self.0[place.region.index()];
        let more = place.lie.gather - usual + 4.0 * place.groove;
        smoothstep(0.02, 0.62 * (1.0 - 0.5 * usual), more)
    }
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
            0.34 * smoothstep(0.75, 0.2, vein) - 0.8 * line
        }
        // Roots deepest, and a stroke along the margins where petals meet.
        Region::Petal => {
            0.95 * smoothstep(0.50, 0.05, place.u) + 1.1 * smoothstep(0.74, 1.0, place.v.abs())
        }
        Region::Water => -0.45 * crate::sculpt::block::waves(place.p),
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
