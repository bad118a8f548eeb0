//! The images that a recipe takes: photographs beside it, or layers of a dossier.

use std::collections::BTreeMap;
use std::path::Path;

use ganosis_audit::decoded::decode;
use ganosis_colorimetry::rgb::decode_srgb;
use ganosis_dossier::Text;
use ganosis_dossier::document::{Layer, LayerKind};
use ganosis_imaging::Encoding;
use ganosis_imaging::bands::recipe::{Input, Recipe};
use ganosis_imaging::bands::{Band, BandImage, ULTRAVIOLET_CAUTION, Unit, is_ultraviolet};
use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::drape::sheet_out::SEEN_CODES;
use image::DynamicImage;

use super::Written;
use crate::commands::chart_files::{self as files, trouble};
use crate::trouble::Trouble;

/// All images, with what is needed for areas.
pub(super) struct Source {
    pub(super) images: BTreeMap<String, BandImage>,
    pub(super) records: Vec<InputRecord>,
    /// Ids of the sheets, in the order of the pages, where layers went in.
    pub(super) sheets: Option<Vec<String>>,
    /// Width and height in pixels of each of them, in the first layer that went in.
    pub(super) sheets_px: Vec<(usize, usize)>,
    /// What the names of the images that are made begin with, in the records of their layers.
    pub(super) prefix: String,
}

impl Source {
    pub(super) fn read(
        recipe: &Recipe,
        recipe_path: &Path,
        dossier: Option<&Written>,
    ) -> anyhow::Result<Self> {
        let mut source = Self {
            images: BTreeMap::new(),
            records: vec![files::record(recipe_path)?],
            sheets: None,
            sheets_px: Vec::new(),
            prefix: String::new(),
        };
        for (name, input) in &recipe.inputs {
            let mut image = match (&input.file, &input.layer, dossier) {
                (Some(file), None, _) => {
                    let folder = recipe_path.parent().unwrap_or(Path::new("."));
                    source.photo(name, &folder.join(file), input)?
                }
                (None, Some(layer), Some(dossier)) => source.layer(name, layer, dossier)?,
                (None, Some(_), None) => {
                    return Err(Trouble::error(
                        format!("the input “{name}” is a layer, and no dossier is given"),
                        recipe_path.display(),
                        "Say with --dossier which dossier it is of.",
                    ));
                }
                _ => {
                    return Err(Trouble::error(
                        format!("the input “{name}” names no image, or two"),
                        recipe_path.display(),
                        "Give either file = \"photo.tif\" or layer = \"id\".",
                    ));
                }
            };
            image.ultraviolet |= input.is_ultraviolet();
            if let Some(unit) = &input.unit {
                in_unit(&mut image, unit)?;
            }
            source.images.insert(name.clone(), image);
        }
        Ok(source)
    }

    fn photo(&mut self, name: &str, path: &Path, input: &Input) -> anyhow::Result<BandImage> {
        let encoding: Option<Encoding> = input
            .encoding
            .as_deref()
            .map(str::parse)
            .transpose()
            .map_err(trouble)?;
        let (photo, record) = files::band(path, encoding)?;
        self.records.push(record);
        if photo.bits == 8 && photo.encoding == Encoding::Linear {
            return Err(Trouble::error(
                "8 bits of linear light are too few: the dark tones would show steps",
                path.display(),
                "Develop the photograph to a linear 16-bit TIFF.",
            ));
        }
        let light = photo.encoding.light_of_code();
        let names: &[&str] = if photo.is_grey() {
            &["value"]
        } else {
            &["red", "green", "blue"]
        };
        let bands = names.iter().enumerate().map(|(c, band)| Band {
            name: (*band).to_owned(),
            values: photo
                .samples
                .iter()
                .skip(c)
                .step_by(3)
                .map(|code| light[usize::from(*code)])
                .collect(),
        });
        Ok(BandImage {
            name: name.to_owned(),
            pages_px: vec![(photo.width_px, photo.height_px)],
            unit: Unit::Relative,
            bands: bands.collect(),
            ultraviolet: false,
        })
    }

