//! Writing.

use ganosis_dossier::{Dossier, Text};
use serde_json::{Map, Value, json};

use super::EXTRAS;
use crate::error::ExportError;
use crate::names::titled;
use crate::site::licence_address;
use crate::solid::{Look, Mesh, ROUGHNESS, Solid, upright};

/// Numbers of glTF 2.0, section 5.1.3 and 3.6.2: component types and targets of buffer views.
const FLOAT: u32 = 5126;
const UNSIGNED_INT: u32 = 5125;
const ARRAY_BUFFER: u32 = 34962;
const ELEMENT_ARRAY_BUFFER: u32 = 34963;
/// Section 5.26: hold the edge; smooth between texels and levels.
const CLAMP_TO_EDGE: u32 = 33071;
const LINEAR: u32 = 9729;
const LINEAR_MIPMAP_LINEAR: u32 = 9987;

/// Section 4.4.2: length of the file and of chunks is a 32-bit number.
const LARGEST_BYTES: usize = u32::MAX as usize - (1 << 20);

/// The file.
///
/// # Errors
/// [`ExportError::TooLarge`].
pub fn to_glb(document: &Dossier, solid: &Solid) -> Result<Vec<u8>, ExportError> {
    let mut writer = Writer::default();
    let language = document.language();
    let looks: Vec<Value> = solid.looks.iter().map(material).collect();
    let hides = solid.meshes.iter().any(|m| m.in_states.contains(&None));
    let hidden = hides.then_some(looks.len());
    let mut nodes: Vec<Value> = Vec::new();
    let mut meshes: Vec<Value> = Vec::new();
    for mesh in &solid.meshes {
        let primitive = writer.primitive(mesh, hidden);
        meshes.push(json!({"name": mesh.name, "primitives": [primitive]}));
        let mut node = json!({"name": mesh.name, "mesh": meshes.len() - 1});
        node["extras"] = json!({EXTRAS: {"sheet": mesh.sheet, "parts": mesh.parts}});
        nodes.push(node);
    }
    let pins = pins(document, solid, language);
    let first_pin = nodes.len();
    nodes.extend(pins);
    let children: Vec<usize> = (0..nodes.len()).collect();
    let root = nodes.len();
    let mut object =
        json!({"name": titled(&document.title, &document.id, language), "children": children});
    if let Some([r, u, f]) = upright(document) {
        // Column by column, as glTF has matrices: the rows are right, up and front.
        object["matrix"] = json!([
            r[0], u[0], f[0], 0.0, r[1], u[1], f[1], 0.0, r[2], u[2], f[2], 0.0, 0.0, 0.0, 0.0,
            1.0,
        ]);
    }
    nodes.push(object);
    let mut gltf = json!({
        "asset": asset(document, language),
        "scene": 0,
        "scenes": [{"name": document.id, "nodes": [root]}],
        "nodes": nodes,
        "meshes": meshes,
        "extras": {EXTRAS: {
            "document": document.to_value(),
            "looks": solid.looks.iter().map(|look| json!({"sheet": look.sheet, "layers": look.layers})).collect::<Vec<_>>(),
            "first_pin": first_pin,
        }},
    });
    if let Some(reduced) = &solid.reduced {
        gltf["extras"][EXTRAS]["reduced"] = reduced.to_value();
    }
    let mut materials = looks;
    if hidden.is_some() {
        materials.push(json!({
            "name": "not shown", "alphaMode": "MASK", "alphaCutoff": 0.5,
            "pbrMetallicRoughness": {"baseColorFactor": [1.0, 1.0, 1.0, 0.0], "metallicFactor": 0.0}
        }));
    }
    gltf["materials"] = materials.into();
    if !solid.pictures.is_empty() {
        let images: Vec<Value> = solid
            .pictures
            .iter()
            .map(|picture| {
                let view = writer.view(&picture.bytes, None);
                json!({"name": picture.name, "mimeType": picture.media_type, "bufferView": view})
            })
            .collect();
        let textures: Vec<Value> = (0..images.len())
            .map(|source| json!({"source": source, "sampler": 0}))
            .collect();
        gltf["images"] = images.into();
        gltf["textures"] = textures.into();
        gltf["samplers"] = json!([{"magFilter": LINEAR, "minFilter": LINEAR_MIPMAP_LINEAR, "wrapS": CLAMP_TO_EDGE, "wrapT": CLAMP_TO_EDGE}]);
    }
    if !solid.states.is_empty() {
        let variants: Vec<Value> = document
            .states
            .iter()
            .map(|state| json!({"name": titled(&state.title, &state.id, language), "extras": {EXTRAS: {"state": state.id}}}))
            .collect();
        gltf["extensionsUsed"] = json!(["KHR_materials_variants"]);
        gltf["extensions"] = json!({"KHR_materials_variants": {"variants": variants}});
    }
    writer.finish(gltf)
}

