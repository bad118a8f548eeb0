//! `ganosis pose` as it is run, on an invented photograph of a small surface whose place is known.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod common;

use std::fmt::Write as _;
use std::path::Path;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use common::ganosis;
use ganosis_imaging::lens::{Distortion, Lens};
use ganosis_imaging::pose::{Pose, Poses};
use image::{DynamicImage, ImageEncoder, RgbImage, codecs::jpeg::JpegEncoder};
use serde_json::{Value, json};
use tempfile::TempDir;

const W: usize = 600;
const H: usize = 400;

/// A low pyramid of 0.4 m as glTF, its positions times `scale`.
fn surface(scale: f32) -> String {
    let corners = [
        [-0.2, -0.2, 0.0],
        [0.2, -0.2, 0.0],
        [0.2, 0.2, 0.0],
        [-0.2, 0.2, 0.0],
        [0.0, 0.0, 0.15f32],
    ];
    let mut bytes: Vec<u8> = corners
        .iter()
        .flatten()
        .flat_map(|v| (v * scale).to_le_bytes())
        .collect();
    let triangles: [u16; 12] = [0, 1, 4, 1, 2, 4, 2, 3, 4, 3, 0, 4];
    bytes.extend(triangles.iter().flat_map(|i| i.to_le_bytes()));
    let data = STANDARD.encode(&bytes);
    let end = 0.2 * scale;
    json!({
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 5, "type": "VEC3",
             "min": [-end, -end, 0.0], "max": [end, end, 0.15 * scale]},
            {"bufferView": 1, "componentType": 5123, "count": 12, "type": "SCALAR"}
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": 60},
            {"buffer": 0, "byteOffset": 60, "byteLength": 24}
        ],
        "buffers": [{"byteLength": 84, "uri": format!("data:application/octet-stream;base64,{data}")}]
    })
    .to_string()
}

fn lens() -> Lens {
    Lens {
        distortion: Distortion {
            k1: -0.1,
            ..Distortion::default()
        },
        ..Lens::simple(W, H, 900.0)
    }
}

/// Looking down on the pyramid from half a metre and more.
fn pose() -> Pose {
    let (sin, cos) = 0.2f64.sin_cos();
    Pose {
        rotation: [[1.0, 0.0, 0.0], [0.0, -cos, -sin], [0.0, sin, -cos]],
        translation_m: [0.01, -0.02, 1.0],
    }
}

/// Points on the sides of the pyramid.
fn points() -> Vec<[f64; 3]> {
    let at = [
        [-0.18, -0.15],
        [0.17, -0.16],
        [0.15, 0.18],
        [-0.17, 0.16],
        [0.02, 0.01],
        [0.1, -0.03],
        [-0.09, 0.05],
        [0.03, 0.12],
        [-0.05, -0.1],
        [-0.14, 0.02],
    ];
    at.map(|[x, y]: [f64; 2]| [x, y, 0.15 * (1.0 - x.abs().max(y.abs()) / 0.2)])
        .to_vec()
}

/// The table of points, each moved by `change`.
fn table(scale: f64, change: impl Fn(usize, [f64; 2]) -> [f64; 2]) -> String {
    let mut text = "name,x_px,y_px,x_m,y_m,z_m\n".to_owned();
    for (i, p) in points().into_iter().enumerate() {
        let pixel = lens().project(pose().camera_of(p)).unwrap();
        let [x, y] = change(i, pixel);
        let [a, b, c] = p.map(|v| v * scale);
        writeln!(text, "leaf {i},{x},{y},{a},{b},{c}").unwrap();
    }
    text
}

/// A folder with photograph, surface, lens and points.
fn folder() -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    let write = |name: &str, text: String| std::fs::write(dir.path().join(name), text).unwrap();
    RgbImage::new(W as u32, H as u32)
        .save(dir.path().join("photo.png"))
        .unwrap();
    write("surface.gltf", surface(1.0));
    write("lens.json", serde_json::to_string(&lens()).unwrap());
    write("points.csv", table(1.0, |_, p| p));
    dir
}

const GIVEN: [&str; 6] = [
    "pose",
    "photo.png",
    "--surface",
    "surface.gltf",
    "--points",
    "points.csv",
];

fn with<'a>(more: &[&'a str]) -> Vec<&'a str> {
    GIVEN.iter().chain(more).copied().collect()
}

