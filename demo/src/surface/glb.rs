//! The surface as a binary glTF 2.0 file (Khronos glTF 2.0 specification, GLB container).

use super::mesh::Mesh;
use super::unwrap::Sheet;
use anyhow::Result;
use glam::Vec3;
use serde_json::{Value, json};
use std::collections::HashMap;

/// Metres per centimetre: the carving is designed in centimetres, glTF is in metres.
pub(crate) const METRE_PER_CM: f32 = 0.01;

struct Writer {
    bytes: Vec<u8>,
    views: Vec<Value>,
    accessors: Vec<Value>,
}

impl Writer {
    fn add(&mut self, data: &[u8], target: u32, accessor: Value) -> usize {
        while !self.bytes.len().is_multiple_of(4) {
            self.bytes.push(0);
        }
        self.views.push(json!({
            "buffer": 0, "byteOffset": self.bytes.len(), "byteLength": data.len(), "target": target
        }));
        self.bytes.extend_from_slice(data);
        let mut accessor = accessor;
        accessor["bufferView"] = json!(self.views.len() - 1);
        self.accessors.push(accessor);
        self.accessors.len() - 1
    }

    fn vectors<const N: usize>(&mut self, data: &[[f32; N]], extent: bool) -> usize {
        let mut a = json!({
            "componentType": 5126, "count": data.len(), "type": if N == 3 { "VEC3" } else { "VEC2" }
        });
        if extent {
            let fold = |start: f32, f: fn(f32, f32) -> f32| -> Vec<f32> {
                (0..N)
                    .map(|k| data.iter().map(|v| v[k]).fold(start, f))
                    .collect()
            };
            a["min"] = json!(fold(f32::MAX, f32::min));
            a["max"] = json!(fold(f32::MIN, f32::max));
        }
        self.add(bytemuck::cast_slice(data.as_flattened()), 34962, a)
    }

    fn primitive(
        &mut self,
        meshes: &[&Mesh; 2],
        sheet: &Sheet,
        range: std::ops::Range<usize>,
        material: usize,
    ) -> Value {
        let mut known: HashMap<u32, u32> = HashMap::new();
        let (mut positions, mut normals, mut uvs) = (Vec::new(), Vec::new(), Vec::new());
        let mut indices: Vec<u32> = Vec::new();
        for t in &sheet.triangles[range] {
            for c in t {
                indices.push(*known.entry(*c).or_insert_with(|| {
                    let corner = &sheet.corners[*c as usize];
                    let mesh = meshes[corner.mesh as usize];
                    positions
                        .push((mesh.positions[corner.vertex as usize] * METRE_PER_CM).to_array());
                    let n: Vec3 = mesh.normals[corner.vertex as usize];
                    normals.push(n.to_array());
                    uvs.push(corner.uv.to_array());
                    positions.len() as u32 - 1
                }));
            }
        }
        let index_count = indices.len();
        let position = self.vectors(&positions, true);
        let normal = self.vectors(&normals, false);
        let uv = self.vectors(&uvs, false);
        let index = self.add(
            bytemuck::cast_slice(&indices),
            34963,
            json!({"componentType": 5125, "count": index_count, "type": "SCALAR"}),
        );
        json!({
            "attributes": {"POSITION": position, "NORMAL": normal, "TEXCOORD_0": uv},
            "indices": index, "material": material, "mode": 4
        })
    }
}

/// Writes boss and bill as two nodes over the given sheets.
pub(crate) fn write(meshes: &[&Mesh; 2], sheets: &[Sheet]) -> Result<Vec<u8>> {
    let mut w = Writer {
        bytes: Vec::new(),
        views: Vec::new(),
        accessors: Vec::new(),
    };
    let (mut boss, mut bill) = (Vec::new(), Vec::new());
    for (i, s) in sheets.iter().enumerate() {
        boss.push(w.primitive(meshes, s, 0..s.of_boss, i));
        if s.of_boss < s.triangles.len() {
            bill.push(w.primitive(meshes, s, s.of_boss..s.triangles.len(), i));
        }
    }
    let materials: Vec<Value> = sheets
        .iter()
        .map(|s| json!({
            "name": s.id,
            "pbrMetallicRoughness": {"baseColorFactor": [0.52, 0.48, 0.41, 1.0], "metallicFactor": 0.0, "roughnessFactor": 0.95}
        }))
        .collect();
    while !w.bytes.len().is_multiple_of(4) {
        w.bytes.push(0);
    }
    let root = json!({
        "asset": {"version": "2.0", "generator": "ganosis-demo", "copyright": "CC0 1.0. Invented object."},
        "scene": 0,
        "scenes": [{"name": "Sallowmere boss", "nodes": [0, 1]}],
        "nodes": [{"name": "boss", "mesh": 0}, {"name": "bill", "mesh": 1}],
        "meshes": [{"name": "boss", "primitives": boss}, {"name": "bill", "primitives": bill}],
        "materials": materials,
        "accessors": w.accessors,
        "bufferViews": w.views,
        "buffers": [{"byteLength": w.bytes.len()}]
    });
    let mut text = serde_json::to_vec(&root)?;
    while !text.len().is_multiple_of(4) {
        text.push(b' ');
    }
    let mut out = Vec::with_capacity(28 + text.len() + w.bytes.len());
    let total = 28 + text.len() + w.bytes.len();
    for word in [0x4654_6c67, 2, total as u32, text.len() as u32, 0x4e4f_534a] {
        out.extend_from_slice(&u32::to_le_bytes(word));
    }
    out.extend_from_slice(&text);
    out.extend_from_slice(&(w.bytes.len() as u32).to_le_bytes());
    out.extend_from_slice(&0x004e_4942_u32.to_le_bytes());
    out.extend_from_slice(&w.bytes);
    Ok(out)
}
