//! A level as a .glb with open extensions: `EXT_meshopt_compression` and `KHR_mesh_quantization`.

use meshoptimizer_rs::Workspace;
use meshoptimizer_rs::codec::{
    ExpMode, IndexEncoding, VertexEncoding, encode_filter_exp, encode_filter_oct,
    encode_index_buffer, encode_vertex_buffer,
};
use serde_json::{Value, json};

use crate::{AlphaMode, Patch, Surface};

/// Bits of a position's mantissa, with one exponent an axis: steps of 1/131,072 of the largest coordinate,
/// 5 µm on an object of 0.6 m (a choice of ours; what it costs is measured).
const POSITION_BITS: u32 = 18;
/// The same for UVs: 1/64 of a texel on a sheet of 16,384 px.
const UV_BITS: u32 = 21;
/// Bits a side of the octahedron that a normal is unfolded from: 0.03° at worst.
const NORMAL_BITS: u32 = 12;
/// glTF: `ARRAY_BUFFER` and `ELEMENT_ARRAY_BUFFER` (glTF 2.0, 5.11.5), float, short, byte, int (3.6.2.2).
const ARRAY: u32 = 34962;
const ELEMENTS: u32 = 34963;
const FLOAT: u32 = 5126;
const SHORT: u32 = 5122;
const UNSIGNED_BYTE: u32 = 5121;
const UNSIGNED_INT: u32 = 5125;

/// The surface as a file: sheets by name and colour without their images, nodes, patches, and UVs as they
/// lie on the sheets.
#[must_use]
pub fn packed(surface: &Surface) -> Vec<u8> {
    let mut out = Out::default();
    let mut tree = NodeTree::default();
    for patch in &surface.patches {
        let primitive = out.primitive(surface, patch);
        tree.put(&patch.node_path, primitive);
    }
    let materials: Vec<Value> = surface.sheets.iter().map(material).collect();
    let quantised = ["EXT_meshopt_compression", "KHR_mesh_quantization"];
    let mut json = json!({
        "asset": {"version": "2.0", "generator": "ganosis"},
        "extensionsUsed": quantised,
        "extensionsRequired": quantised,
        "scene": 0,
        "scenes": [{"nodes": tree.roots}],
        "nodes": tree.nodes,
        "meshes": tree.meshes.iter().map(|p| json!({"primitives": p})).collect::<Vec<_>>(),
        "materials": materials,
        "accessors": out.accessors,
        "bufferViews": out.views,
        "buffers": [
            {"byteLength": out.bytes.len()},
            {"byteLength": out.unpacked, "extensions": {"EXT_meshopt_compression": {"fallback": true}}},
        ],
    });
    if let Some(object) = json.as_object_mut() {
        object.retain(|_, value| value.as_array().is_none_or(|list| !list.is_empty()));
    }
    file(&json, out.bytes)
}

/// A .glb of its two chunks (glTF 2.0, 4.4).
fn file(json: &Value, mut bytes: Vec<u8>) -> Vec<u8> {
    let mut text = json.to_string().into_bytes();
    text.resize(text.len().next_multiple_of(4), b' ');
    bytes.resize(bytes.len().next_multiple_of(4), 0);
    let length = 12 + 8 + text.len() + 8 + bytes.len();
    let word = |n: usize| (n as u32).to_le_bytes();
    let mut file = Vec::with_capacity(length);
    file.extend_from_slice(b"glTF");
    file.extend(word(2).into_iter().chain(word(length)));
    file.extend(word(text.len()));
    file.extend_from_slice(b"JSON");
    file.extend(text);
    file.extend(word(bytes.len()));
    file.extend_from_slice(b"BIN\0");
    file.extend(bytes);
    file
}

fn material(sheet: &crate::Sheet) -> Value {
    let mut material = json!({
        "name": sheet.name,
        "pbrMetallicRoughness": {"baseColorFactor": sheet.base_colour},
        "doubleSided": sheet.double_sided,
    });
    match sheet.alpha {
        AlphaMode::Opaque => {}
        AlphaMode::Mask(cutoff) => {
            material["alphaMode"] = "MASK".into();
            material["alphaCutoff"] = cutoff.into();
        }
        AlphaMode::Blend => material["alphaMode"] = "BLEND".into(),
    }
    material
}

