//! A recipe: what is made of which images, step by step.
//!
//! The file is TOML; these are its types. Every step takes images by name and makes one under a new
//! name. `vis.red` is the band `red` of the image `vis`.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

use super::arithmetic as sums;
use super::components::{principal_components, spectral_angle};
use super::image::BandImage;
use super::regions::{Labels, gather, threshold};
use super::standards::{Standard, reflectance, stray_shares};
use crate::error::{ImagingError, Result};

/// Said wherever an image under ultraviolet light goes in.
pub const ULTRAVIOLET_CAUTION: &str = "Ultraviolet lamps harm eyes and skin, and their dose counts \
     towards the object's: shield, limit, record. Local codes and the conservator responsible decide.";

/// A recipe.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// Title, for people.
    #[serde(default)]
    pub title: String,
    /// Images that go in, by the name that steps call them.
    pub inputs: BTreeMap<String, Input>,
    /// What is done, in this order.
    #[serde(default, rename = "step")]
    pub steps: Vec<Step>,
    /// What is kept.
    #[serde(rename = "output")]
    pub outputs: Vec<Output>,
}

/// An image that goes in: a photograph or a layer.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Input {
    /// A photograph, relative to the recipe.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// A layer of the dossier.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
    /// How codes stand for light, where the photograph does not say it: `linear` or `srgb`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub encoding: Option<String>,
    /// The band, such as `UVL`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band: Option<String>,
    /// `%` where relative light is reflectance, 1 being a perfect white: as of colour by a chart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
}

impl Input {
    /// Whether its band is made with ultraviolet lamps.
    pub fn is_ultraviolet(&self) -> bool {
        self.band.as_deref().is_some_and(is_ultraviolet)
    }
}

/// Whether a band of this short name is made with ultraviolet lamps: UVL, UVR, UVA …
pub fn is_ultraviolet(band: &str) -> bool {
    let start = band.trim_start().get(..2);
    start.is_some_and(|start| start.eq_ignore_ascii_case("UV"))
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Map<String, Value>", into = "Map<String, Value>")]
pub struct Step {
    /// Name of what is made.
    pub make: String,
    /// How.
    pub how: How,
}

/// By hand, so that a field that is misspelt is told.
impl TryFrom<Map<String, Value>> for Step {
    type Error = String;

    fn try_from(mut fields: Map<String, Value>) -> std::result::Result<Self, String> {
        let make = match fields.remove("make") {
            Some(Value::String(make)) => make,
            _ => return Err("a step needs make = \"name\"".to_owned()),
        };
        let how = serde_json::from_value(Value::Object(fields));
        Ok(Self {
            how: how.map_err(|e| format!("step “{make}”: {e}"))?,
            make,
        })
    }
}

impl From<Step> for Map<String, Value> {
    fn from(step: Step) -> Self {
        let mut fields = Self::new();
        fields.insert("make".to_owned(), Value::String(step.make));
        // Plain data: it is an object.
        if let Ok(Value::Object(how)) = serde_json::to_value(step.how) {
            fields.extend(how);
        }
        fields
    }
}

/// What a step does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case", deny_unknown_fields)]
pub enum How {
    /// `of` less `lamp_off`, an image of the same exposure in ambient light alone.
    Ambient {
        /// Lamp on.
        of: String,
        /// Lamp off.
        lamp_off: String,
    },
    /// Divided by an image of an even board, both less a dark frame.
    FlatField {
        /// The image.
        of: String,
        /// The even board.
        flat: String,
        /// Lens covered.
        dark: Option<String>,
    },
    /// In percent, by grey standards in the picture or in another of the same light and exposure.
    Reflectance {
        /// The image.
        of: String,
        /// The standards.
        standards: Vec<Standard>,
        /// The image that shows them, where it is another one.
        standards_in: Option<String>,
    },
    /// UVL or VIL less the lamp's stray light.
    Stray {
        /// The luminescence.
        of: String,
        /// VIS for UVL, IRR for VIL.
        reflected: String,
        /// Places of standards that do not luminesce, x0 y0 x1 y1.
        at_px: Vec<[usize; 4]>,
        /// Sensitivity of the sensor in each band, to divide by where wanted.
        sensor: Option<Vec<f64>>,
    },
    /// a - b.
    Difference {
        /// a.
        of: String,
        /// b.
        less: String,
    },
    /// a / b.
    Ratio {
        /// a.
        of: String,
        /// b.
        to: String,
    },
    /// (a - b) / (a + b).
    NormalisedDifference {
        /// a.
        of: String,
        /// b.
        less: String,
    },
    /// Infrared as red, red as green, green as blue.
    Irfc {
        /// The infrared image.
        infrared: String,
        /// The red band.
        red: String,
        /// The green band.
        green: String,
    },
    /// Green as red, blue as green, ultraviolet as blue.
    Uvrfc {
        /// The green band.
        green: String,
        /// The blue band.
        blue: String,
        /// The ultraviolet image.
        ultraviolet: String,
    },
    /// Single bands as one image.
    Stack {
        /// The bands.
        of: Vec<String>,
    },
    /// Principal components of all bands.
    PrincipalComponents {
        /// The image, or several single bands.
        of: Vec<String>,
        /// Whether each band is divided by its standard deviation first.
        #[serde(default)]
        standardised: bool,
    },
    /// Angle to a reference, in degrees.
    SpectralAngle {
        /// The image, or several single bands.
        of: Vec<String>,
        /// One value a band.
        reference: Option<Vec<f64>>,
        /// Or the mean of a place on the first page.
        at_px: Option<[usize; 4]>,
    },
    /// A region where the value is within bounds.
    Threshold {
        /// One band.
        of: String,
        /// At least.
        least: Option<f64>,
        /// At most.
        most: Option<f64>,
    },
    /// Regions of like pixels.
    Gather {
        /// The image, or several single bands.
        of: Vec<String>,
        /// How many.
        groups: usize,
        /// For chance; the same gives the same.
        #[serde(default)]
        seed: u64,
    },
}

/// What is kept.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Output {
    /// Name of an image or of regions.
    pub of: String,
    /// Id of the layer, or name of the file without its end.
    pub id: String,
    /// Title, for people.
    pub title: Title,
    /// Also make a state of this id, as found, that shows the layer; of a dossier and in colour only.
    pub state: Option<String>,
    /// Short name of the band.
    pub band: Option<String>,
    /// Values of the smallest and the largest code; from the image where not given.
    pub range: Option<[f64; 2]>,
}

