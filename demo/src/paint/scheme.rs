//! Which pigment a region carries in a state: read from the claims of the story, so that the
//! pictures and the claims cannot disagree.

use crate::region::Region;
use crate::story::{Pigment, Story};
use anyhow::{Context, Result, ensure};
use ganosis_colorimetry::{LabD50, Srgb};
use glam::Vec3;

/// A pigment with what the painter of texels needs.
#[derive(Debug, Clone)]
pub(crate) struct Paint {
    /// Linear sRGB of the full coat.
    pub(crate) colour: Vec3,
    /// Linear sRGB from a coat rubbed thin, through the full coat, to one that stands thick.
    coats: Vec<Vec3>,
    /// Reflectance in the near infrared, 0..1.
    pub(crate) infrared: f32,
    /// Luminescence under ultraviolet, relative, 0..1.
    pub(crate) luminescence: f32,
    /// Metal leaf.
    pub(crate) metal: bool,
}

/// Steps of the coat from thin to full, and from full to thick.
const COATS: usize = 24;
/// CIEDE2000 by which a coat darkens where it stands thickest: a choice by eye, kept below what
/// an audit lets a region vary.
const THICK_DELTA_E: f64 = 8.6;
/// The most of its lightness that a coat loses; for blacks.
const THICK_SHARE: f64 = 0.30;
/// How much of the ground shows through the thinnest coat; the same.
const THIN_SHOWS: f64 = 0.13;
/// The same where the ground is the stone, nearer in colour.
const THIN_SHOWS_STONE: f64 = 0.28;

/// The stone as it shows through worn white: that of `stone`, rounded.
const STONE: LabD50 = LabD50 {
    l: 72.0,
    a: 3.0,
    b: 13.0,
};

impl Paint {
    /// Linear sRGB of a coat: -1 rubbed thin, 0 the colour of the palette, 1 standing thick.
    pub(crate) fn coat(&self, thickness: f32) -> Vec3 {
        let at = (thickness.clamp(-1.0, 1.0) + 1.0) * COATS as f32;
        let i = (at as usize).min(2 * COATS - 1);
        self.coats[i].lerp(self.coats[i + 1], at - i as f32)
    }
}

fn linear(lab: LabD50) -> Vec3 {
    let [r, g, b] = lab.to_linear::<Srgb>().clipped().to_array();
    Vec3::new(r as f32, g as f32, b as f32)
}

/// Thick coats are darker and a little deeper; thin ones let the ground show.
fn coats(lab: LabD50, (ground, shows): (LabD50, f64)) -> Vec<Vec3> {
    // CIEDE2000 divides a step of lightness by this (CIE 142-2001, S_L).
    let from_grey = (lab.l - 50.0) * (lab.l - 50.0);
    let s_l = 1.0 + 0.015 * from_grey / (20.0 + from_grey).sqrt();
    let darker = (THICK_DELTA_E * s_l).min(THICK_SHARE * lab.l);
    (0..=2 * COATS)
        .map(|i| {
            let t = i as f64 / COATS as f64 - 1.0;
            let LabD50 { l, a, b } = lab;
            let (thick, thin) = (t.max(0.0), shows * (-t).max(0.0));
            let deeper = 1.0 + 0.04 * thick;
            let mix = |full: f64, bare: f64| full + (bare - full) * thin;
            linear(LabD50 {
                l: mix(l - darker * thick, ground.l),
                a: mix(a * deeper, ground.a),
                b: mix(b * deeper + 1.5 * thick, ground.b),
            })
        })
        .collect()
}

/// Paints by region.
#[derive(Debug, Clone)]
pub(crate) struct Scheme {
    by_region: Vec<Option<Paint>>,
}

impl Scheme {
    /// The paint of a region.
    pub(crate) fn of(&self, region: Region) -> Option<&Paint> {
        self.by_region[region.index()].as_ref()
    }
}

/// The paint made of a palette entry.
pub(crate) fn paint(story: &Story, id: &str) -> Result<Paint> {
    let find = |id: &str| -> Result<&Pigment> {
        story.palette.iter().find(|p| p.id == id).with_context(|| {
            format!(
                "story/palette.json has no pigment {id:?}: add it, or correct the claim that names it"
            )
        })
    };
    let p = find(id)?;
    let metal = id == "gold-leaf";
    let lab = LabD50::from_array(p.lab_d50);
    let ground = match id {
        "gold-leaf" => (LabD50::from_array(find("bole")?.lab_d50), THIN_SHOWS),
        // White is its own priming: the stone shows.
        "lead-white" => (STONE, THIN_SHOWS_STONE),
        _ => (LabD50::from_array(find("lead-white")?.lab_d50), THIN_SHOWS),
    };
    Ok(Paint {
        colour: linear(lab),
        coats: coats(lab, ground),
        infrared: p.infrared,
        luminescence: p.luminescence,
        metal,
    })
}

/// The scheme of a state.
pub(crate) fn of_state(story: &Story, state: &str) -> Result<Scheme> {
    let mut by_region = vec![None; Region::ALL.len()];
    for claim in &story.claims {
        let Some(pigment) = &claim.pigment else {
            continue;
        };
        if !claim.states.iter().any(|s| s == state) {
            continue;
        }
        for id in &claim.regions {
            let region = Region::from_id(id).with_context(|| {
                format!("story/claims.json, claim {}: no region {id:?}", claim.id)
            })?;
            let slot: &mut Option<Paint> = &mut by_region[region.index()];
            ensure!(
                slot.is_none(),
                "story/claims.json, claim {}: {id} has a pigment in {state} already",
                claim.id
            );
            *slot = Some(paint(story, pigment)?);
        }
    }
    Ok(Scheme { by_region })
}

/// The scheme that was really there.
pub(crate) fn of_truth(story: &Story) -> Result<Scheme> {
    let mut by_region = vec![None; Region::ALL.len()];
    for (id, pigment) in &story.truth {
        let region =
            Region::from_id(id).with_context(|| format!("story/truth.json: no region {id:?}"))?;
        by_region[region.index()] = Some(paint(story, pigment)?);
    }
    Ok(Scheme { by_region })
}
