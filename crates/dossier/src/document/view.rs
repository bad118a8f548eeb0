//! Saved views: what is compared, from where, in which light.

use serde::{Deserialize, Serialize};

use super::{Comparison, LightMode, OtherFields, Text};

/// A saved view with its text; views in order make a tour.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["id", "view"])))]
#[serde(default)]
pub struct SavedView {
    /// Id, unique among views.
    pub id: String,
    /// Title for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub title: Text,
    /// Text for people.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub text: Text,
    /// The view itself.
    pub view: ViewState,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// The field of a view that names its narration.
pub const NARRATION_FIELD: &str = "narration";

impl SavedView {
    /// Files of its narration: language tag, `audio` or `captions`, and path. The viewer reads the field by
    /// itself, so it is kept with the fields that this version does not know.
    pub fn recordings(&self) -> impl Iterator<Item = (&str, &'static str, &str)> {
        let narration = self.other.get(NARRATION_FIELD);
        let tags = narration.and_then(|n| n.as_object()).into_iter().flatten();
        tags.flat_map(|(tag, recording)| {
            ["audio", "captions"].into_iter().filter_map(|field| {
                let file = recording.get(field)?.as_str()?;
                Some((tag.as_str(), field, file))
            })
        })
    }
}

/// State of the screen. Every field may be missing: what is missing stays as it is.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct ViewState {
    /// Id of a state or a band layer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left: Option<String>,
    /// Id of a state or a band layer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub right: Option<String>,
    /// How they are compared.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub compare: Option<Comparison>,
    /// Place of the divider or share of the right one, 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position: Option<f64>,
    /// Turn of the divider in degrees; 0 is upright.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub angle_deg: Option<f64>,
    /// From where.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub camera: Option<CameraView>,
    /// In which light.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub light: Option<LightView>,
    /// CIELAB L* of the neutral surround, 0 to 100.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub surround_l: Option<f64>,
    /// Id of the open pin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pin: Option<String>,
    /// Id of the outlined region.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    /// BCP 47 tag of the language of the texts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub language: Option<String>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A camera on an orbit about a target.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct CameraView {
    /// Point looked at, metres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub target_m: Option<[f64; 3]>,
    /// Turn about the vertical, degrees; 0 sees the front.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub azimuth_deg: Option<f64>,
    /// Height above the horizontal, degrees, -90 to 90.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub elevation_deg: Option<f64>,
    /// Distance from the target, metres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distance_m: Option<f64>,
    /// Vertical field of view, degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fov_deg: Option<f64>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// Light on the surface.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(default)]
pub struct LightView {
    /// Unlit, under lamps or under the sky.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mode: Option<LightMode>,
    /// Direction about the view, degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub azimuth_deg: Option<f64>,
    /// Height above the surface, degrees, 0 to 90.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub elevation_deg: Option<f64>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}