/// A title: one, or one a language, by its BCP 47 tag.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Title {
    /// The same whatever the language; may be empty.
    One(String),
    /// By language.
    Languages(BTreeMap<String, String>),
}

impl Default for Title {
    fn default() -> Self {
        Self::One(String::new())
    }
}

/// What a step made.
#[derive(Debug, Clone, PartialEq)]
pub enum Made {
    /// An image.
    Image(BandImage),
    /// Regions.
    Regions(Labels),
}

impl Made {
    /// Whether ultraviolet light was used to make it.
    pub fn is_ultraviolet(&self) -> bool {
        match self {
            Self::Image(image) => image.ultraviolet,
            Self::Regions(labels) => labels.ultraviolet,
        }
    }
}

/// All that was made, and what was found on the way.
#[derive(Debug, Default)]
pub struct Results {
    /// By name, inputs too.
    pub made: BTreeMap<String, Made>,
    /// For each step its findings: gains of standards, loadings, explained variance …
    pub findings: Map<String, Value>,
}

impl Recipe {
    /// Does all steps over the inputs.
    ///
    /// # Errors
    /// A step names something that is not there, or cannot be done: the error says which.
    pub fn run(&self, inputs: BTreeMap<String, BandImage>) -> Result<Results> {
        let mut results = Results::default();
        for (name, image) in inputs {
            results.made.insert(name, Made::Image(image));
        }
        for step in &self.steps {
            let of_step = |e: ImagingError| ImagingError {
                place: format!("step “{}”, {}", step.make, e.place),
                ..e
            };
            if results.made.contains_key(&step.make)
                || step.make.contains('.')
                || step.make.is_empty()
            {
                return Err(of_step(ImagingError::new(
                    "this name is taken, empty, or has a dot",
                    "make",
                    "Give each step a name of its own.",
                )));
            }
            let (made, finding) = step.how.apply(&step.make, &results).map_err(of_step)?;
            if !finding.is_null() {
                results.findings.insert(step.make.clone(), finding);
            }
            results.made.insert(step.make.clone(), made);
        }
        for output in &self.outputs {
            results.get(&output.of)?;
        }
        Ok(results)
    }
}

impl Results {
    /// An image or regions by name.
    ///
    /// # Errors
    /// There are none of this name.
    pub fn get(&self, name: &str) -> Result<Cow<'_, Made>> {
        let (image, band) = name
            .split_once('.')
            .map_or((name, None), |(i, b)| (i, Some(b)));
        match (self.made.get(image), band) {
            (Some(made), None) => Ok(Cow::Borrowed(made)),
            (Some(Made::Image(image)), Some(band)) => {
                Ok(Cow::Owned(Made::Image(image.band(band)?)))
            }
            _ => {
                let names: Vec<&str> = self.made.keys().map(String::as_str).collect();
                Err(ImagingError::new(
                    format!("nothing is called “{name}”"),
                    "recipe",
                    format!("There are so far: {}.", names.join(", ")),
                ))
            }
        }
    }

    fn image(&self, name: &str) -> Result<Cow<'_, BandImage>> {
        match self.get(name)? {
            Cow::Borrowed(Made::Image(image)) => Ok(Cow::Borrowed(image)),
            Cow::Owned(Made::Image(image)) => Ok(Cow::Owned(image)),
            Cow::Borrowed(Made::Regions(_)) | Cow::Owned(Made::Regions(_)) => {
                Err(ImagingError::new(
                    format!("“{name}” are regions, and an image is needed"),
                    "recipe",
                    "Name an image.",
                ))
            }
        }
    }

    /// One image of all bands, whether one or several are named.
    fn all(&self, make: &str, names: &[String]) -> Result<Cow<'_, BandImage>> {
        if let [name] = names {
            return self.image(name);
        }
        let images: Vec<Cow<BandImage>> =
            names.iter().map(|n| self.image(n)).collect::<Result<_>>()?;
        let images = images.iter().map(Cow::as_ref);
        let parts: Vec<(&str, &BandImage)> = names.iter().map(String::as_str).zip(images).collect();
        sums::stacked(make, &parts).map(Cow::Owned)
    }
}