fn json_of(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// Distance of the pose in a file from the true place, in metres.
fn off(folder: &Path, file: &str) -> f64 {
    let text = std::fs::read_to_string(folder.join(file)).unwrap();
    let poses = Poses::read(&text, file).unwrap();
    let (a, b) = (poses.photos[0].pose.centre_m(), pose().centre_m());
    (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt()
}

#[test]
fn exact_points_give_the_place_and_a_file_that_is_read_again() {
    let dir = folder();
    let (code, out, err) = ganosis(dir.path(), &with(&["--lens", "lens.json"]));
    assert_eq!(code, 0, "{out}{err}");
    assert!(
        out.contains("leaf 9") && out.contains("left out in turn"),
        "{out}"
    );
    assert!(off(dir.path(), "poses.json") < 1e-9);
    // The poses carry the lens, and nothing is written over.
    let again = with(&["--lens", "lens.json"]);
    let (code, _, err) = ganosis(dir.path(), &again);
    assert_eq!(code, 2);
    assert!(err.contains("--force"), "{err}");
    let (code, out, _) = ganosis(
        dir.path(),
        &with(&["--lens", "poses.json", "-o", "again.json", "--json"]),
    );
    assert_eq!(code, 0);
    assert_eq!(json_of(&out)["fit"]["pairs"].as_array().unwrap().len(), 10);
    assert!(off(dir.path(), "again.json") < 1e-9);
}

/// Sides that rise by 3 in 4 and lie 0.015 m higher are 0.015 · 4 / 5 m away.
#[test]
fn points_off_the_surface_are_told_in_one_sentence_where_they_are_many() {
    let dir = folder();
    std::fs::write(dir.path().join("surface.gltf"), surface(1.1)).unwrap();
    let (code, out, err) = ganosis(dir.path(), &with(&["--lens", "lens.json"]));
    assert_eq!(code, 1, "{out}{err}");
    let told = "10 of 10 points lie off the surface, by up to 12.0 mm: leaf 0, leaf 1,";
    assert!(out.contains(told), "{out}");
    assert_eq!(out.matches("off the surface").count(), 1, "{out}");
}

#[test]
fn a_wrong_pair_is_named_and_left_out() {
    let dir = folder();
    let moved = table(
        1.0,
        |i, [x, y]| if i == 6 { [x + 25.0, y - 9.0] } else { [x, y] },
    );
    std::fs::write(dir.path().join("points.csv"), moved).unwrap();
    let (code, out, err) = ganosis(dir.path(), &with(&["--lens", "lens.json", "--json"]));
    assert_eq!(code, 1, "{err}");
    let result = json_of(&out);
    let pairs = result["fit"]["pairs"].as_array().unwrap();
    let wrong: Vec<&Value> = pairs.iter().filter(|p| p["wrong"] == true).collect();
    assert_eq!(wrong.len(), 1);
    assert_eq!(wrong[0]["name"], "leaf 6");
    // Its distance in millimetres: pixels by focal length by the depth of about 0.95 m.
    let mm = wrong[0]["off_mm"].as_f64().unwrap();
    assert!((mm - 26.6 / 900.0 * 950.0).abs() < 3.0, "{mm}");
    assert!(off(dir.path(), "poses.json") < 1e-9);
}

#[test]
fn without_a_lens_the_focal_length_is_found() {
    let dir = folder();
    let (code, out, err) = ganosis(dir.path(), &with(&["--solve", "focal,k1", "--json"]));
    assert!(code < 2, "{err}");
    let lens = json_of(&out)["fit"]["lens"].clone();
    assert!((lens["focal_px"][0].as_f64().unwrap() - 900.0).abs() < 1e-4);
    assert!((lens["distortion"]["k1"].as_f64().unwrap() + 0.1).abs() < 1e-6);
}

#[test]
fn bad_input_is_named_and_writes_nothing() {
    let dir = folder();
    let write = |name: &str, text: &str| std::fs::write(dir.path().join(name), text).unwrap();
    let good = table(1.0, |_, p| p);
    let other_size = Lens {
        width_px: 6000,
        ..lens()
    };
    write("other.json", &serde_json::to_string(&other_size).unwrap());
    write("mm.gltf", &surface(1000.0));
    write("mm.csv", &table(1000.0, |_, p| p));
    write(
        "few.csv",
        &good.lines().take(4).collect::<Vec<_>>().join("\n"),
    );
    let broken = |i: usize, [x, y]: [f64; 2]| if i == 3 { [f64::NAN, y] } else { [x, y] };
    write("nan.csv", &table(1.0, broken));
    write("columns.csv", &good.replacen("x_px", "x", 1));
    write(
        "outside.csv",
        &table(1.0, |i, p| if i == 2 { [-5.0, 20.0] } else { p }),
    );
    write("broken.gltf", "{}");
    let known = ["--lens", "lens.json"];
    for (change, what) in [
        (
            ["points.csv", "few.csv"],
            "3 pairs of points, and 4 are needed",
        ),
        (["points.csv", "nan.csv"], "which is no number"),
        (["points.csv", "columns.csv"], "no column x_px"),
        (["points.csv", "outside.csv"], "“leaf 2”"),
        (
            ["points.csv", "mm.csv"],
            "the points seem to be in millimetres",
        ),
        (
            ["surface.gltf", "mm.gltf"],
            "the surface seems to be in millimetres",
        ),
        (
            ["surface.gltf", "broken.gltf"],
            "the surface cannot be read",
        ),
        (["photo.png", "points.csv"], "photograph cannot be read"),
        (["photo.png", "missing.png"], "the file cannot be read"),
        (
            ["lens.json", "other.json"],
            "the lens is of photographs of 6000",
        ),
        (["lens.json", "points.csv"], "this is no lens"),
    ] {
        let arguments: Vec<&str> = with(&known)
            .into_iter()
            .map(|a| if a == change[0] { change[1] } else { a })
            .collect();
        let (code, _, err) = ganosis(dir.path(), &arguments);
        assert_eq!(code, 2, "{change:?}: {err}");
        assert!(
            err.contains(what) && err.contains("do:"),
            "{change:?}: {err}"
        );
    }
    // Both in millimetres agree with each other, and are told about.
    let both: Vec<&str> = with(&known)
        .into_iter()
        .map(|a| match a {
            "points.csv" => "mm.csv",
            "surface.gltf" => "mm.gltf",
            other => other,
        })
        .collect();
    let mut names: Vec<String> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.retain(|n| n.contains("poses") || n.starts_with('.'));
    assert!(names.is_empty(), "{names:?}");
    let (code, out, _) = ganosis(dir.path(), &both);
    assert_eq!(code, 1);
    assert!(out.contains("glTF is in metres"), "{out}");
}

/// A JPEG with the Exif tag Orientation (CIPA DC-008).
fn turned_jpeg(orientation: u8) -> Vec<u8> {
    let mut exif = b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
    exif.extend([orientation, 0, 0, 0, 0, 0, 0, 0]);
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new(&mut bytes);
    encoder.set_exif_metadata(exif).unwrap();
    let image = DynamicImage::ImageRgb8(RgbImage::new(W as u32, H as u32));
    image.write_with_encoder(encoder).unwrap();
    bytes
}

#[test]
fn a_photograph_turned_by_its_exif_flag_needs_to_know_where_points_were_marked() {
    let dir = folder();
    std::fs::write(dir.path().join("photo.jpg"), turned_jpeg(6)).unwrap();
    // Shown turned by a quarter clockwise: x from the top is the height less y.
    let shown = table(1.0, |_, [x, y]| [H as f64 - y, x]);
    std::fs::write(dir.path().join("shown.csv"), shown).unwrap();
    let turned = |points: &'static str| -> Vec<&'static str> {
        let given = with(&["--lens", "lens.json"]);
        let changed = given.into_iter().map(move |a| match a {
            "photo.png" => "photo.jpg",
            "points.csv" => points,
            other => other,
        });
        changed.collect()
    };
    let (code, _, err) = ganosis(dir.path(), &turned("points.csv"));
    assert_eq!(code, 2);
    assert!(
        err.contains("EXIF flag (6)") && err.contains("--marked-as"),
        "{err}"
    );
    for (points, how) in [("points.csv", "stored"), ("shown.csv", "shown")] {
        let file = format!("{how}.json");
        let mut arguments = turned(points);
        arguments.extend(["--marked-as", how, "-o", &file]);
        let (code, _, err) = ganosis(dir.path(), &arguments);
        assert_eq!(code, 0, "{err}");
        assert!(off(dir.path(), &file) < 1e-9, "{how}");
    }
}

#[test]
fn poses_of_a_model_are_brought_to_the_surface_by_known_points() {
    let dir = folder();
    let model = dir.path().join("model");
    std::fs::create_dir(&model).unwrap();
    let write = |name: &str, text: &str| std::fs::write(model.join(name), text).unwrap();
    write("cameras.txt", "1 SIMPLE_RADIAL 600 400 900 300 200 -0.1\n");
    // The true place in a model ten units to the metre; half the turn of π - 0.2 about x.
    let half = (std::f64::consts::PI - 0.2) / 2.0;
    let [x, y, z] = pose().translation_m.map(|v| 10.0 * v);
    let (sin, cos) = half.sin_cos();
    let mut images = format!("1 {cos} {sin} 0 0 {x} {y} {z} 1 photo.png\n");
    let (mut points3d, mut known) = (String::new(), "name,point,x_m,y_m,z_m\n".to_owned());
    for (i, p) in points().into_iter().enumerate() {
        let [u, v] = lens().project(pose().camera_of(p)).unwrap();
        write!(images, "{u} {v} {i} ").unwrap();
        let [a, b, c] = p.map(|v| 10.0 * v);
        writeln!(points3d, "{i} {a} {b} {c} 0 0 0 0").unwrap();
        let [a, b, c] = p;
        writeln!(known, "leaf {i},{i},{a},{b},{c}").unwrap();
    }
    images.push('\n');
    write("images.txt", &images);
    write("points3D.txt", &points3d);
    std::fs::write(dir.path().join("known.csv"), known).unwrap();

    let arguments = ["pose", "--model", "model", "--known", "known.csv", "--json"];
    let (code, out, err) = ganosis(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let result = json_of(&out);
    assert!(result["photos"][0]["rms_px"].as_f64().unwrap() < 1e-9);
    assert!(result["similarity"]["rms_mm"].as_f64().unwrap() < 1e-9);
    assert!(off(dir.path(), "poses.json") < 1e-9);

    let (code, out, _) = ganosis(dir.path(), &["pose", "--model", "model", "-o", "raw.json"]);
    assert_eq!(code, 1);
    assert!(out.contains("unit and axes of the model"), "{out}");
    let (code, _, err) = ganosis(dir.path(), &["pose", "--model", "nowhere", "-o", "x.json"]);
    assert_eq!(code, 2);
    assert!(err.contains("cameras.txt"), "{err}");
}
