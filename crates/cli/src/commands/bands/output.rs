//! What a recipe keeps: images, and the layers that name them.

use std::path::Path;

use ganosis_colorimetry::rgb::encode_srgb;
use ganosis_dossier::Text;
use ganosis_dossier::document::{
    ColourSpace, Layer, LayerImage, LayerKind, Origin, OtherFields, State, StateKind,
};
use ganosis_dossier::write::write_atomically;
use ganosis_imaging::bands::recipe::{Made, Output, Title};
use ganosis_imaging::bands::regions::Labels;
use ganosis_imaging::bands::{Band, BandImage, ULTRAVIOLET_CAUTION, Unit};
use png::{BitDepth, ColorType};

use super::inputs::Source;
use crate::commands::correct::text_of;
use crate::commands::scale::{KEYWORD, Scale};
use crate::trouble::Trouble;

/// Ids of the layers that an output becomes.
pub(super) fn ids(output: &Output, made: &Made) -> Vec<String> {
    match made {
        Made::Image(image) if image.bands.len() > 1 && !is_colour(image) => {
            let names = image.bands.iter().map(|band| sound(&band.name));
            names.map(|name| format!("{}-{name}", output.id)).collect()
        }
        _ => vec![output.id.clone()],
    }
}

/// The state that an output asks for.
pub(super) fn state(output: &Output, layer: &Layer) -> Option<State> {
    Some(State {
        id: output.state.clone()?,
        kind: StateKind::AsFound,
        title: layer.title.clone(),
        layers: vec![layer.id.clone()],
        ..State::default()
    })
}

pub(super) fn is_colour(image: &BandImage) -> bool {
    let names = image.bands.iter().map(|b| b.name.as_str());
    names.eq(["red", "green", "blue"])
}

/// Writes what an output names into a folder, and gives its layers. `areas_cm2` are those of regions; with an
/// image in colour goes whether it is false colour.
pub(super) fn write(
    (output, is_false_colour): (&Output, bool),
    made: &Made,
    areas_cm2: Option<&[f64]>,
    source: &Source,
    folder: &Path,
    origin: &Origin,
) -> anyhow::Result<Vec<Layer>> {
    let place = Place {
        output,
        source,
        folder,
        origin,
        ultraviolet: made.is_ultraviolet(),
        is_false_colour,
    };
    match made {
        Made::Regions(labels) => Ok(vec![place.regions(labels, areas_cm2)?]),
        Made::Image(image) if is_colour(image) => Ok(vec![place.colour(image)?]),
        Made::Image(image) => {
            let bands = image.bands.iter().zip(ids(output, made));
            bands
                .map(|(band, id)| place.band(image, band, &id))
                .collect()
        }
    }
}

/// A name as part of a file's.
fn sound(name: &str) -> String {
    let each = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    name.chars().map(each).collect()
}

struct Place<'a> {
    output: &'a Output,
    source: &'a Source,
    folder: &'a Path,
    origin: &'a Origin,
    ultraviolet: bool,
    is_false_colour: bool,
}

