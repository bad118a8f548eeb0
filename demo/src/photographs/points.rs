//! Points that somebody marks: on the surface, and in each photograph that sees them.

use super::camera::{Lens, Station};
use super::scene::Scene;
use crate::noise::Random;
use glam::{DVec2, DVec3};

/// A recognisable place of the surface.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Site {
    /// Its number, from 1.
    pub(crate) number: usize,
    /// Metres.
    pub(crate) place_m: DVec3,
    /// Unit normal.
    pub(crate) normal: DVec3,
}

/// A site as it was marked in one photograph.
#[derive(Debug, Clone)]
pub(crate) struct Marked {
    /// Name.
    pub(crate) name: String,
    /// Where it was marked.
    pub(crate) pixel: DVec2,
    /// Metres.
    pub(crate) place_m: DVec3,
    /// Whether it was marked at the wrong place.
    pub(crate) is_wrong: bool,
}

/// Sites along each side of the grid from which they are sought.
const GRID: usize = 11;
/// Points marked in a photograph.
const MARKED: usize = 24;
/// How well: one standard deviation, in pixels.
const SPREAD_PX: f32 = 0.25;
/// A wrong pair is off by this share of the width.
const WRONG_SHARE: f64 = 0.04;

/// Places all over the front.
pub(crate) fn sites(scene: &Scene, seed: u64) -> Vec<Site> {
    let mut random = Random::new(seed, "sites");
    let (low, high) = (scene.bounds.min_m.as_dvec3(), scene.bounds.max_m.as_dvec3());
    let mut sites = Vec::new();
    for k in 0..GRID * GRID {
        let mut within = |step: usize| (step as f64 + f64::from(random.unit())) / GRID as f64;
        let share = DVec2::new(within(k % GRID), within(k / GRID));
        let from = low + (high - low) * share.extend(1.0) + DVec3::Z;
        let Some(hit) = scene.hit(from, DVec3::NEG_Z) else {
            continue;
        };
        if hit.normal.z > 0.4 {
            sites.push(Site {
                number: sites.len() + 1,
                place_m: hit.position_m.as_dvec3(),
                normal: hit.normal.as_dvec3(),
            });
        }
    }
    sites
}

/// Whether a photograph shows a site, well within the picture.
pub(crate) fn seen(scene: &Scene, lens: &Lens, station: &Station, site: &Site) -> Option<DVec2> {
    let centre = station.centre_m();
    let to = site.place_m - centre;
    let camera = station.camera(site.place_m);
    if camera.z <= 0.0 || -site.normal.dot(to.normalize()) < 0.35 {
        return None;
    }
    let pixel = lens.pixel(camera);
    let size = DVec2::new(lens.width_px as f64, lens.height_px as f64);
    let margin = 0.02 * size.x;
    if pixel.cmplt(DVec2::splat(margin)).any() || pixel.cmpgt(size - margin).any() {
        return None;
    }
    let hit = scene.hit(centre, to)?;
    ((f64::from(hit.distance_m) - to.length()).abs() < 5e-4).then_some(pixel)
}

/// Marks sites in a photograph, the `wrong`th at a wrong place.
pub(crate) fn marked(
    scene: &Scene,
    lens: &Lens,
    station: &Station,
    sites: &[Site],
    wrong: Option<usize>,
    random: &mut Random,
) -> Vec<Marked> {
    let mut there: Vec<(u32, &Site, DVec2)> = sites
        .iter()
        .filter_map(|site| Some((random.bits(), site, seen(scene, lens, station, site)?)))
        .collect();
    there.sort_by_key(|&(order, site, _)| (order, site.number));
    there.truncate(MARKED);
    there.sort_by_key(|&(_, site, _)| site.number);
    let off = WRONG_SHARE * lens.width_px as f64;
    let each = there.iter().enumerate().map(|(k, &(_, site, pixel))| {
        let hand = DVec2::new(f64::from(random.bell()), f64::from(random.bell()));
        let is_wrong = wrong == Some(k);
        let astray = if is_wrong {
            DVec2::new(-off, 0.6 * off)
        } else {
            DVec2::ZERO
        };
        Marked {
            name: format!("p{:02}", site.number),
            pixel: pixel + hand * f64::from(SPREAD_PX) + astray,
            place_m: site.place_m,
            is_wrong,
        }
    });
    each.collect()
}
