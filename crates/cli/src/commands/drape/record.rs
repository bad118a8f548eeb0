//! The layer's record: what was done, from what.

use std::path::Path;

use ganosis_dossier::Text;
use ganosis_dossier::document::{
    ColourSpace, Layer, LayerImage, LayerKind, Origin, OtherFields, State, StateKind,
};
use ganosis_dossier::write::save;
use ganosis_imaging::bands::{ULTRAVIOLET_CAUTION, is_ultraviolet};
use ganosis_imaging::drape::sheet_out::RESOLUTION_STEP_UM;
use ganosis_imaging::drape::{Mesh, Report, Settings};
use ganosis_imaging::icc::OutputSpace;
use serde_json::json;

use super::inputs::Inputs;
use super::output::{KNOWN, file_stem};
use super::{Arguments, titles};
use crate::commands::chart_files::sha256_of;
use crate::commands::correct::input;
use crate::commands::scale::Scale;
use crate::trouble::Trouble;

/// The layer's record as a file beside its images.
pub(super) const LAYER_FILE: &str = "layer.json";

/// Command, parameters and inputs; the same for the same work.
pub(super) fn origin(arguments: &Arguments, inputs: &Inputs, settings: &Settings) -> Origin {
    let mut origin = Origin {
        command: "ganosis drape".to_owned(),
        inputs: inputs.surface_records.iter().map(input).collect(),
        ..Origin::default()
    };
    origin.inputs.extend(inputs.poses_records.iter().map(input));
    for photograph in &inputs.photographs {
        origin.inputs.push(input(&photograph.record));
        origin
            .inputs
            .extend(photograph.mask.iter().map(|(_, r)| input(r)));
    }
    let encoding = arguments.encoding.as_ref().map(ToString::to_string);
    let parameters = [
        ("size_px", json!(arguments.size)),
        ("band", json!(arguments.band)),
        (
            "channel",
            json!(
                arguments
                    .band
                    .as_ref()
                    .map(|_| arguments.channel.to_string())
            ),
        ),
        ("encoding", json!(encoding)),
        ("space", json!(arguments.space.title())),
        ("image_space", json!(arguments.image_space.title())),
        ("border_px", json!(settings.border_texels)),
        ("fill", json!(arguments.fill)),
        ("clear_only", json!(arguments.clear_only)),
        ("leave_out", json!(arguments.leave_out)),
        ("mix", json!(settings.mix)),
        ("retoned", json!(false)),
    ];
    for (name, value) in parameters {
        if !value.is_null() {
            origin.parameters.insert(name.to_owned(), value);
        }
    }
    origin
}

/// Tells one run from another: the hash of what goes in and how. Memory does not count.
pub(super) fn key(origin: &Origin) -> String {
    // Plain data with text keys: it cannot fail.
    sha256_of(serde_json::to_string(origin).unwrap_or_default().as_bytes())
}

/// With what came of it.
pub(super) fn with_report(mut origin: Origin, report: &Report, inputs: &Inputs) -> Origin {
    let photos = inputs
        .photo_names()
        .zip(&report.photos)
        .map(|(name, photo)| {
            json!({"file": name, "seen_texels": photo.seen, "detail_texels": photo.chosen,
            "left_out_texels": photo.rejected})
        });
    let result = json!({
        "chart_texels": report.chart_texels,
        "seen_texels": report.seen_texels,
        "edge_texels": report.edge_texels,
        "mean_resolution_um": report.mean_resolution_um(),
        "photographs": photos.collect::<Vec<_>>(),
    });
    origin.parameters.insert("outcome".to_owned(), result);
    origin
}

/// Puts the layers into the dossier, if there is one, and the state that was asked for.
pub(super) fn put(
    arguments: &Arguments,
    inputs: &Inputs,
    output: &Path,
    layers: Vec<Layer>,
) -> anyhow::Result<()> {
    let Some((document, folder)) = &inputs.dossier else {
        return Ok(());
    };
    let mut document = document.clone();
    if let (Some(id), Some(layer)) = (&arguments.state, layers.first()) {
        document.states.push(State {
            id: id.clone(),
            kind: StateKind::AsFound,
            title: layer.title.clone(),
            layers: vec![layer.id.clone()],
            ..State::default()
        });
    }
    document.layers.extend(layers);
    save(folder, &document).map_err(|e| {
        Trouble::error(
            format!("the layer's files are made, and the dossier could not be saved: {e}"),
            folder.display(),
            format!(
                "Mend that and run the same command again, or put the layers of {} into dossier.json \
                 by hand.",
                output.join(LAYER_FILE).display()
            ),
        )
    })?;
    Ok(())
}

