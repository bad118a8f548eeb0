//! The JSON: parsed into the `gltf` crate's types piece by piece, so that an
//! error names the piece, and only as far as shape and base colour need.

use gltf::json;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::extensions;
use crate::SurfaceError;

/// The typed document, and the raw one for extensions that the types leave out.
pub(super) struct Document {
    pub(super) root: json::Root,
    pub(super) raw: Value,
}

impl Document {
    pub(super) fn parse(text: &[u8]) -> Result<Self, SurfaceError> {
        let raw: Value = serde_json::from_slice(text).map_err(|e| {
            SurfaceError::container(
                format!("JSON, line {} column {}", e.line(), e.column()),
                e.to_string(),
            )
        })?;
        let version = raw
            .pointer("/asset/version")
            .and_then(Value::as_str)
            .unwrap_or_default();
        if !version.starts_with("2.") {
            return Err(SurfaceError::invalid(
                "asset.version",
                format!("it is “{version}”, and only glTF 2.x can be opened"),
            ));
        }
        let required: Vec<String> = array(&raw, "extensionsRequired")?;
        extensions::check(&required)?;
        let root = json::Root {
            accessors: array(&raw, "accessors")?,
            buffers: array(&raw, "buffers")?,
            buffer_views: array(&raw, "bufferViews")?,
            images: array(&raw, "images")?,
            materials: array(&raw, "materials")?,
            meshes: array(&raw, "meshes")?,
            nodes: array(&raw, "nodes")?,
            samplers: array(&raw, "samplers")?,
            scenes: array(&raw, "scenes")?,
            textures: array(&raw, "textures")?,
            scene: field(&raw, "scene")?,
            extensions: field(&raw, "extensions")?,
            extensions_required: required,
            ..Default::default()
        };
        Ok(Self { root, raw })
    }

    /// An extension object of an element of a top-level array.
    pub(super) fn extension(&self, array: &str, index: usize, name: &str) -> Option<&Value> {
        self.raw
            .get(array)?
            .get(index)?
            .get("extensions")?
            .get(name)
    }

    /// Whether a top-level array has anything in it.
    pub(super) fn has(&self, array: &str) -> bool {
        self.raw
            .get(array)
            .and_then(Value::as_array)
            .is_some_and(|a| !a.is_empty())
    }
}

fn typed<T: DeserializeOwned>(value: &Value, at: impl Fn() -> String) -> Result<T, SurfaceError> {
    T::deserialize(value).map_err(|e| SurfaceError::invalid(at(), e.to_string()))
}

fn field<T: DeserializeOwned>(raw: &Value, name: &str) -> Result<Option<T>, SurfaceError> {
    raw.get(name).map(|v| typed(v, || name.into())).transpose()
}

fn array<T: DeserializeOwned>(raw: &Value, name: &str) -> Result<Vec<T>, SurfaceError> {
    match raw.get(name) {
        None => Ok(Vec::new()),
        Some(Value::Array(items)) => items
            .iter()
            .enumerate()
            .map(|(i, item)| typed(item, || format!("{name}[{i}]")))
            .collect(),
        Some(_) => Err(SurfaceError::invalid(name, "it must be a list")),
    }
}