fn asset(document: &Dossier, language: &str) -> Value {
    let mut asset =
        json!({"version": "2.0", "generator": concat!("ganosis ", env!("CARGO_PKG_VERSION"))});
    if let Some(rights) = &document.rights {
        let parts = [
            rights.credit.get(language),
            &licence_address(&rights.licence),
        ];
        let parts: Vec<&str> = parts.into_iter().filter(|text| !text.is_empty()).collect();
        if !parts.is_empty() {
            asset["copyright"] = parts.join(" ").into();
        }
    }
    asset
}

fn material(look: &Look) -> Value {
    let mut surface = Map::new();
    match look.picture {
        Some(picture) => {
            surface.insert("baseColorTexture".to_owned(), json!({"index": picture}));
        }
        None => {
            surface.insert("baseColorFactor".to_owned(), json!(look.colour));
        }
    }
    surface.insert("metallicFactor".to_owned(), json!(0.0));
    surface.insert("roughnessFactor".to_owned(), json!(ROUGHNESS));
    let mut material = json!({"name": look.name, "pbrMetallicRoughness": surface});
    if look.double_sided {
        material["doubleSided"] = true.into();
    }
    if look.picture.is_none() && look.colour[3] < 1.0 {
        material["alphaMode"] = "BLEND".into();
    }
    material
}

/// One node a pin and an observation with a place.
fn pins(document: &Dossier, solid: &Solid, language: &str) -> Vec<Value> {
    let mut nodes = Vec::new();
    let mut add = |kind: &'static str, id: &str, title: &Text, record: Value| {
        if let Some(place) = solid.places.get(&(kind, id.to_owned())) {
            nodes.push(json!({
                "name": titled(title, id, language),
                "translation": place.to_array(),
                "extras": {EXTRAS: {kind: record}},
            }));
        }
    };
    for pin in &document.pins {
        add(
            "pin",
            &pin.id,
            &pin.title,
            serde_json::to_value(pin).unwrap_or_default(),
        );
    }
    for item in &document.evidence {
        let record = serde_json::to_value(item).unwrap_or_default();
        add("evidence", &item.id, &item.title, record);
    }
    nodes
}

#[derive(Default)]
struct Writer {
    bytes: Vec<u8>,
    views: Vec<Value>,
    accessors: Vec<Value>,
}

impl Writer {
    /// Adds a buffer view, aligned to 4 bytes (section 3.6.2.4).
    fn view(&mut self, data: &[u8], target: Option<u32>) -> usize {
        while !self.bytes.len().is_multiple_of(4) {
            self.bytes.push(0);
        }
        let mut view =
            json!({"buffer": 0, "byteOffset": self.bytes.len(), "byteLength": data.len()});
        if let Some(target) = target {
            view["target"] = target.into();
        }
        self.bytes.extend_from_slice(data);
        self.views.push(view);
        self.views.len() - 1
    }

    fn accessor(&mut self, data: &[u8], target: u32, mut accessor: Value) -> usize {
        accessor["bufferView"] = self.view(data, Some(target)).into();
        self.accessors.push(accessor);
        self.accessors.len() - 1
    }

