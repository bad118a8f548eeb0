//! A square, photographs of it made by a formula, and a dossier of them, for the tests of the commands.
#![allow(dead_code, reason = "each test uses a part")]

use std::path::Path;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ganosis_colorimetry::rgb::encode_srgb;
use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::lens::Lens;
use ganosis_imaging::pose::{Pose, PosedPhoto, Poses};
use image::{ImageBuffer, Luma, Rgb};
use serde_json::{Value, json};
use tempfile::TempDir;

use super::ganosis;

pub(crate) const SIDE_M: f64 = 0.4;
pub(crate) const PX: [u32; 2] = [360, 240];

/// A square in the plane z = 0; its chart is the sheet from 0.1 to 0.9, y up on the object is up there.
pub(crate) fn gltf(with_uvs: bool) -> String {
    let uvs = [[0.1_f32, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]];
    gltf_of(
        &corners(),
        with_uvs.then_some(&uvs[..]),
        &[0, 3, 1, 1, 3, 2],
    )
}

/// Corners of the square: upper left, upper right, lower right, lower left.
pub(crate) fn corners() -> [[f32; 3]; 4] {
    let half = (SIDE_M / 2.0) as f32;
    [[-half, half], [half, half], [half, -half], [-half, -half]].map(|[x, y]| [x, y, 0.0])
}

/// A mesh of one material “page” and one node “boss”.
pub(crate) fn gltf_of(corners: &[[f32; 3]], uvs: Option<&[[f32; 2]]>, indices: &[u16]) -> String {
    let mut bin: Vec<u8> = corners
        .iter()
        .flatten()
        .flat_map(|v| v.to_le_bytes())
        .collect();
    let places = bin.len();
    bin.extend(
        uvs.unwrap_or_default()
            .iter()
            .flatten()
            .flat_map(|v| v.to_le_bytes()),
    );
    let before = bin.len();
    bin.extend(indices.iter().flat_map(|v| v.to_le_bytes()));
    let view =
        |at: usize, end: usize| json!({"buffer": 0, "byteOffset": at, "byteLength": end - at});
    let end = |of: fn(f32, f32) -> f32, k: usize| corners.iter().map(|c| c[k]).reduce(of).unwrap();
    let mut views = vec![view(0, places), view(before, bin.len())];
    let least = [0, 1, 2].map(|k| end(f32::min, k));
    let most = [0, 1, 2].map(|k| end(f32::max, k));
    let mut accessors = vec![
        json!({"bufferView": 0, "componentType": 5126, "count": corners.len(), "type": "VEC3",
            "min": least, "max": most}),
        json!({"bufferView": 1, "componentType": 5123, "count": indices.len(), "type": "SCALAR"}),
    ];
    let mut attributes = json!({"POSITION": 0});
    if let Some(uvs) = uvs {
        attributes["TEXCOORD_0"] = json!(2);
        views.push(view(places, before));
        accessors.push(
            json!({"bufferView": 2, "componentType": 5126, "count": uvs.len(), "type": "VEC2"}),
        );
    }
    json!({
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": "boss"}], "materials": [{"name": "page"}],
        "meshes": [{"primitives": [{"attributes": attributes, "indices": 1, "material": 0}]}],
        "buffers": [{"byteLength": bin.len(),
            "uri": format!("data:application/octet-stream;base64,{}", STANDARD.encode(&bin))}],
        "bufferViews": views,
        "accessors": accessors,
    })
    .to_string()
}

/// Straight before the square, `right` metres aside.
pub(crate) fn posed(file: &str, right: f64) -> PosedPhoto {
    PosedPhoto {
        photo: InputRecord {
            file: file.to_owned(),
            sha256: String::new(),
        },
        lens: Lens::simple(PX[0] as usize, PX[1] as usize, 400.0),
        pose: Pose {
            rotation: [[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]],
            translation_m: [-right, 0.0, 0.8],
        },
        fit: None,
    }
}

/// Linear light of the paint.
pub(crate) fn paint(x: f64, y: f64) -> [f64; 3] {
    [
        0.3 + 0.5 * x,
        0.3 - 0.5 * y,
        if x > 0.0 { 0.4 } else { 0.2 },
    ]
}

/// Where a pixel of a photograph looks on the plane.
pub(crate) fn plane(right: f64, x: u32, y: u32) -> (f64, f64) {
    let at = |v: u32, px: u32| (f64::from(v) + 0.5 - f64::from(px) / 2.0) / 400.0 * 0.8;
    (right + at(x, PX[0]), -at(y, PX[1]))
}

pub(crate) fn colour(path: &Path, right: f64) {
    let code = |v: f64| (encode_srgb(v) * 255.0).round() as u8;
    let image = ImageBuffer::from_fn(PX[0], PX[1], |x, y| {
        let (u, v) = plane(right, x, y);
        Rgb(paint(u, v).map(code))
    });
    image.save(path).unwrap();
}

/// One band of 16 bits; linear where the file says nothing.
pub(crate) fn band(path: &Path, right: f64, light: &dyn Fn(f64, f64) -> f64) {
    let image = ImageBuffer::<Luma<u16>, Vec<u16>>::from_fn(PX[0], PX[1], |x, y| {
        let (u, v) = plane(right, x, y);
        Luma([(light(u, v) * 65535.0).round() as u16])
    });
    image.save(path).unwrap();
}

pub(crate) fn write_poses(dir: &Path, photos: &[PosedPhoto]) {
    std::fs::write(
        dir.join("poses.json"),
        Poses::new(Vec::new(), photos.to_vec()).text(),
    )
    .unwrap();
}

/// A dossier of the square with two colour photographs and two band photographs beside it.
pub(crate) fn set() -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name);
    std::fs::create_dir(at("d")).unwrap();
    std::fs::write(at("d/s.gltf"), gltf(true)).unwrap();
    let dossier = json!({"format": "ganosis-dossier/1", "id": "boss", "revision": 1, "title": "Boss",
        "rights": {"licence": "CC0-1.0"},
        "surface": {"file": "s.gltf", "sheets": [{"id": "front", "material": "page"}]}});
    std::fs::write(at("d/dossier.json"), dossier.to_string()).unwrap();
    for (name, right) in [("a", -0.1), ("b", 0.1)] {
        colour(&at(&format!("{name}.png")), right);
        std::fs::create_dir_all(at("irr")).unwrap();
        band(&at(&format!("irr/{name}.png")), right, &|x, _| {
            if x > 0.0 { 0.6 } else { 0.1 }
        });
    }
    write_poses(dir.path(), &[posed("a.png", -0.1), posed("b.png", 0.1)]);
    dir
}

pub(crate) fn names(dir: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(dir).into_iter().flatten();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

pub(crate) fn read(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

pub(crate) const DRAPE: [&str; 5] = ["drape", "--dossier", "d", "--poses", "poses.json"];

pub(crate) fn drape(dir: &Path, more: &[&str]) -> (i32, String, String) {
    ganosis(dir, &[&DRAPE[..], more].concat())
}
