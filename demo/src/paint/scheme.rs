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
    /// Linear sRGB.
    pub(crate) colour: Vec3,
    /// Reflectance in the near infrared, 0..1.
    pub(crate) infrared: f32,
    /// Luminescence under ultraviolet, relative, 0..1.
    pub(crate) luminescence: f32,
    /// Metal leaf.
    pub(crate) metal: bool,
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
    let p: &Pigment = story.palette.iter().find(|p| p.id == id).with_context(|| {
        format!(
            "story/palette.json has no pigment {id:?}: add it, or correct the claim that names it"
        )
    })?;
    let [l, a, b] = p.lab_d50;
    let [r, g, b] = LabD50 { l, a, b }.to_linear::<Srgb>().clipped().to_array();
    Ok(Paint {
        colour: Vec3::new(r as f32, g as f32, b as f32),
        infrared: p.infrared,
        luminescence: p.luminescence,
        metal: id == "gold-leaf",
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