/// Ids of the layers: that of the image, and one for each of what is known of its texels.
pub(super) fn ids(id: &str) -> impl Iterator<Item = String> {
    let known = KNOWN.map(|end| format!("{id}-{end}"));
    std::iter::once(id.to_owned()).chain(known)
}

/// The layer, and what is known of its texels as layers of their own.
pub(super) fn layers(
    arguments: &Arguments,
    title: Text,
    inputs: &Inputs,
    output: &Path,
    origin: &Origin,
    mesh: &Mesh,
    scale: &Scale,
) -> Vec<Layer> {
    let images = |end: &str| -> Vec<LayerImage> {
        let sheets = mesh.sheets.iter().enumerate();
        sheets
            .map(|(number, sheet)| {
                let file = format!("{}{end}.png", file_stem(number, &sheet.name));
                LayerImage {
                    sheet: sheet_id(inputs, &sheet.name),
                    file: within(inputs, output, &file),
                    width_px: sheet.width_px,
                    height_px: sheet.height_px,
                    tiles: None,
                    other: OtherFields::new(),
                }
            })
            .collect()
    };
    let id = &arguments.id;
    let mut main = Layer {
        id: id.clone(),
        title: title.clone(),
        images: images(""),
        origin: Some(origin.clone()),
        ..Layer::default()
    };
    match &arguments.band {
        Some(band) => {
            main.kind = LayerKind::Band;
            main.band = Some(band.clone());
            main.unit = Some(scale.unit.clone());
            main.range = Some(scale.range);
            main.description = Text::from("Code 0 is where no photograph sees; black is code 1.");
            if is_ultraviolet(band) {
                main.caution = Text::from(ULTRAVIOLET_CAUTION);
            }
        }
        None => {
            main.kind = LayerKind::Colour;
            main.colour_space = Some(match arguments.image_space {
                OutputSpace::P3 => ColourSpace::DisplayP3,
                _ => ColourSpace::Srgb,
            });
        }
    }
    let about = [
        (
            "coverage",
            "code",
            [0.0, 255.0],
            "255 seen, 192 seen only beside a step of depth, where a pixel mixes two surfaces, 128 filled, 64 on \
             a chart and not seen, 0 off the charts.",
        ),
        (
            "photographs",
            "photographs",
            [0.0, 255.0],
            "How many photographs see the texel.",
        ),
        (
            "resolution",
            "µm",
            [0.0, 65535.0 * RESOLUTION_STEP_UM],
            "Side of the square of surface that one pixel of the photograph that gives the detail covers; 0 is none.",
        ),
        (
            "photograph",
            "number",
            [0.0, 65535.0],
            "The photograph that gives the detail, from 1 in the order of the poses; 0 is none.",
        ),
    ];
    let known = KNOWN.iter().zip(ids(id).skip(1)).zip(about).map(
        |((end, id), (what, unit, range, words))| Layer {
            id,
            kind: LayerKind::Band,
            title: titles::of_known(&title, end),
            description: Text::from(words),
            band: Some(what.to_owned()),
            unit: Some(unit.to_owned()),
            range: Some(range),
            images: images(&format!("-{end}")),
            origin: Some(origin.clone()),
            ..Layer::default()
        },
    );
    std::iter::once(main).chain(known).collect()
}

/// The dossier's id of the sheet with this material; the name where there is none.
fn sheet_id(inputs: &Inputs, material: &str) -> String {
    let sheets = inputs.dossier.iter().flat_map(|(d, _)| &d.surface.sheets);
    let mut own = sheets.filter(|sheet| sheet.material == material);
    own.next()
        .map_or_else(|| material.to_owned(), |sheet| sheet.id.clone())
}

/// The path relative to the dossier, with slashes.
fn within(inputs: &Inputs, output: &Path, file: &str) -> String {
    let folder = inputs.dossier.as_ref().map(|(_, folder)| folder.as_path());
    let Some(inner) = folder.and_then(|f| output.strip_prefix(f).ok()) else {
        return file.to_owned();
    };
    let steps = inner
        .components()
        .map(|c| c.as_os_str().to_string_lossy().into_owned());
    steps.chain([file.to_owned()]).collect::<Vec<_>>().join("/")
}
