//! The object, its rights, its people and its surface.

use serde::{Deserialize, Serialize};

use super::{OtherFields, Text};

/// The object itself.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct ObjectRecord {
    /// Inventory number.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub identifier: Text,
    /// Date in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub date: Text,
    /// Earliest year of making, astronomical numbering (0 = 1 BC).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earliest_year: Option<i32>,
    /// Latest year of making.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub latest_year: Option<i32>,
    /// Material in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub material: Text,
    /// Place of making, finding or keeping, in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub place: Text,
    /// Dimensions in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub dimensions: Text,
    /// Which way up, and which side is the front.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub orientation: Option<Orientation>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// Directions in the coordinates of the surface.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct Orientation {
    /// Direction that is up.
    pub up: [f64; 3],
    /// Direction that the front looks to.
    pub front: [f64; 3],
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// glTF 2.0 section 3.4: +Y up, the front of a model faces +Z.
impl Default for Orientation {
    fn default() -> Self {
        Self {
            up: [0.0, 1.0, 0.0],
            front: [0.0, 0.0, 1.0],
            other: OtherFields::new(),
        }
    }
}

/// Rights in the dossier.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct Rights {
    /// Address of the licence or rights statement, or an SPDX identifier.
    pub licence: String,
    /// Credit line.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub credit: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// Somebody who measured, argued or proposed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "name"])))]
#[serde(default)]
pub struct Person {
    /// Id, unique among people.
    pub id: String,
    /// Name as it shall be shown.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub name: Text,
    /// Role in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub role: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// The mesh with its sheets and parts.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["file"])))]
#[serde(default)]
pub struct SurfaceRecord {
    /// Path of a glTF 2.0 file, relative to the dossier.
    pub file: String,
    /// Texture pages: one per glTF material.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sheets: Vec<Sheet>,
    /// Nodes shown only in the states that name them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<Part>,
    /// Lighter copies of the surface for looking at it, the coarsest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub levels: Vec<SurfaceLevel>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A lighter copy of the surface: the same sheets, nodes and patches with fewer triangles, or fewer bytes.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["file", "triangles", "error_mm"])))]
#[serde(default)]
pub struct SurfaceLevel {
    /// Path of a glTF 2.0 file, relative to the dossier.
    pub file: String,
    /// Its triangles.
    pub triangles: u64,
    /// How far it lies from the surface at most, as measured, in millimetres.
    pub error_mm: f64,
    /// How far what a layer shows is shifted on it, 99 places in 100 less, in millimetres.
    pub shift_mm: f64,
    /// Whether it encloses something: its inner side is never seen from outside.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub closed: bool,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// One texture page of the surface.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "material"])))]
#[serde(default)]
pub struct Sheet {
    /// Id, unique among sheets.
    pub id: String,
    /// Name of the glTF material.
    pub material: String,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A glTF node, with its descendants, shown only in states that name it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "node"])))]
#[serde(default)]
pub struct Part {
    /// Id, unique among parts.
    pub id: String,
    /// Name of the glTF node.
    pub node: String,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}
