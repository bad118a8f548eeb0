//! The texts of the dossier, from `story/`, built into the program.

use anyhow::{Context, Result};
use serde::Deserialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// A palette entry as far as the painter of texels needs it.
#[derive(Debug, Clone)]
pub(crate) struct Pigment {
    /// Id.
    pub(crate) id: String,
    /// CIELAB, D50, 2 degree observer.
    pub(crate) lab_d50: [f64; 3],
    /// Reflectance in the near infrared, 0..1.
    pub(crate) infrared: f32,
    /// Luminescence under ultraviolet, relative.
    pub(crate) luminescence: f32,
}

/// A claim as far as the painter needs it.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Claim {
    /// Id.
    pub(crate) id: String,
    /// Regions covered.
    pub(crate) regions: Vec<String>,
    /// States it holds in.
    pub(crate) states: Vec<String>,
    /// Pigment, if it says one.
    pub(crate) pigment: Option<String>,
}

/// Everything told.
#[derive(Debug)]
pub(crate) struct Story {
    /// The document without geometry.
    pub(crate) document: Value,
    /// Palette for the painter.
    pub(crate) palette: Vec<Pigment>,
    /// Claims for the painter.
    pub(crate) claims: Vec<Claim>,
    /// Region to pigment: what was really there.
    pub(crate) truth: BTreeMap<String, String>,
}

#[derive(Deserialize)]
struct Colour {
    id: String,
    lab_d50: [f64; 3],
}

#[derive(Deserialize)]
struct Optics {
    infrared: f32,
    luminescence: f32,
}

#[derive(Deserialize)]
struct Truth {
    paint: BTreeMap<String, String>,
    optics: BTreeMap<String, Optics>,
}

fn parse<T: serde::de::DeserializeOwned>(name: &str, text: &str) -> Result<T> {
    serde_json::from_str(text).with_context(|| format!("demo/story/{name} is not as expected"))
}

/// Reads the story.
pub(crate) fn read() -> Result<Story> {
    const PALETTE: &str = include_str!("../story/palette.json");
    const CLAIMS: &str = include_str!("../story/claims.json");
    let mut document: Value = parse("dossier.json", include_str!("../story/dossier.json"))?;
    for (field, name, text) in [
        (
            "regions",
            "regions.json",
            include_str!("../story/regions.json"),
        ),
        ("palette", "palette.json", PALETTE),
        (
            "evidence",
            "evidence.json",
            include_str!("../story/evidence.json"),
        ),
        ("claims", "claims.json", CLAIMS),
        ("pins", "pins.json", include_str!("../story/pins.json")),
        ("views", "views.json", include_str!("../story/views.json")),
    ] {
        document[field] = parse(name, text)?;
    }
    let truth: Truth = parse("truth.json", include_str!("../story/truth.json"))?;
    let palette = parse::<Vec<Colour>>("palette.json", PALETTE)?
        .into_iter()
        .map(|c| {
            let optics = truth.optics.get(&c.id);
            let optics =
                optics.with_context(|| format!("story/truth.json: no optics for {:?}", c.id))?;
            Ok(Pigment {
                id: c.id,
                lab_d50: c.lab_d50,
                infrared: optics.infrared,
                luminescence: optics.luminescence,
            })
        })
        .collect::<Result<_>>()?;
    Ok(Story {
        document,
        palette,
        claims: parse("claims.json", CLAIMS)?,
        truth: truth.paint,
    })
}