/// Nodes by the paths of the patches, in their order.
#[derive(Default)]
struct NodeTree {
    nodes: Vec<Value>,
    meshes: Vec<Vec<Value>>,
    roots: Vec<usize>,
    /// From the root to the node that was put last.
    open: Vec<(String, usize)>,
}

impl NodeTree {
    fn put(&mut self, path: &[String], primitive: Value) {
        let known = self
            .open
            .iter()
            .zip(path)
            .take_while(|((name, _), own)| name == *own);
        let mut common = known.count();
        if common == path.len() && self.open.len() > path.len() {
            // Another node of the same name: children of the first come before it.
            common = common.saturating_sub(1);
        }
        self.open.truncate(common);
        for name in &path[common..] {
            let number = self.nodes.len();
            self.nodes.push(json!({"name": name}));
            match self.open.last() {
                Some((_, parent)) => match self.nodes[*parent]["children"].as_array_mut() {
                    Some(children) => children.push(number.into()),
                    None => self.nodes[*parent]["children"] = json!([number]),
                },
                None => self.roots.push(number),
            }
            self.open.push((name.clone(), number));
        }
        let Some((_, node)) = self.open.last() else {
            return;
        };
        if let Some(mesh) = self.nodes[*node]["mesh"].as_u64() {
            self.meshes[mesh as usize].push(primitive);
        } else {
            self.nodes[*node]["mesh"] = self.meshes.len().into();
            self.meshes.push(vec![primitive]);
        }
    }
}

#[derive(Default)]
struct Out {
    bytes: Vec<u8>,
    /// Bytes of the buffer that is never there: what the views unpack to.
    unpacked: usize,
    views: Vec<Value>,
    accessors: Vec<Value>,
}

impl Out {
    fn primitive(&mut self, surface: &Surface, patch: &Patch) -> Value {
        let count = patch.positions.len();
        let bounds = |pick: fn(f32, f32) -> f32, from: f32| {
            let start = [from; 3];
            patch.positions.iter().fold(start, |all, p| {
                [pick(all[0], p.x), pick(all[1], p.y), pick(all[2], p.z)]
            })
        };
        let positions: &[f32] = bytemuck::cast_slice(&patch.positions);
        let uvs: Vec<f32> = (0..count)
            .flat_map(|v| surface.sheet_uv(patch, v).to_array())
            .collect();
        let mut attributes = json!({
            "POSITION": self.floats(positions, 3, POSITION_BITS),
            "NORMAL": self.normals(patch),
            "TEXCOORD_0": self.floats(&uvs, 2, UV_BITS),
        });
        // What the packing rounds may lie a step beyond.
        let step = |x: f32| x.abs() * (2.0_f32).powi(1 - POSITION_BITS as i32);
        let (low, high) = (bounds(f32::min, f32::MAX), bounds(f32::max, f32::MIN));
        let at = attributes["POSITION"].as_u64().unwrap_or_default() as usize;
        let most = step(low.iter().chain(&high).fold(0.0_f32, |m, x| m.max(x.abs())));
        self.accessors[at]["min"] = json!(low.map(|x| x - most));
        self.accessors[at]["max"] = json!(high.map(|x| x + most));
        if let Some(colours) = &patch.colours {
            let codes: Vec<u8> = colours
                .iter()
                .flatten()
                .map(|x| (x.clamp(0.0, 1.0) * 255.0).round() as u8)
                .collect();
            let view = self.packed_vertices(&codes, 4, "NONE");
            let accessor =
                json!({"componentType": UNSIGNED_BYTE, "normalized": true, "type": "VEC4"});
            attributes["COLOR_0"] = self.accessor(view, count, accessor).into();
        }
        json!({
            "attributes": attributes,
            "indices": self.indices(&patch.indices),
            "material": patch.sheet,
        })
    }