    fn layer(&mut self, name: &str, id: &str, dossier: &Written) -> anyhow::Result<BandImage> {
        let Some(layer) = dossier.document.layer(id) else {
            return Err(Trouble::error(
                format!("the dossier has no layer “{id}”"),
                dossier.folder.display(),
                "Use the id of a layer.",
            ));
        };
        let sheets: Vec<String> = layer.images.iter().map(|i| i.sheet.clone()).collect();
        match &self.sheets {
            Some(first) if *first != sheets => {
                return Err(Trouble::error(
                    format!("the layer “{id}” covers other sheets, or in another order"),
                    dossier.folder.display(),
                    "Use layers that cover the same sheets.",
                ));
            }
            _ => self.sheets = Some(sheets),
        }
        let coverage = dossier.document.layer(&format!("{id}-coverage"));
        let mut image = BandImage {
            name: name.to_owned(),
            pages_px: Vec::new(),
            unit: Unit::from(layer.unit.as_deref().unwrap_or("relative")),
            bands: empty(layer),
            // What was made of such images has their caution, whatever its band is called.
            ultraviolet: layer.band.as_deref().is_some_and(is_ultraviolet)
                || layer.caution == Text::from(ULTRAVIOLET_CAUTION),
        };
        for (page, of) in layer.images.iter().enumerate() {
            let (picture, record) = picture(dossier, &of.file)?;
            self.records.push(record);
            let known = match coverage.and_then(|c| c.images.get(page)) {
                Some(of) => {
                    let (known, record) = self::picture(dossier, &of.file)?;
                    self.records.push(record);
                    Some(known.into_luma8())
                }
                None => None,
            };
            image
                .pages_px
                .push((picture.width() as usize, picture.height() as usize));
            append(&mut image, layer, &picture);
            if let Some(known) =
                known.filter(|k| k.dimensions() == (picture.width(), picture.height()))
            {
                blank(&mut image, &known);
            }
        }
        if self.sheets_px.is_empty() {
            self.sheets_px.clone_from(&image.pages_px);
        }
        Ok(image)
    }
}

/// Brings relative light into the unit that the recipe says it has.
fn in_unit(image: &mut BandImage, unit: &str) -> anyhow::Result<()> {
    let wanted = Unit::from(unit);
    if image.unit == wanted {
        return Ok(());
    }
    if image.unit != Unit::Relative || wanted != Unit::Percent {
        return Err(Trouble::error(
            format!(
                "its values are in “{}”, and the recipe says “{unit}”",
                image.unit
            ),
            format!("the input “{}”", image.name),
            "Say unit = \"%\" of relative light in which 1 is a perfect white, and leave unit out else.",
        ));
    }
    for band in &mut image.bands {
        band.values.iter_mut().for_each(|value| *value *= 100.0);
    }
    image.unit = wanted;
    Ok(())
}

fn empty(layer: &Layer) -> Vec<Band> {
    let names: &[&str] = if layer.kind == LayerKind::Band {
        &["value"]
    } else {
        &["red", "green", "blue"]
    };
    let band = |name: &&str| Band {
        name: (*name).to_owned(),
        values: Vec::new(),
    };
    names.iter().map(band).collect()
}

fn picture(dossier: &Written, file: &str) -> anyhow::Result<(DynamicImage, InputRecord)> {
    let unreadable = |reason: String| {
        Trouble::error(
            format!("the image of a layer cannot be read: {reason}"),
            file,
            "Run “ganosis check” on the dossier.",
        )
    };
    let bytes = dossier
        .store
        .read(file)
        .map_err(|e| unreadable(e.to_string()))?;
    let picture = decode(&bytes).map_err(unreadable)?;
    let record = InputRecord {
        file: file.to_owned(),
        sha256: files::sha256_of(&bytes),
    };
    Ok((picture, record))
}

/// Whether code 0 of a band layer is where there is no value: in what draping and bands make it is kept
/// for that. Counts and the kinds of coverage have a meaning at 0 too.
fn is_empty_at_zero(layer: &Layer) -> bool {
    let made_by = layer.origin.as_ref().map(|o| o.command.as_str());
    matches!(made_by, Some("ganosis drape" | "ganosis bands"))
        && !matches!(layer.unit.as_deref(), Some("photographs" | "code"))
}

/// A pixel of a colour layer that is less opaque has no value: half of it or more is something else.
const LEAST_ALPHA: u8 = 128;

/// Adds a page: values in the layer's unit, or linear light.
fn append(image: &mut BandImage, layer: &Layer, picture: &DynamicImage) {
    if layer.kind == LayerKind::Band {
        let [low, high] = layer.range.unwrap_or([0.0, 1.0]);
        let wide = picture.to_luma16();
        let empty_at_zero = is_empty_at_zero(layer);
        let values = wide.as_raw().iter().map(|&code| {
            if code == 0 && empty_at_zero {
                f32::NAN
            } else {
                (low + (high - low) * f64::from(code) / 65535.0) as f32
            }
        });
        image.bands[0].values.extend(values);
        return;
    }
    let rgba = picture.to_rgba8();
    let light: Vec<f32> = (0..=255_u8)
        .map(|code| decode_srgb(f64::from(code) / 255.0) as f32)
        .collect();
    for (c, band) in image.bands.iter_mut().enumerate() {
        band.values.extend(rgba.pixels().map(|p| {
            if p.0[3] < LEAST_ALPHA {
                f32::NAN
            } else {
                light[usize::from(p.0[c])]
            }
        }));
    }
}

/// Takes away the values of the last page where nothing was seen: filled texels too, for what was
/// made up is not measured. What was seen beside a step of depth stays: it was, if together with other surface.
fn blank(image: &mut BandImage, known: &image::GrayImage) {
    for band in &mut image.bands {
        let first = band.values.len() - known.as_raw().len();
        for (value, is) in band.values[first..].iter_mut().zip(known.as_raw()) {
            if !SEEN_CODES.contains(is) {
                *value = f32::NAN;
            }
        }
    }
}
