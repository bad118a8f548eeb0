//! Small meshes of which everything is known.

use serde_json::json;

/// A square of one metre in the plane z = 0 that faces +z, moved by `translation_m`, as .glb (glTF
/// 2.0): one sheet called “front”, v = 0 at its upper edge.
#[must_use]
pub fn square_glb(translation_m: [f64; 3]) -> Vec<u8> {
    let floats: [f32; 32] = [
        -0.5, -0.5, 0.0, 0.5, -0.5, 0.0, 0.5, 0.5, 0.0, -0.5, 0.5, 0.0, //
        0.0, 0.0, 1.0, 0.0, 0.0, 1.0, 0.0, 0.0, 1.0, 0.0, 0.0, 1.0, //
        0.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0,
    ];
    let mut bin: Vec<u8> = floats.iter().flat_map(|f| f.to_le_bytes()).collect();
    bin.extend([0_u16, 1, 2, 0, 2, 3].iter().flat_map(|i| i.to_le_bytes()));
    let view =
        |at: usize, length: usize| json!({"buffer": 0, "byteOffset": at, "byteLength": length});
    let json = json!({
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0, "translation": translation_m}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "NORMAL": 1, "TEXCOORD_0": 2}, "indices": 3, "material": 0}]}],
        "materials": [{"name": "front"}], "buffers": [{"byteLength": bin.len()}],
        "bufferViews": [view(0, 48), view(48, 48), view(96, 32), view(128, 12)],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3", "min": [-0.5, -0.5, 0], "max": [0.5, 0.5, 0]},
            {"bufferView": 1, "componentType": 5126, "count": 4, "type": "VEC3"},
            {"bufferView": 2, "componentType": 5126, "count": 4, "type": "VEC2"},
            {"bufferView": 3, "componentType": 5123, "count": 6, "type": "SCALAR"},
        ],
    });
    let mut text = json.to_string().into_bytes();
    text.resize(text.len().next_multiple_of(4), b' ');
    let mut out = b"glTF".to_vec();
    let length = 12 + 8 + text.len() + 8 + bin.len();
    out.extend(
        [2, length as u32, text.len() as u32, 0x4e4f_534a]
            .iter()
            .flat_map(|n: &u32| n.to_le_bytes()),
    );
    out.extend(&text);
    out.extend(
        [bin.len() as u32, 0x004e_4942]
            .iter()
            .flat_map(|n: &u32| n.to_le_bytes()),
    );
    out.extend(&bin);
    out
}
