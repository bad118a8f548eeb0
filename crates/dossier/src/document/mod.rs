//! The types of `dossier.json`, format 1.
//!
//! Field names are those of the file. Every field may be missing: `check`
//! says which of them are needed. Every object keeps the fields it does not
//! know in `other`, so that a rewrite loses nothing. Words from a fixed list
//! (`kind`, `certainty` ...) keep a spelling they do not know as `Other`.

mod argument;
pub mod clearance;
mod files;
mod layers;
mod object;
mod review;
mod text;
mod view;
mod vocabulary;

use serde::{Deserialize, Serialize};

pub use argument::{
    Anchor, Attachment, Claim, Evidence, MixturePart, PaletteEntry, Pin, Region, RegionImage,
    RegionMap,
};
pub use clearance::{CLEARANCE_FIELD, Cleared};
pub use layers::{Calibration, Layer, LayerImage, Origin, OriginInput, State, Tiling, TilingLoss};
pub use object::{
    ObjectRecord, Orientation, Part, Person, Rights, Sheet, SurfaceLevel, SurfaceRecord,
};
pub use review::{Answer, Review, SetAside};
pub use text::Text;
pub use view::{CameraView, LightView, NARRATION_FIELD, SavedView, ViewState};
pub use vocabulary::{
    Certainty, ColourSpace, Comparison, Finish, LayerKind, LightMode, Response, StateKind,
    Technique, Verdict,
};

/// Fields that this version of the format does not know, kept as they were.
pub type OtherFields = serde_json::Map<String, serde_json::Value>;

/// The name of the format that this crate reads and writes.
pub const FORMAT: &str = "ganosis-dossier/1";

/// The file, at the top of the dossier, that holds the document.
pub const FILE_NAME: &str = "dossier.json";

/// One dossier: everything about one object.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["format", "id", "revision", "title", "surface"])))]
#[serde(default)]
pub struct Dossier {
    /// Name and version of the format: `ganosis-dossier/1`.
    pub format: String,
    /// Stable, human-readable id of the dossier.
    pub id: String,
    /// Counts the saves; a save made from an older revision is refused.
    pub revision: u64,
    /// Title, as on a label.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// What the object is and what this dossier is for.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub description: Text,
    /// A notice to show wherever the dossier is shown.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub notice: Text,
    /// BCP 47 tags of the languages the texts are written in, preferred first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub languages: Vec<String>,
    /// The object itself.
    pub object: ObjectRecord,
    /// Rights in the dossier as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rights: Option<Rights>,
    /// Those who measured, argued and proposed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub people: Vec<Person>,
    /// The mesh with its sheets and parts.
    pub surface: SurfaceRecord,
    /// Images over the surface.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub layers: Vec<Layer>,
    /// Appearances of the object.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub states: Vec<State>,
    /// The label images that say which texel belongs to which region.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub region_map: Option<RegionMap>,
    /// Areas of the surface that claims speak of.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub regions: Vec<Region>,
    /// Measured colours of paints.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub palette: Vec<PaletteEntry>,
    /// Observations: technique, place, result.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub evidence: Vec<Evidence>,
    /// What is said of the colour of regions and parts, and on what grounds.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub claims: Vec<Claim>,
    /// Findings of the audit that somebody lets stand, with the reason.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub set_aside: Vec<SetAside>,
    /// Markers on the surface with text.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pins: Vec<Pin>,
    /// Saved views, in the order of a tour.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub views: Vec<SavedView>,
    /// JSON paths of values of the wrong type that reading had to leave out;
    /// a dossier with any is not written back, since that would lose them.
    #[serde(skip)]
    pub left_out: Vec<String>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

impl Dossier {
    /// The language that is preferred: the first of the dossier, else English.
    #[must_use]
    pub fn language(&self) -> &str {
        self.languages.first().map_or("en", String::as_str)
    }

    /// The state with this id.
    #[must_use]
    pub fn state(&self, id: &str) -> Option<&State> {
        self.states.iter().find(|state| state.id == id)
    }

    /// The layer with this id.
    #[must_use]
    pub fn layer(&self, id: &str) -> Option<&Layer> {
        self.layers.iter().find(|layer| layer.id == id)
    }

    /// The region with this number in the region map (0 is "no region").
    #[must_use]
    pub fn region_numbered(&self, number: u32) -> Option<&Region> {
        self.regions.iter().find(|region| region.number == number)
    }
}