    fn vectors<const N: usize>(&mut self, data: &[[f32; N]], bounds: bool) -> usize {
        let kind = if N == 3 { "VEC3" } else { "VEC2" };
        let mut accessor = json!({"componentType": FLOAT, "count": data.len(), "type": kind});
        if bounds {
            let fold = |start: f32, of: fn(f32, f32) -> f32| -> Vec<f32> {
                (0..N)
                    .map(|k| data.iter().map(|v| v[k]).fold(start, of))
                    .collect()
            };
            accessor["min"] = json!(fold(f32::INFINITY, f32::min));
            accessor["max"] = json!(fold(f32::NEG_INFINITY, f32::max));
        }
        let bytes: Vec<u8> = data
            .as_flattened()
            .iter()
            .flat_map(|v| v.to_le_bytes())
            .collect();
        self.accessor(&bytes, ARRAY_BUFFER, accessor)
    }

    fn primitive(&mut self, mesh: &Mesh, hidden: Option<usize>) -> Value {
        let position = self.vectors(&mesh.positions, true);
        let normal = self.vectors(&mesh.normals, false);
        let indices: Vec<u8> = mesh.indices.iter().flat_map(|i| i.to_le_bytes()).collect();
        let about =
            json!({"componentType": UNSIGNED_INT, "count": mesh.indices.len(), "type": "SCALAR"});
        let index = self.accessor(&indices, ELEMENT_ARRAY_BUFFER, about);
        // Also where nothing is pictured yet: layers will lie there.
        let uv = self.vectors(&mesh.uvs, false);
        let attributes = json!({"POSITION": position, "NORMAL": normal, "TEXCOORD_0": uv});
        let first = mesh.in_states.first().copied().unwrap_or(Some(mesh.usual));
        let mut primitive = json!({
            "attributes": attributes, "indices": index, "mode": 4,
            "material": first.or(hidden).unwrap_or(mesh.usual),
        });
        if !mesh.in_states.is_empty() {
            // One entry a material, with all its states.
            let mut mappings: Vec<(usize, Vec<usize>)> = Vec::new();
            for (state, look) in mesh.in_states.iter().enumerate() {
                let material = look.or(hidden).unwrap_or(mesh.usual);
                match mappings.iter_mut().find(|(known, _)| *known == material) {
                    Some((_, states)) => states.push(state),
                    None => mappings.push((material, vec![state])),
                }
            }
            let mappings: Vec<Value> = mappings
                .into_iter()
                .map(|(material, variants)| json!({"material": material, "variants": variants}))
                .collect();
            primitive["extensions"] = json!({"KHR_materials_variants": {"mappings": mappings}});
        }
        primitive
    }

    fn finish(self, mut gltf: Value) -> Result<Vec<u8>, ExportError> {
        let length = self.bytes.len();
        gltf["accessors"] = self.accessors.into();
        gltf["bufferViews"] = self.views.into();
        gltf["buffers"] = json!([{"byteLength": length}]);
        packed(&gltf, &self.bytes).ok_or(ExportError::TooLarge {
            what: "the file",
            limit: "4 GiB",
            advice: "Export it for the web, with smaller pictures.",
        })
    }
}

/// Header, JSON and binary chunk (section 4.4); `None` if that is more than a file can be.
pub(super) fn packed(gltf: &Value, bytes: &[u8]) -> Option<Vec<u8>> {
    let mut text = serde_json::to_vec(gltf).unwrap_or_default();
    while !text.len().is_multiple_of(4) {
        text.push(b' ');
    }
    let padding = bytes.len().next_multiple_of(4) - bytes.len();
    let total = 28 + text.len() + bytes.len() + padding;
    if total > LARGEST_BYTES {
        return None;
    }
    let mut out = Vec::with_capacity(total);
    let words = [0x4654_6c67, 2, total as u32, text.len() as u32, 0x4e4f_534a];
    out.extend(words.into_iter().flat_map(u32::to_le_bytes));
    out.extend_from_slice(&text);
    let words = [(bytes.len() + padding) as u32, 0x004e_4942];
    out.extend(words.into_iter().flat_map(u32::to_le_bytes));
    out.extend_from_slice(bytes);
    out.resize(total, 0);
    Some(out)
}
