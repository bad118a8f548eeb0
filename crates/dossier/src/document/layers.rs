//! Layers over the surface, and the states made of them.

use serde::{Deserialize, Serialize};

use super::{ColourSpace, LayerKind, OtherFields, StateKind, Text};

/// Images over the surface, one per sheet.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "kind", "images"])))]
#[serde(default)]
pub struct Layer {
    /// Id, unique among layers and states (views name either).
    pub id: String,
    /// Colour or band.
    #[serde(skip_serializing_if = "LayerKind::is_unset")]
    pub kind: LayerKind,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// What the layer shows and how it was made, in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub description: Text,
    /// Short name of the band, such as `UVL`; band layers only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band: Option<String>,
    /// Encoding; colour layers only. Absent means sRGB.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub colour_space: Option<ColourSpace>,
    /// Unit of the values; band layers only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Values, in `unit`, of the smallest and the largest code; band layers only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<[f64; 2]>,
    /// Wavelengths recorded, in nm: shortest, longest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wavelength_nm: Option<[f64; 2]>,
    /// What to beware of when reading or repeating this.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub caution: Text,
    /// The images.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub images: Vec<LayerImage>,
    /// How the layer was made, if it was derived.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub origin: Option<Origin>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// One image of a layer. With `tiles`, `file` is its coarse levels alone and the size is that of the whole
/// image.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["sheet", "file"])))]
#[serde(default)]
pub struct LayerImage {
    /// Id of the sheet it covers.
    pub sheet: String,
    /// Path, relative to the dossier.
    pub file: String,
    /// Width in pixels; 0 if not stated.
    #[serde(skip_serializing_if = "is_zero")]
    pub width_px: u32,
    /// Height in pixels; 0 if not stated.
    #[serde(skip_serializing_if = "is_zero")]
    pub height_px: u32,
    /// Its finer levels, where they are cut into tiles.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tiles: Option<Tiling>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// The finer levels of an image, cut into tiles.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["index"])))]
#[serde(default)]
pub struct Tiling {
    /// Path of the list of the tiles, relative to the dossier.
    pub index: String,
    /// What the tiles keep of the image: `exact` is every code value.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub keep: String,
    /// What that costs in colour, where it is not every code value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loss: Option<TilingLoss>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// Colour differences between an image and its tiles (CIEDE2000), over a sample of the tiles.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct TilingLoss {
    /// Mean.
    pub mean_delta_e: f64,
    /// 99 of 100 texels differ by no more.
    pub percentile_99_delta_e: f64,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde passes a reference"
)]
pub(super) fn is_zero(number: &u32) -> bool {
    *number == 0
}

/// How something derived was made, so that it can be made again and checked.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct Origin {
    /// The command that made it.
    pub command: String,
    /// Its parameters, by name.
    #[serde(skip_serializing_if = "serde_json::Map::is_empty")]
    pub parameters: serde_json::Map<String, serde_json::Value>,
    /// What went in.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub inputs: Vec<OriginInput>,
    /// How the colour of the camera was characterised; photographs only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calibration: Option<Calibration>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// How the colour of a camera was characterised under the light of the photograph.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct Calibration {
    /// The colour chart or standard in the frame, in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub chart: Text,
    /// The method in words, such as the degree of the fit.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub method: Text,
    /// Mean CIEDE2000 difference left over the patches.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mean_delta_e: Option<f64>,
    /// Largest CIEDE2000 difference left over the patches.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub largest_delta_e: Option<f64>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A file that went into something derived.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct OriginInput {
    /// Path or name of the file; it need not be in the dossier.
    pub file: String,
    /// SHA-256 of its bytes, 64 hexadecimal digits.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub sha256: String,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// One appearance of the object.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "kind", "layers"])))]
#[serde(default)]
pub struct State {
    /// Id, unique among layers and states.
    pub id: String,
    /// As found, evidence-based or hypothetical.
    #[serde(skip_serializing_if = "StateKind::is_unset")]
    pub kind: StateKind,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// What is shown and on what grounds.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub description: Text,
    /// Ids of its layers, bottom to top; the first colour layer is the ground.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub layers: Vec<String>,
    /// Ids of the parts it shows.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<String>,
    /// Ids of the people who propose it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub proposed_by: Vec<String>,
    /// Ids of the states it builds on.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub based_on: Vec<String>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}