impl Place<'_> {
    fn layer(&self, id: &str, kind: LayerKind) -> Layer {
        let title = match &self.output.title {
            Title::One(title) => Text::from(title.as_str()),
            Title::Languages(titles) => Text::Languages(titles.clone()),
        };
        Layer {
            id: id.to_owned(),
            kind,
            title: if title.is_empty() {
                Text::from(id)
            } else {
                title
            },
            origin: Some(self.origin.clone()),
            caution: if self.ultraviolet {
                Text::from(ULTRAVIOLET_CAUTION)
            } else {
                Text::default()
            },
            ..Layer::default()
        }
    }

    /// Percent or relative light. As a layer it is encoded as sRGB for the eye; of photographs it is
    /// linear, of 16 bits, since more is to be made of it.
    fn colour(&self, image: &BandImage) -> anyhow::Result<Layer> {
        let whole = if image.unit == Unit::Percent {
            100.0
        } else {
            1.0
        };
        let [low, high] = self.sound(self.output.range.unwrap_or([0.0, whole]))?;
        let light = |v: f32| ((f64::from(v) - low) / (high - low)).clamp(0.0, 1.0);
        let bands = &image.bands;
        let lights = (0..image.pixels()).map(|i| {
            let v = [0, 1, 2].map(|k| bands[k].values[i]);
            v.iter().all(|v| v.is_finite()).then(|| v.map(light))
        });
        let id = &self.output.id;
        let mut layer = self.layer(id, LayerKind::Colour);
        let kind = if self.source.sheets.is_some() {
            layer.colour_space = Some(ColourSpace::Srgb);
            let code = |light: f64| (encode_srgb(light) * 255.0).round() as u8;
            let codes = lights.flat_map(|seen| match seen {
                Some([r, g, b]) => [code(r), code(g), code(b), 255],
                None => [0; 4],
            });
            let bytes: Vec<u8> = codes.collect();
            (bytes, 4, BitDepth::Eight)
        } else {
            let code = |light: f64| (light * 65535.0).round() as u16;
            let codes = lights.flat_map(|seen| match seen {
                Some([r, g, b]) => [code(r), code(g), code(b), u16::MAX],
                None => [0; 4],
            });
            let bytes = codes.flat_map(u16::to_be_bytes).collect();
            (bytes, 8, BitDepth::Sixteen)
        };
        layer.description = Text::from(if self.is_false_colour {
            "False colour: no colour here is one that the eye sees on the object."
        } else {
            "Red, green and blue are the channels of the images that this was made of."
        });
        let (bytes, each, depth) = kind;
        let format = (each, ColorType::Rgba, depth);
        layer.images = self.pages(id, &image.pages_px, &bytes, format, None)?;
        Ok(layer)
    }

    /// An error if a range is none.
    fn sound(&self, [low, high]: [f64; 2]) -> anyhow::Result<[f64; 2]> {
        if low < high && low.is_finite() && high.is_finite() {
            return Ok([low, high]);
        }
        Err(Trouble::error(
            format!("the range {low} to {high} is none"),
            format!("[[output]] {}", self.output.id),
            "Give range = [smallest, largest].",
        ))
    }

    fn band(&self, image: &BandImage, band: &Band, id: &str) -> anyhow::Result<Layer> {
        let finite = || band.values.iter().copied().filter(|v| v.is_finite());
        let (least, most) = finite().fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        });
        let [low, high] = self.sound(match self.output.range {
            Some(range) => range,
            None if least < most => [f64::from(least), f64::from(most)],
            None if least == most => [f64::from(least), f64::from(least) + 1.0],
            None => [0.0, 1.0],
        })?;
        // Code 0 is kept for what is not there.
        let step = (high - low) / 65534.0;
        let code = |v: &f32| {
            if v.is_finite() {
                (1.0 + (f64::from(*v) - low) / step)
                    .round()
                    .clamp(1.0, 65535.0) as u16
            } else {
                0
            }
        };
        let codes: Vec<u8> = band
            .values
            .iter()
            .flat_map(|v| code(v).to_be_bytes())
            .collect();
        let mut layer = self.layer(id, LayerKind::Band);
        layer.band = Some(
            self.output
                .band
                .clone()
                .unwrap_or_else(|| band.name.clone()),
        );
        layer.unit = Some(image.unit.to_string());
        let range = [low - step, high];
        layer.range = Some(range);
        layer.description = Text::from("Code 0 is where there is no value.");
        let scale = Scale {
            unit: image.unit.to_string(),
            range,
        };
        layer.images = self.pages(id, &image.pages_px, &codes, GREY, Some(&scale))?;
        Ok(layer)
    }

    fn regions(&self, labels: &Labels, areas_cm2: Option<&[f64]>) -> anyhow::Result<Layer> {
        let codes: Vec<u8> = labels
            .numbers
            .iter()
            .flat_map(|n| n.to_be_bytes())
            .collect();
        let id = &self.output.id;
        let mut layer = self.layer(id, LayerKind::Band);
        layer.band = Some(
            self.output
                .band
                .clone()
                .unwrap_or_else(|| "region".to_owned()),
        );
        layer.unit = Some("number".to_owned());
        layer.range = Some([0.0, 65535.0]);
        let told = |areas: &[f64]| -> String {
            let each = areas.iter().enumerate().skip(1);
            each.map(|(n, cm2)| format!(" {n}: {cm2:.2} cm²."))
                .collect()
        };
        layer.description = Text::from(format!(
            "Numbers of regions; 0 is none.{}",
            areas_cm2.map_or_else(String::new, told)
        ));
        layer.images = self.pages(id, &labels.pages_px, &codes, GREY, None)?;
        Ok(layer)
    }

    /// One PNG a page, in a folder of the layer's id. A photograph says its scale itself, since its layer's record
    /// does not go with it.
    fn pages(
        &self,
        id: &str,
        pages_px: &[(usize, usize)],
        bytes: &[u8],
        format: Format,
        scale: Option<&Scale>,
    ) -> anyhow::Result<Vec<LayerImage>> {
        let said = scale.filter(|_| self.source.sheets.is_none()).map(|scale| {
            let mut origin = Origin {
                command: self.origin.command.clone(),
                ..Origin::default()
            };
            scale.put(&mut origin);
            text_of(&origin)
        });
        let own = self.folder.join(id);
        let mut images = Vec::with_capacity(pages_px.len());
        let mut first = 0;
        for (page, &(width, height)) in pages_px.iter().enumerate() {
            let name = format!("{}.png", page + 1);
            let path = own.join(&name);
            let pixels = &bytes[first..first + width * height * format.0];
            first += pixels.len();
            let size = [width as u32, height as u32];
            put(&path, size, pixels, format, said.as_deref()).map_err(|e| {
                Trouble::error(
                    format!("the image could not be written: {e}"),
                    path.display(),
                    "Check free space and the permissions of the folder.",
                )
            })?;
            images.push(LayerImage {
                sheet: self
                    .source
                    .sheets
                    .as_ref()
                    .and_then(|s| s.get(page).cloned())
                    .unwrap_or_default(),
                file: format!("{}{id}/{name}", self.source.prefix),
                width_px: width as u32,
                height_px: height as u32,
                tiles: None,
                other: OtherFields::new(),
            });
        }
        Ok(images)
    }
}

/// Bytes of a pixel, what they are, and bits of a sample.
type Format = (usize, ColorType, BitDepth);

const GREY: Format = (2, ColorType::Grayscale, BitDepth::Sixteen);

/// Whole or not at all.
fn put(
    path: &Path,
    size: [u32; 2],
    pixels: &[u8],
    (_, colour, depth): Format,
    said: Option<&str>,
) -> anyhow::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder)?;
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, size[0], size[1]);
    encoder.set_color(colour);
    encoder.set_depth(depth);
    encoder.set_compression(png::Compression::Fast);
    if let Some(said) = said {
        encoder.add_itxt_chunk(KEYWORD.to_owned(), said.to_owned())?;
    }
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    write_atomically(path, &bytes)?;
    Ok(())
}