    fn floats(&mut self, values: &[f32], width: usize, bits: u32) -> usize {
        let count = values.len() / width;
        let mut workspace = Workspace::default();
        let mode = ExpMode::SharedComponent;
        let filtered = encode_filter_exp(count, width * 4, bits, values, mode, &mut workspace);
        let (bytes, filter) = match filtered {
            Ok(bytes) => (bytes, "EXPONENTIAL"),
            // Numbers beyond the filter's reach stay as they are.
            Err(_) => (bytemuck::cast_slice(values).to_vec(), "NONE"),
        };
        let view = self.packed_vertices(&bytes, width * 4, filter);
        let kind = if width == 3 { "VEC3" } else { "VEC2" };
        self.accessor(view, count, json!({"componentType": FLOAT, "type": kind}))
    }

    fn normals(&mut self, patch: &Patch) -> usize {
        let four: Vec<f32> = patch
            .normals
            .iter()
            .flat_map(|n| [n.x, n.y, n.z, 0.0])
            .collect();
        let mut workspace = Workspace::default();
        let count = patch.normals.len();
        let filtered = encode_filter_oct(count, 8, NORMAL_BITS, &four, &mut workspace);
        let (bytes, filter) = match filtered {
            Ok(bytes) => (bytes, "OCTAHEDRAL"),
            Err(_) => {
                let short = |x: &f32| ((x.clamp(-1.0, 1.0) * 32767.0).round() as i16).to_le_bytes();
                (four.iter().flat_map(short).collect(), "NONE")
            }
        };
        let view = self.packed_vertices(&bytes, 8, filter);
        let accessor = json!({"componentType": SHORT, "normalized": true, "type": "VEC3"});
        self.accessor(view, count, accessor)
    }

    fn indices(&mut self, indices: &[u32]) -> usize {
        let mut workspace = Workspace::default();
        let encoding = IndexEncoding::new(1).unwrap_or_default();
        let bytes = encode_index_buffer(indices, encoding, &mut workspace);
        let view = self.view(
            bytes.unwrap_or_default(),
            indices.len(),
            4,
            json!({"mode": "TRIANGLES"}),
            ELEMENTS,
        );
        self.accessor(
            view,
            indices.len(),
            json!({"componentType": UNSIGNED_INT, "type": "SCALAR"}),
        )
    }

    fn packed_vertices(&mut self, bytes: &[u8], stride: usize, filter: &str) -> usize {
        let count = bytes.len() / stride;
        let mut workspace = Workspace::default();
        // Version 0 is that of the extension; the level only says how much work is done.
        let encoding = VertexEncoding::new(0, 3).unwrap_or_default();
        let packed = encode_vertex_buffer(bytes, count, stride, encoding, &mut workspace);
        let how = json!({"mode": "ATTRIBUTES", "filter": filter});
        self.view(packed.unwrap_or_default(), count, stride, how, ARRAY)
    }

    fn view(
        &mut self,
        bytes: Vec<u8>,
        count: usize,
        stride: usize,
        how: Value,
        target: u32,
    ) -> usize {
        let mut packing = how;
        packing["buffer"] = 0.into();
        packing["byteOffset"] = self.bytes.len().into();
        packing["byteLength"] = bytes.len().into();
        packing["byteStride"] = stride.into();
        packing["count"] = count.into();
        self.bytes.extend(bytes);
        self.bytes.resize(self.bytes.len().next_multiple_of(4), 0);
        let mut view = json!({
            "buffer": 1,
            "byteOffset": self.unpacked,
            "byteLength": count * stride,
            "target": target,
            "extensions": {"EXT_meshopt_compression": packing},
        });
        if target == ARRAY {
            view["byteStride"] = stride.into();
        }
        self.unpacked += (count * stride).next_multiple_of(4);
        self.views.push(view);
        self.views.len() - 1
    }

    fn accessor(&mut self, view: usize, count: usize, mut accessor: Value) -> usize {
        accessor["bufferView"] = view.into();
        accessor["count"] = count.into();
        self.accessors.push(accessor);
        self.accessors.len() - 1
    }
}
