//! The document: story and geometry in one.

use super::anchors::{Finder, Wish};
use super::drawings::{micrograph, section};
use super::palette;
use super::spectra::{reflectance, xrf};
use crate::files;
use crate::noise::{Random, scramble};
use crate::paint::scheme::paint;
use crate::story::Story;
use crate::words;
use anyhow::{Context, Result};
use ganosis_colorimetry::spectrum::Spectrum;
use glam::Vec3;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::Path;

/// What the document says about the run that made it.
pub(crate) struct Run<'a> {
    /// Folder of the dossier.
    pub(crate) dir: &'a Path,
    /// Seed.
    pub(crate) seed: u64,
    /// Texels a side.
    pub(crate) texture: usize,
    /// Triangles asked for.
    pub(crate) triangles: usize,
}

/// Completes the story with images, anchors and attachments, and writes `dossier.json`.
pub(crate) fn write(run: &Run, story: &Story, finder: &Finder) -> Result<()> {
    let mut document = story.document.clone();
    let sheets: Vec<String> = document["surface"]["sheets"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|s| s["id"].as_str().map(str::to_owned))
        .collect();
    let images = |folder: &str| -> Value {
        sheets
            .iter()
            .map(|s| json!({"sheet": s, "file": format!("{folder}/{s}.png"), "width_px": run.texture, "height_px": run.texture}))
            .collect()
    };
    let origin = |inputs: Value| {
        json!({
            "command": "ganosis-demo",
            "parameters": {"seed": run.seed, "texture": run.texture, "triangles": run.triangles},
            "inputs": inputs
        })
    };
    for layer in list(&mut document, "layers") {
        let folder = take(layer, "folder")
            .as_str()
            .unwrap_or_default()
            .to_owned();
        layer["images"] = images(&folder);
        let inputs = if folder == "layers/irfc" {
            composed(run, &sheets)?
        } else {
            json!([])
        };
        let calibration = take(layer, "calibration");
        layer["origin"] = origin(inputs);
        if !calibration.is_null() {
            layer["origin"]["calibration"] = calibration;
        }
    }
    document["region_map"] = json!({"images": images("regions")});
    let mut paints = BTreeMap::new();
    for entry in list(&mut document, "palette") {
        let id = entry["id"].as_str().unwrap_or_default().to_owned();
        let spectrum = palette::spectrum(entry)?;
        let file = format!("palette/{id}.csv");
        files::write(&run.dir.join(&file), palette::csv(&spectrum).as_bytes())?;
        take(entry, "reflectance");
        entry["spectrum"] = json!(file);
        paints.insert(id, spectrum);
    }
    let mut used = Vec::new();
    for pin in list(&mut document, "pins") {
        anchor(pin, finder, &mut used)?;
    }
    for item in list(&mut document, "evidence") {
        anchor(item, finder, &mut used)?;
        attach(item, run, story, &paints)?;
    }
    words::translate(&mut document)?;
    // The order of fields is that of the story; regions and the map stand together.
    let text = serde_json::to_string_pretty(&document)?;
    files::write(&run.dir.join("dossier.json"), text.as_bytes())
}

fn list<'a>(document: &'a mut Value, field: &str) -> impl Iterator<Item = &'a mut Value> {
    document[field].as_array_mut().into_iter().flatten()
}

fn take(item: &mut Value, field: &str) -> Value {
    item.as_object_mut()
        .and_then(|o| o.shift_remove(field))
        .unwrap_or(Value::Null)
}

/// The band images that the false colour is composed of.
fn composed(run: &Run, sheets: &[String]) -> Result<Value> {
    let mut inputs = Vec::new();
    for sheet in sheets {
        for folder in ["layers/irr", "layers/as-found"] {
            let file = format!("{folder}/{sheet}.png");
            let bytes = std::fs::read(run.dir.join(&file))
                .with_context(|| format!("cannot read {file} back"))?;
            let sha256: String = Sha256::digest(&bytes)
                .iter()
                .map(|b| format!("{b:02x}"))
                .collect();
            inputs.push(json!({"file": file, "sha256": sha256}));
        }
    }
    Ok(Value::Array(inputs))
}

fn anchor(item: &mut Value, finder: &Finder, used: &mut Vec<Vec3>) -> Result<()> {
    let id = item["id"].as_str().unwrap_or_default().to_owned();
    let wish: Wish = serde_json::from_value(take(item, "place"))
        .with_context(|| format!("the place of {id} in the story is not as expected"))?;
    item["anchor"] = finder
        .find(&wish, used)
        .with_context(|| format!("placing {id}"))?;
    Ok(())
}

fn attach(
    item: &mut Value,
    run: &Run,
    story: &Story,
    paints: &BTreeMap<String, Spectrum>,
) -> Result<()> {
    let make = take(item, "make");
    let caption = take(item, "caption");
    let Some(kind) = make["kind"].as_str() else {
        return Ok(());
    };
    let id = item["id"].as_str().unwrap_or_default().to_owned();
    let mut random = Random::new(run.seed, &id);
    let seed = scramble(random.bits());
    let colour =
        |v: &Value| -> Result<Vec3> { Ok(paint(story, v.as_str().unwrap_or_default())?.colour) };
    let (bytes, extension, media_type, title) = match kind {
        "xrf" => {
            let counts: BTreeMap<String, f32> = serde_json::from_value(make["counts"].clone())?;
            (
                xrf(&counts, &mut random).into_bytes(),
                "csv",
                "text/csv",
                "Spectrum",
            )
        }
        "reflectance" => {
            let pigment = make["pigment"].as_str().unwrap_or_default();
            let paint = paints
                .get(pigment)
                .with_context(|| format!("{id}: story/palette.json has no pigment {pigment:?}"))?;
            (
                reflectance(paint, &mut random).into_bytes(),
                "csv",
                "text/csv",
                "Reflectance",
            )
        }
        "micrograph" => {
            let (grains, film) = (colour(&make["grains"][0])?, colour(&make["grains"][1])?);
            (
                micrograph(seed, grains, film)?,
                "png",
                "image/png",
                "Micrograph",
            )
        }
        _ => {
            let layers: Vec<(String, f32)> = serde_json::from_value(make["layers"].clone())?;
            let layers = layers
                .into_iter()
                .map(|(p, thick)| Ok((paint(story, &p)?.colour, thick)))
                .collect::<Result<Vec<_>>>()?;
            (section(seed, &layers)?, "png", "image/png", "Section")
        }
    };
    let file = format!("evidence/{id}.{extension}");
    files::write(&run.dir.join(&file), &bytes)?;
    item["attachments"] = json!([{"file": file, "media_type": media_type, "title": {"en": title}, "caption": caption}]);
    Ok(())
}