impl How {
    fn apply(&self, make: &str, from: &Results) -> Result<(Made, Value)> {
        let image = |name: &String| from.image(name);
        let mut finding = Value::Null;
        let made = match self {
            Self::Ambient { of, lamp_off } => {
                sums::difference(make, &*image(of)?, &*image(lamp_off)?)?
            }
            Self::FlatField { of, flat, dark } => {
                let dark = dark.as_ref().map(image).transpose()?;
                sums::flat_field(make, &*image(of)?, &*image(flat)?, dark.as_deref())?
            }
            Self::Reflectance {
                of,
                standards,
                standards_in,
            } => {
                let of = image(of)?;
                let shown = standards_in.as_ref().map(image).transpose()?;
                let shown = shown.as_deref().unwrap_or(&of);
                let (out, lines) = reflectance(make, &of, shown, standards)?;
                let lines = lines.iter().map(|l| {
                    json!({"gain": l.gain, "offset_percent": l.offset,
                        "largest_residual_percent": l.largest_residual})
                });
                finding = Value::Array(lines.collect());
                out
            }
            Self::Stray {
                of,
                reflected,
                at_px,
                sensor,
            } => {
                let (light, reflected) = (image(of)?, image(reflected)?);
                let shares = stray_shares(&light, &reflected, at_px)?;
                finding = json!({"stray_shares": shares});
                let out = sums::without_stray(make, &light, &reflected, &shares)?;
                match sensor {
                    Some(s) => sums::without_sensor(make, &out, s)?,
                    None => out,
                }
            }
            Self::Difference { of, less } => sums::difference(make, &*image(of)?, &*image(less)?)?,
            Self::Ratio { of, to } => sums::ratio(make, &*image(of)?, &*image(to)?)?,
            Self::NormalisedDifference { of, less } => {
                sums::normalised_difference(make, &*image(of)?, &*image(less)?)?
            }
            Self::Irfc {
                infrared,
                red,
                green,
            } => sums::infrared_false_colour(
                make,
                &*image(infrared)?,
                &*image(red)?,
                &*image(green)?,
            )?,
            Self::Uvrfc {
                green,
                blue,
                ultraviolet,
            } => sums::ultraviolet_false_colour(
                make,
                &*image(green)?,
                &*image(blue)?,
                &*image(ultraviolet)?,
            )?,
            Self::Stack { of } => from.all(make, of)?.into_owned(),
            Self::PrincipalComponents { of, standardised } => {
                let found = principal_components(make, &*from.all(make, of)?, *standardised)?;
                finding = json!({"means": found.means, "scales": found.scales,
                    "loadings": found.loadings, "variances": found.variances,
                    "explained_variance": found.explained});
                found.image
            }
            Self::SpectralAngle {
                of,
                reference,
                at_px,
            } => {
                let all = from.all(make, of)?;
                let reference = match (reference, at_px) {
                    (Some(reference), None) => reference.clone(),
                    (None, Some(at)) => (0..all.bands.len())
                        .map(|band| all.mean_in(band, *at))
                        .collect::<Result<_>>()?,
                    _ => {
                        return Err(ImagingError::new(
                            "a reference is given twice or not at all",
                            make,
                            "Give reference = [one value a band], or at_px = [x0, y0, x1, y1].",
                        ));
                    }
                };
                finding = json!({"reference": reference});
                spectral_angle(make, &all, &reference)?
            }
            Self::Threshold { of, least, most } => {
                let (least, most) = (
                    least.unwrap_or(f64::NEG_INFINITY),
                    most.unwrap_or(f64::INFINITY),
                );
                return Ok((
                    Made::Regions(threshold(&*image(of)?, least, most)?),
                    finding,
                ));
            }
            Self::Gather { of, groups, seed } => {
                let found = gather(&*from.all(make, of)?, *groups, *seed)?;
                return Ok((
                    Made::Regions(found.labels),
                    json!({"middles": found.middles}),
                ));
            }
        };
        Ok((Made::Image(made), finding))
    }
}
