//! A surface as a binary glTF 2.0 file (Khronos glTF 2.0 specification, section 4).

use std::collections::HashMap;

use ganosis_surface::{AlphaMode, Patch, Sheet, Surface};
use glam::Vec3;
use serde_json::{Value, json};

/// Component types and targets of buffers by their numbers in the specification.
const FLOAT: u32 = 5126;
const UNSIGNED_INT: u32 = 5125;
const ARRAY_BUFFER: u32 = 34962;
const ELEMENT_ARRAY_BUFFER: u32 = 34963;

/// The words `glTF`, `JSON` and `BIN` that mark the file and its chunks.
const MAGIC: u32 = 0x4654_6c67;
const JSON_CHUNK: u32 = 0x4e4f_534a;
const BIN_CHUNK: u32 = 0x004e_4942;

#[derive(Default)]
struct Buffer {
    bytes: Vec<u8>,
    views: Vec<Value>,
    accessors: Vec<Value>,
}

impl Buffer {
    /// Adds values of four bytes; gives the number of their accessor.
    fn add(
        &mut self,
        words: impl Iterator<Item = [u8; 4]>,
        target: u32,
        mut accessor: Value,
    ) -> usize {
        let first = self.bytes.len();
        self.bytes.extend(words.flatten());
        self.views.push(json!({
            "buffer": 0, "byteOffset": first, "byteLength": self.bytes.len() - first, "target": target
        }));
        accessor["bufferView"] = json!(self.views.len() - 1);
        self.accessors.push(accessor);
        self.accessors.len() - 1
    }

    fn vectors<const N: usize>(&mut self, values: &[[f32; N]], extent: Option<[Vec3; 2]>) -> usize {
        let kind = match N {
            2 => "VEC2",
            3 => "VEC3",
            _ => "VEC4",
        };
        let mut accessor = json!({"componentType": FLOAT, "count": values.len(), "type": kind});
        if let Some([min, max]) = extent {
            accessor["min"] = json!(min.to_array());
            accessor["max"] = json!(max.to_array());
        }
        let words = values.iter().flatten().map(|v| v.to_le_bytes());
        self.add(words, ARRAY_BUFFER, accessor)
    }

    fn primitive(&mut self, patch: &Patch) -> Value {
        let arrays = |values: &[Vec3]| values.iter().map(|v| v.to_array()).collect::<Vec<_>>();
        let min = patch
            .positions
            .iter()
            .copied()
            .fold(Vec3::INFINITY, Vec3::min);
        let max = patch
            .positions
            .iter()
            .copied()
            .fold(Vec3::NEG_INFINITY, Vec3::max);
        let uvs: Vec<[f32; 2]> = patch.uvs.iter().map(|uv| uv.to_array()).collect();
        let mut attributes = json!({
            "POSITION": self.vectors(&arrays(&patch.positions), Some([min, max])),
            "TEXCOORD_0": self.vectors(&uvs, None),
        });
        // A file's normals are of length 1, all or none.
        let normals = &patch.normals;
        if normals.len() == patch.positions.len() && normals.iter().all(|n| *n != Vec3::ZERO) {
            attributes["NORMAL"] = json!(self.vectors(&arrays(normals), None));
        }
        if let Some(colours) = &patch.colours {
            attributes["COLOR_0"] = json!(self.vectors(colours, None));
        }
        let accessor = json!({
            "componentType": UNSIGNED_INT, "count": patch.indices.len(), "type": "SCALAR"
        });
        let words = patch.indices.iter().map(|v| v.to_le_bytes());
        let indices = self.add(words, ELEMENT_ARRAY_BUFFER, accessor);
        json!({"attributes": attributes, "indices": indices, "material": patch.sheet})
    }
}

/// Nodes by their path of names: one for each name, in the places that they had.
#[derive(Default)]
struct Nodes {
    nodes: Vec<Value>,
    roots: Vec<usize>,
    of_path: HashMap<Vec<String>, usize>,
}

impl Nodes {
    fn at(&mut self, path: &[String]) -> usize {
        if let Some(known) = self.of_path.get(path) {
            return *known;
        }
        let mut node = json!({});
        if let Some(name) = path.last() {
            node["name"] = json!(name);
        }
        let number = self.nodes.len();
        self.nodes.push(node);
        self.of_path.insert(path.to_vec(), number);
        match path.split_last() {
            Some((_, above)) if !above.is_empty() => {
                let parent = self.at(above);
                match self.nodes[parent]["children"].as_array_mut() {
                    Some(children) => children.push(json!(number)),
                    None => self.nodes[parent]["children"] = json!([number]),
                }
            }
            _ => self.roots.push(number),
        }
        number
    }
}

fn material(sheet: &Sheet) -> Value {
    let mut out = json!({
        "name": sheet.name,
        "doubleSided": sheet.double_sided,
        "pbrMetallicRoughness": {"baseColorFactor": sheet.base_colour, "metallicFactor": 0.0},
    });
    match sheet.alpha {
        AlphaMode::Opaque => {}
        AlphaMode::Mask(cutoff) => {
            out["alphaMode"] = json!("MASK");
            out["alphaCutoff"] = json!(cutoff);
        }
        AlphaMode::Blend => out["alphaMode"] = json!("BLEND"),
    }
    out
}

/// The bytes of the file.
///
/// # Errors
/// It would be larger than a file of this kind can be.
pub(super) fn of(surface: &Surface) -> Result<Vec<u8>, String> {
    let mut buffer = Buffer::default();
    let mut nodes = Nodes::default();
    // Primitives of one node are one mesh.
    let mut meshes: Vec<(usize, Vec<Value>)> = Vec::new();
    for patch in surface.patches.iter().filter(|p| p.triangle_count() > 0) {
        let node = nodes.at(&patch.node_path);
        let primitive = buffer.primitive(patch);
        match meshes.iter_mut().find(|mesh| mesh.0 == node) {
            Some((_, primitives)) => primitives.push(primitive),
            None => meshes.push((node, vec![primitive])),
        }
    }
    for (number, (node, _)) in meshes.iter().enumerate() {
        nodes.nodes[*node]["mesh"] = json!(number);
    }
    let meshes = meshes.into_iter().map(|m| json!({"primitives": m.1}));
    let root = json!({
        "asset": {"version": "2.0", "generator": "ganosis unwrap"},
        "scene": 0, "scenes": [{"nodes": nodes.roots}], "nodes": nodes.nodes,
        "meshes": meshes.collect::<Vec<_>>(),
        "materials": surface.sheets.iter().map(material).collect::<Vec<_>>(),
        "accessors": buffer.accessors, "bufferViews": buffer.views,
        "buffers": [{"byteLength": buffer.bytes.len()}],
    });
    let mut text = root.to_string().into_bytes();
    text.resize(text.len().next_multiple_of(4), b' ');
    // Twelve bytes of head, eight before each chunk.
    let total = 12 + 8 + text.len() + 8 + buffer.bytes.len();
    let total =
        u32::try_from(total).map_err(|_| "the file would be larger than 4 GiB".to_owned())?;
    let mut out = Vec::with_capacity(total as usize);
    let head = [MAGIC, 2, total, text.len() as u32, JSON_CHUNK];
    out.extend(head.iter().flat_map(|w| w.to_le_bytes()));
    out.extend(&text);
    let head = [buffer.bytes.len() as u32, BIN_CHUNK];
    out.extend(head.iter().flat_map(|w| w.to_le_bytes()));
    out.extend(&buffer.bytes);
    Ok(out)
}
