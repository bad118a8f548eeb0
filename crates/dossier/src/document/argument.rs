//! Regions, palette, evidence, claims and pins: what is said, and why.

use serde::{Deserialize, Serialize};

use super::{Certainty, Finish, LayerImage, OtherFields, Response, Review, Technique, Text};

/// The label images of the surface.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["images"])))]
#[serde(default)]
pub struct RegionMap {
    /// One greyscale PNG per sheet, 8 or 16 bit; the code is the number of
    /// the region and 0 is "no region".
    pub images: Vec<RegionImage>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// One label image.
pub type RegionImage = LayerImage;

/// An area of the surface.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "number"])))]
#[serde(default)]
pub struct Region {
    /// Id, unique among regions.
    pub id: String,
    /// Its code in the region map, 1 to 65535.
    pub number: u32,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A paint with its measured colour.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "title"])))]
#[serde(default)]
pub struct PaletteEntry {
    /// Id, unique in the palette.
    pub id: String,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// CIELAB L*, a*, b* under D50 for the 2 degree observer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lab_d50: Option<[f64; 3]>,
    /// Spread of the readings about `lab_d50`, as a CIEDE2000 difference.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spread_delta_e: Option<f64>,
    /// Number of readings.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub readings: Option<u32>,
    /// Path of a CSV with the reflectance spectrum.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spectrum: Option<String>,
    /// Symbols of the chemical elements that tell of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub elements: Vec<String>,
    /// First year it is known to have been in use; absent if always.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earliest_year: Option<i32>,
    /// Last year it is known to have been in use; absent if still.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub latest_year: Option<i32>,
    /// Where the colour comes from.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub source: Text,
    /// What to beware of: poison, misreading.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub caution: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A place on the surface that survives a new mesh.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct Anchor {
    /// Id of the sheet.
    pub sheet: String,
    /// Texture coordinates by the glTF convention: v = 0 is the top row.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uv: Option<[f64; 2]>,
    /// Position in metres, in the coordinates of the surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position_m: Option<[f64; 3]>,
    /// Outward direction.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub normal: Option<[f64; 3]>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// One observation.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "technique"])))]
#[serde(default)]
pub struct Evidence {
    /// Id, unique among evidence.
    pub id: String,
    /// How it was observed.
    #[serde(skip_serializing_if = "Technique::is_unset")]
    pub technique: Technique,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// What was found, in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub result: Text,
    /// Where on the surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub anchor: Option<Anchor>,
    /// Id of the region it lies in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    /// Instrument in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub instrument: Text,
    /// Settings in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub settings: Text,
    /// Date, ISO 8601: `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Id of the person who made it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub operator: Option<String>,
    /// Symbols of the chemical elements found.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub elements: Vec<String>,
    /// Ids of the palette entries it identifies.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub identified: Vec<String>,
    /// How the place answers in the band; imaging techniques only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub response: Option<Response>,
    /// Files that belong to it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub attachments: Vec<Attachment>,
    /// What to beware of when reading or repeating this.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub caution: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A file that belongs to an observation.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["file"])))]
#[serde(default)]
pub struct Attachment {
    /// Path, relative to the dossier.
    pub file: String,
    /// Media type (RFC 6838), such as `text/csv`.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub media_type: String,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// Caption for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub caption: Text,
    /// Width of what a picture shows, in millimetres: a scale bar is drawn from it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width_mm: Option<f64>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// "In these states this region had this colour, pigment and finish."
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "states", "certainty"])))]
#[serde(default)]
pub struct Claim {
    /// Id, unique among claims.
    pub id: String,
    /// Ids of the regions it covers.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub regions: Vec<String>,
    /// Ids of the parts it covers.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<String>,
    /// Ids of the states it holds in.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub states: Vec<String>,
    /// Id of the palette entry. With `over`, that of the upper layer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pigment: Option<String>,
    /// What is mixed, in place of `pigment`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub mixture: Vec<MixturePart>,
    /// Id of the palette entry of the layer beneath: a ground or an underpaint.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over: Option<String>,
    /// Colour of the mixture or of the layer over its ground, as CIELAB L*,
    /// a*, b* under D50 for the 2 degree observer. A single pigment has its
    /// colour in the palette.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lab_d50: Option<[f64; 3]>,
    /// Finish of the surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finish: Option<Finish>,
    /// What it rests on.
    #[serde(skip_serializing_if = "Certainty::is_unset")]
    pub certainty: Certainty,
    /// Ids of the observations it rests on.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub evidence: Vec<String>,
    /// Id of the person who makes it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// Date, ISO 8601: `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// The argument in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub argument: Text,
    /// What others say of it, oldest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reviews: Vec<Review>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

impl Claim {
    /// Ids of every palette entry that it names: its pigment, what lies beneath, its mixture.
    pub fn paints(&self) -> impl Iterator<Item = &str> {
        let mixed = self.mixture.iter().map(|part| part.pigment.as_str());
        let own = self.pigment.as_deref().into_iter();
        own.chain(self.over.as_deref()).chain(mixed)
    }
}

/// One of several paints in a mixture.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["pigment"])))]
#[serde(default)]
pub struct MixturePart {
    /// Id of the palette entry.
    pub pigment: String,
    /// Its part of the mixture by dry weight, 0 to 1; absent if not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<f64>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A marker on the surface with text.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "anchor"])))]
#[serde(default)]
pub struct Pin {
    /// Id, unique among pins.
    pub id: String,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// Its text.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub text: Text,
    /// Where on the surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub anchor: Option<Anchor>,
    /// Ids of the observations it shows.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub evidence: Vec<String>,
    /// Ids of the claims it shows.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub claims: Vec<String>,
    /// Ids of the states it is shown in; empty: in all.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub states: Vec<String>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}
