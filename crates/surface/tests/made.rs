//! Small glTF files made here, one property each (glTF 2.0 and its extensions).
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use ganosis_surface::{ImageSource, Surface, SurfaceError, gltf_in};
use glam::{Vec2, Vec3};
use serde_json::{Value, json};

/// Base64 (RFC 4648) of bytes, as a data URI.
fn data_uri(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::from("data:application/octet-stream;base64,");
    for three in bytes.chunks(3) {
        let word =
            three.iter().fold(0_u32, |w, b| w << 8 | u32::from(*b)) << (8 * (3 - three.len()));
        for k in 0..4 {
            let digit = DIGITS[(word >> (18 - 6 * k)) as usize & 63] as char;
            text.push(if k <= three.len() { digit } else { '=' });
        }
    }
    text
}

fn floats(values: &[f32]) -> Vec<u8> {
    values.iter().flat_map(|v| v.to_le_bytes()).collect()
}

/// One right triangle in the xy plane, counter-clockwise seen from +z, without normals.
fn triangle() -> Value {
    let bytes = floats(&[0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0]);
    json!({
        "asset": {"version": "2.0"},
        "buffers": [{"uri": data_uri(&bytes), "byteLength": bytes.len()}],
        "bufferViews": [{"buffer": 0, "byteLength": bytes.len()}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "nodes": [{"mesh": 0, "name": "bill"}],
        "scenes": [{"nodes": [0]}], "scene": 0
    })
}

fn read(document: &Value) -> Result<Surface, SurfaceError> {
    gltf_in::read(document.to_string().as_bytes(), &|_| None)
}

fn refusal(document: &Value) -> String {
    read(document).expect_err("must be refused").to_string()
}

fn geometric_normal(surface: &Surface) -> Vec3 {
    let [a, b, c] = surface.patches[0].corners(0).unwrap();
    (b - a).cross(c - a).normalize()
}

#[test]
fn a_bare_triangle_gets_a_normal_a_sheet_and_a_name() {
    let surface = read(&triangle()).unwrap();
    let patch = &surface.patches[0];
    assert_eq!(patch.indices, [0, 1, 2]);
    assert_eq!(patch.normals, [Vec3::Z; 3]);
    assert_eq!(patch.node_path, ["bill"]);
    assert_eq!(surface.sheets[patch.sheet].name, "plain");
    assert_eq!(surface.bounds().unwrap().max_m, Vec3::new(1.0, 1.0, 0.0));
}

#[test]
fn a_mirroring_node_turns_the_triangles_round() {
    for scale in [
        [-1.0, 1.0, 1.0],
        [1.0, -2.0, 3.0],
        [-1.0, -1.0, -1.0],
        [-1.0, -1.0, 1.0],
    ] {
        let mut document = triangle();
        document["nodes"][0]["scale"] = json!(scale);
        let surface = read(&document).unwrap();
        // The front was seen from +z; z is mirrored only where its scale is negative.
        let front = Vec3::Z * f32::signum(scale[2]);
        assert_eq!(geometric_normal(&surface), front, "{scale:?}");
        assert_eq!(surface.patches[0].normals[0], front, "{scale:?}");
    }
}

#[test]
fn transforms_are_chained_from_the_root() {
    let mut document = triangle();
    document["nodes"] = json!([
        {"children": [1], "translation": [10, 0, 0], "name": "boss"},
        // A quarter turn about z, then twice as large.
        {"mesh": 0, "rotation": [0, 0, 0.707_106_77, 0.707_106_77], "scale": [2, 2, 2]}
    ]);
    let surface = read(&document).unwrap();
    assert!(surface.patches[0].positions[1].distance(Vec3::new(10.0, 2.0, 0.0)) < 1e-5);
    assert_eq!(surface.patches[0].node_path, ["boss", "node 1"]);
}

#[test]
fn quantised_positions_and_texture_transform_are_followed() {
    let mut document = triangle();
    // KHR_mesh_quantization: normalised 16-bit positions, stride 8; 8-bit UVs, stride 4.
    let mut bytes = Vec::new();
    for p in [[0_i16, 0, 0, 0], [32767, 0, 0, 0], [0, -32768, 0, 0]] {
        bytes.extend(p.iter().flat_map(|v| v.to_le_bytes()));
    }
    bytes.extend([0_u8, 0, 0, 0, 255, 0, 0, 0, 0, 255, 0, 0]);
    document["extensionsUsed"] = json!(["KHR_mesh_quantization", "KHR_texture_transform"]);
    document["extensionsRequired"] = document["extensionsUsed"].clone();
    document["buffers"] = json!([{"uri": data_uri(&bytes), "byteLength": 36}]);
    document["bufferViews"] = json!([
        {"buffer": 0, "byteLength": 24, "byteStride": 8},
        {"buffer": 0, "byteOffset": 24, "byteLength": 12, "byteStride": 4}
    ]);
    document["accessors"] = json!([
        {"bufferView": 0, "componentType": 5122, "normalized": true, "count": 3, "type": "VEC3"},
        {"bufferView": 1, "componentType": 5121, "normalized": true, "count": 3, "type": "VEC2"}
    ]);
    document["meshes"][0]["primitives"][0] =
        json!({"attributes": {"POSITION": 0, "TEXCOORD_0": 1}, "material": 0});
    let transform = json!({"offset": [0.5, 0.25], "scale": [0.5, 0.5], "rotation": 1.570_796_4});
    document["materials"] = json!([{"name": "crown", "pbrMetallicRoughness": {"baseColorTexture":
        {"index": 0, "extensions": {"KHR_texture_transform": transform}}}}]);
    document["textures"] = json!([{"source": 0}]);
    document["images"] = json!([{"uri": "a%20b.png"}]);
    let surface = read(&document).unwrap();
    let patch = &surface.patches[0];
    assert_eq!(patch.positions, [Vec3::ZERO, Vec3::X, Vec3::NEG_Y]);
    assert_eq!(patch.uvs, [Vec2::ZERO, Vec2::X, Vec2::Y]);
    // By the extension's own matrices: rotation (cos, sin; -sin, cos), so u goes to -v, v to u.
    assert!(surface.sheet_uv(patch, 1).distance(Vec2::new(0.5, -0.25)) < 1e-6);
    assert!(surface.sheet_uv(patch, 2).distance(Vec2::new(1.0, 0.25)) < 1e-6);
    let texture = surface.sheets[0].texture.as_ref().unwrap();
    assert_eq!(texture.image, ImageSource::Uri("a b.png".into()));
}

#[test]
fn unsupported_required_extensions_are_refused_by_name() {
    for name in [
        "KHR_draco_mesh_compression",
        "EXT_mesh_gpu_instancing",
        "VENDOR_unheard_of",
    ] {
        let mut document = triangle();
        document["extensionsRequired"] = json!([name]);
        assert!(refusal(&document).contains(name), "{}", refusal(&document));
    }
}

#[test]
fn hostile_numbers_are_refused_where_they_stand() {
    let changed = |pointer: &str, value: Value| {
        let mut document = triangle();
        *document.pointer_mut(pointer).unwrap() = value;
        refusal(&document)
    };
    let huge = json!(u64::MAX);
    assert!(changed("/accessors/0/count", huge.clone()).starts_with("accessors[0]"));
    assert!(changed("/accessors/0/count", json!(4)).contains("48 bytes"));
    assert!(changed("/bufferViews/0/byteLength", huge).starts_with("bufferViews[0]"));
    assert!(changed("/accessors/0/componentType", json!(7)).contains("componentType"));
    assert!(changed("/accessors/0/type", json!("VEC2")).contains("POSITION"));
    assert!(changed("/accessors/0/bufferView", json!(9)).contains("bufferViews[9]"));
    assert!(
        changed("/meshes/0/primitives/0/attributes/POSITION", json!(3)).contains("accessors[3]")
    );
    assert!(changed("/nodes/0/mesh", json!(3)).contains("meshes[3]"));
    assert!(changed("/scenes/0/nodes", json!([0, 0])).contains("tree"));
    assert!(changed("/scene", json!(2)).contains("no scene 2"));
    assert!(changed("/asset/version", json!("1.0")).contains("1.0"));
    assert!(changed("/buffers/0/uri", json!("../../secret.bin")).contains("beside"));
    assert!(changed("/buffers/0/uri", json!("crown.bin")).contains("missing"));
}

#[test]
fn a_glb_header_that_lies_is_refused() {
    for length in [0_u32, 11, 13, u32::MAX] {
        let mut bytes = b"glTF\x02\0\0\0".to_vec();
        bytes.extend(length.to_le_bytes());
        assert!(gltf_in::read(&bytes, &|_| None).is_err());
    }
    assert!(gltf_in::needed_files(b"").is_err());
}

#[test]
fn external_buffers_are_named_once_and_fetched() {
    let mut document = triangle();
    let bytes = floats(&[0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0]);
    document["buffers"][0]["uri"] = json!("boss%20geometry.bin");
    let text = document.to_string();
    assert_eq!(
        gltf_in::needed_files(text.as_bytes()).unwrap(),
        ["boss geometry.bin"]
    );
    let fetch = |name: &str| (name == "boss geometry.bin").then(|| bytes.clone());
    assert_eq!(
        gltf_in::read(text.as_bytes(), &fetch)
            .unwrap()
            .triangle_count(),
        1
    );
}

#[test]
fn specular_glossiness_gives_its_diffuse_colour() {
    let mut document = triangle();
    document["materials"] = json!([{"extensions": {"KHR_materials_pbrSpecularGlossiness":
        {"diffuseFactor": [0.25, 0.5, 0.75, 1.0]}}}]);
    assert_eq!(
        read(&document).unwrap().sheets[0].base_colour,
        [0.25, 0.5, 0.75, 1.0]
    );
}

#[test]
fn a_glow_that_is_not_shown_is_said() {
    let mut document = triangle();
    document["meshes"][0]["primitives"][0]["material"] = json!(0);
    document["images"] = json!([{"uri": "glow.png"}]);
    document["textures"] = json!([{"source": 0}]);
    document["materials"] =
        json!([{"emissiveFactor": [0.0, 1.0, 0.0], "emissiveTexture": {"index": 0}}]);
    let notes = read(&document).unwrap().notes;
    assert!(
        notes.iter().any(|n| n.contains("emissiveTexture")),
        "{notes:?}"
    );
    // glTF 2.0, 3.9.3: a factor of zero, which is the default, switches the texture off.
    document["materials"] = json!([{"emissiveTexture": {"index": 0}}]);
    assert_eq!(
        read(&document)
            .unwrap()
            .notes
            .iter()
            .filter(|n| n.contains("emissive"))
            .count(),
        0
    );
}

#[test]
fn what_a_mesh_names_counts_from_the_folder_of_the_mesh() {
    assert_eq!(
        ganosis_surface::beside("dossier.json", "a/b.png"),
        "a/b.png"
    );
    assert_eq!(
        ganosis_surface::beside("mesh/s.gltf", "s.bin"),
        "mesh/s.bin"
    );
}
