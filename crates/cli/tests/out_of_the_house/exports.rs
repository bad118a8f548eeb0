//! Files for other programs: what outside validators say, what comes back.

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use ganosis_dossier::check::check;
use ganosis_dossier::store::FolderStore;
use ganosis_dossier::{Dossier, Severity, document_from_bytes};
use ganosis_exchange::glb::to_glb;
use ganosis_exchange::solid::{Look, Mesh, Solid};
use ganosis_surface::gltf_in;
use serde_json::{Value, json};

use crate::common::ganosis;
use crate::{
    copy_folder, copy_of_demo, demo, document_in, files_below, holds, outside, write_document,
};

/// A dossier around a mesh that others made, with a layer and a pin of ours.
pub(crate) fn around(folder: &str, mesh: &str, material: &str) -> tempfile::TempDir {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/samples/meshes/features");
    around_files(&samples.join(folder), mesh, material)
}

fn around_files(folder: &Path, mesh: &str, material: &str) -> tempfile::TempDir {
    let made = tempfile::tempdir().unwrap();
    copy_folder(folder, &made.path().join("mesh"));
    let folder = folder.file_name().unwrap().to_str().unwrap();
    let picture = image::RgbaImage::from_fn(96, 64, |x, y| {
        image::Rgba([
            x as u8 * 2,
            y as u8 * 3,
            128,
            if x < 48 { 255 } else { 100 },
        ])
    });
    picture.save(made.path().join("painted.png")).unwrap();
    let document = json!({
        "format": "ganosis-dossier/1", "id": folder, "revision": 1, "title": {"en": "A mesh that others made"},
        "languages": ["en"], "rights": {"licence": "CC0-1.0"},
        "object": {"orientation": {"up": [1, 0, 0], "front": [0, 0, 1]}},
        "surface": {"file": format!("mesh/{mesh}"), "sheets": [{"id": "one", "material": material}]},
        "layers": [{"id": "painted", "kind": "colour", "images": [{"sheet": "one", "file": "painted.png", "width_px": 96, "height_px": 64}]}],
        "states": [{"id": "bare", "kind": "as-found", "layers": []}, {"id": "painted-state", "kind": "hypothetical", "layers": ["painted"]}],
        "pins": [{"id": "1st-pin", "title": "A \"pin\"", "text": "line\nline \\ end", "anchor": {"sheet": "one", "position_m": [0.5, 0.25, -1.0]}}],
    });
    write_document(made.path(), &document);
    made
}

pub(crate) struct Subject {
    pub(crate) name: &'static str,
    pub(crate) folder: PathBuf,
    _kept: Option<tempfile::TempDir>,
}

/// The demonstration, two meshes that others made, and two larger ones where `GANOSIS_SAMPLES` has them.
pub(crate) static SUBJECTS: LazyLock<Vec<Subject>> = LazyLock::new(|| {
    let transform = around("texture-transform", "TextureTransformTest.gltf", "Offset U");
    let clear = around("clear-coat", "ClearCoatTest.gltf", "Simple_Base");
    let subject = |name, kept: tempfile::TempDir| Subject {
        name,
        folder: kept.path().to_path_buf(),
        _kept: Some(kept),
    };
    let mut subjects = vec![
        Subject {
            name: "demonstration",
            folder: demo(),
            _kept: None,
        },
        subject("texture-transform", transform),
        subject("clear-coat", clear),
    ];
    let Some(samples) = std::env::var_os("GANOSIS_SAMPLES") else {
        println!("2 meshes skipped: GANOSIS_SAMPLES is not set");
        return subjects;
    };
    for (name, mesh, material) in [
        ("flight-helmet", "FlightHelmet.gltf", "LeatherPartsMat"),
        (
            "controller",
            "controller.glb",
            "xrstandard_grip_thumstick_nonhanded_mat",
        ),
    ] {
        let folder = Path::new(&samples).join("meshes").join(name);
        subjects.push(subject(name, around_files(&folder, mesh, material)));
    }
    subjects
});

/// Runs `ganosis export`; gives the path of what was written.
pub(crate) fn exported(subject: &Path, out: &Path, name: &str, more: &[&str]) -> PathBuf {
    let mut arguments = vec!["export", subject.to_str().unwrap(), "-o", name];
    arguments.extend(more);
    let (code, _, errors) = ganosis(out, &arguments);
    assert_eq!(code, 0, "{more:?}: {errors}");
    out.join(name)
}

/// Imports into a new folder; gives it and what was said.
pub(crate) fn imported(path: &Path, out: &Path) -> (PathBuf, String) {
    let to = out.join("back");
    let (code, said, errors) = ganosis(out, &["import", path.to_str().unwrap(), "--to", "back"]);
    assert_eq!(code, 0, "{errors}");
    (to, said)
}

fn assert_no_errors(folder: &Path, about: &str) {
    for finding in check(&FolderStore::open(folder).unwrap()).unwrap().findings {
        assert!(finding.severity < Severity::Error, "{about}: {finding}");
    }
}

/// The JSON of a binary glTF.
fn gltf_of(path: &Path) -> Value {
    ganosis_dossier::gltf_json::json_of(&std::fs::read(path).unwrap()).unwrap()
}

fn pixels(path: &Path) -> image::RgbImage {
    image::open(path).unwrap().into_rgb8()
}

/// The validator knows `EXT_meshopt_compression` by name only: it reads the JSON, the accessors' bounds
/// are checked where files are read back.
#[test]
fn levels_of_a_packed_surface_pass_the_khronos_validator() {
    for subject in SUBJECTS.iter() {
        let out = tempfile::tempdir().unwrap();
        let from = subject.folder.to_str().unwrap();
        let (code, said, errors) = ganosis(out.path(), &["pack", from, "-o", "packed"]);
        assert_eq!(code, 0, "{}: {errors}", subject.name);
        let packed = document_in(&out.path().join("packed"));
        let levels = packed["surface"]["levels"].as_array();
        if subject.name != "demonstration" {
            assert!(levels.is_none() && said.contains("stays whole"), "{said}");
            continue;
        }
        for level in levels.expect("levels") {
            let path = out
                .path()
                .join("packed")
                .join(level["file"].as_str().unwrap());
            let issues = &outside::gltf(&path)["issues"];
            assert_eq!(
                (&issues["numErrors"], &issues["numWarnings"]),
                (&0.into(), &0.into()),
                "{issues:#}"
            );
        }
    }
}

/// The picture of the layer `painted` that a file brings.
fn painted_of(file: &Path) -> image::RgbImage {
    let out = tempfile::tempdir().unwrap();
    let (back, _) = imported(file, out.path());
    let image = document_in(&back)["layers"][0]["images"][0].clone();
    assert!(image.get("tiles").is_none(), "{image}");
    pixels(&back.join(image["file"].as_str().unwrap()))
}

/// What is in tiles goes out as whole as what is not: to the code value where it is to be kept, and as
/// fine as its purpose asks for elsewhere.
#[test]
fn images_in_tiles_go_out_whole() {
    let subject = around("texture-transform", "TextureTransformTest.gltf", "Offset U");
    let picture = image::RgbaImage::from_fn(1501, 1100, |x, y| {
        let wave = |n: u32, length: f32| (128.0 + 120.0 * (n as f32 / length).sin()) as u8;
        image::Rgba([wave(x, 9.0), wave(y, 14.0), wave(x + y, 31.0), 255])
    });
    picture.save(subject.path().join("painted.png")).unwrap();
    let mut document = document_in(subject.path());
    document["layers"][0]["images"][0]["width_px"] = 1501.into();
    document["layers"][0]["images"][0]["height_px"] = 1100.into();
    write_document(subject.path(), &document);
    let out = tempfile::tempdir().unwrap();
    let (code, _, errors) = ganosis(
        out.path(),
        &["pack", subject.path().to_str().unwrap(), "-o", "packed"],
    );
    assert_eq!(code, 0, "{errors}");
    let packed = out.path().join("packed");
    assert!(document_in(&packed)["layers"][0]["images"][0]["tiles"]["index"].is_string());

    let kept = ["--as", "glb", "--for", "archive"];
    let whole = exported(&packed, out.path(), "whole.glb", &kept);
    let found = painted_of(&whole);
    assert_eq!(found.dimensions(), (1501, 1100));
    for (x, y, pixel) in found.enumerate_pixels() {
        assert_eq!(pixel.0, picture.get_pixel(x, y).0[..3], "{x} {y}");
    }
    let report = outside::gltf(&whole);
    assert_eq!(report["issues"]["numErrors"], 0, "{report}");

    for (purpose, largest) in [("web", 1501), ("ar", 1024)] {
        let more = ["--as", "glb", "--for", purpose];
        let from_tiles = exported(&packed, out.path(), &format!("t-{purpose}.glb"), &more);
        let from_file = exported(
            subject.path(),
            out.path(),
            &format!("f-{purpose}.glb"),
            &more,
        );
        let [tiles, file] = [from_tiles, from_file].map(|glb| painted_of(&glb));
        assert_eq!(
            (tiles.dimensions(), tiles.width()),
            (file.dimensions(), largest)
        );
        assert_eq!(tiles, file, "{purpose}: both are made of the finest level");
    }

    let (code, _, errors) = ganosis(
        out.path(),
        &[
            "pack",
            subject.path().to_str().unwrap(),
            "-o",
            "lossy",
            "--keep",
            "small",
        ],
    );
    assert_eq!(code, 0, "{errors}");
    let (code, _, errors) = ganosis(
        out.path(),
        &[
            "export",
            "lossy",
            "-o",
            "lossy.glb",
            "--as",
            "glb",
            "--for",
            "archive",
        ],
    );
    assert!(
        code == 0 && errors.contains("do not keep every code value"),
        "{errors}"
    );

    let (back, _) = imported(&whole, out.path());
    assert_no_errors(&back, "packed, out and back");

    // A tile that is damaged is no reason for a file that is whole but for it.
    let index = document_in(&packed)["layers"][0]["images"][0]["tiles"]["index"]
        .as_str()
        .unwrap()
        .to_owned();
    let list: Value = serde_json::from_slice(&std::fs::read(packed.join(&index)).unwrap()).unwrap();
    let names = list["levels"][0]["names"].as_str().unwrap()[..16].to_owned();
    let tile = packed
        .join("tiles")
        .join(&names[..2])
        .join(format!("{names}.webp"));
    std::fs::write(&tile, b"RIFF").unwrap();
    let (code, _, errors) = ganosis(
        out.path(),
        &[
            "export", "packed", "-o", "no.glb", "--as", "glb", "--for", "archive",
        ],
    );
    assert!(
        code == 2 && errors.contains(&names) && errors.contains("is damaged"),
        "{errors}"
    );
    assert!(!out.path().join("no.glb").exists());
}

/// Lighter copies are for looking: what goes out is the surface that is measured on.
#[test]
fn of_a_surface_in_levels_the_finest_goes_out_and_a_bag_has_everything() {
    let out = tempfile::tempdir().unwrap();
    let demo = demo();
    let (code, _, errors) = ganosis(
        out.path(),
        &["pack", demo.to_str().unwrap(), "-o", "packed"],
    );
    assert_eq!(code, 0, "{errors}");
    let packed = out.path().join("packed");
    assert!(
        document_in(&packed)["surface"]["levels"]
            .as_array()
            .is_some_and(|levels| !levels.is_empty())
    );
    let places = |path: &Path| -> Vec<u32> {
        let surface = gltf_in::read(&std::fs::read(path).unwrap(), &|_| None).unwrap();
        let places = surface.patches.iter().flat_map(|patch| &patch.positions);
        places
            .flat_map(|p| p.to_array().map(f32::to_bits))
            .collect()
    };
    let more = ["--as", "glb", "--for", "archive"];
    let from_levels = exported(&packed, out.path(), "levels.glb", &more);
    let from_whole = exported(&demo, out.path(), "whole.glb", &more);
    assert_eq!(places(&from_levels), places(&from_whole));
    let (back, _) = imported(&from_levels, out.path());
    assert_no_errors(&back, "a surface in levels, out and back");
    assert!(document_in(&back)["surface"].get("levels").is_none());

    let bag = exported(
        &packed,
        out.path(),
        "bag",
        &["--as", "bag", "--without-pictures"],
    );
    for file in files_below(&packed) {
        let kept = bag.join("data/dossier").join(&file);
        assert_eq!(
            std::fs::read(packed.join(&file)).unwrap(),
            std::fs::read(&kept).unwrap(),
            "{file}"
        );
    }
}

#[test]
fn binary_gltf_passes_the_khronos_validator_for_each_purpose() {
    for subject in SUBJECTS.iter() {
        let out = tempfile::tempdir().unwrap();
        for purpose in ["web", "ar", "archive"] {
            let name = format!("{purpose}.glb");
            let path = exported(
                &subject.folder,
                out.path(),
                &name,
                &["--as", "glb", "--for", purpose],
            );
            let report = outside::gltf(&path);
            let issues = &report["issues"];
            assert_eq!(
                (&issues["numErrors"], &issues["numWarnings"]),
                (&0.into(), &0.into()),
                "{} for {purpose}: {issues:#}",
                subject.name
            );
            let document = document_in(&subject.folder);
            let gltf = gltf_of(&path);
            let variants = gltf["extensions"]["KHR_materials_variants"]["variants"]
                .as_array()
                .unwrap();
            assert_eq!(variants.len(), document["states"].as_array().unwrap().len());
            assert!(report["info"]["totalTriangleCount"].as_u64().unwrap() > 0);
            // Evidence in extras, pins as nodes at their places.
            let of_pin = &document["pins"][0];
            let node = gltf["nodes"]
                .as_array()
                .unwrap()
                .iter()
                .find(|node| node["extras"]["ganosis"]["pin"]["id"] == of_pin["id"])
                .unwrap();
            assert_eq!(node["translation"], floats(&of_pin["anchor"]["position_m"]));
        }
    }
}

/// Numbers as JSON has them when they went through a double.
fn floats(list: &Value) -> Value {
    list.as_array()
        .unwrap()
        .iter()
        .map(|v| Value::from(v.as_f64().unwrap()))
        .collect()
}

/// A part that a state does not show is cut away there; each state has the layers it names.
#[test]
fn variants_are_the_states() {
    let out = tempfile::tempdir().unwrap();
    let path = exported(
        &demo(),
        out.path(),
        "a.glb",
        &["--as", "glb", "--for", "archive"],
    );
    let document = document_in(&demo());
    let gltf = gltf_of(&path);
    let materials = gltf["materials"].as_array().unwrap();
    for mesh in gltf["meshes"].as_array().unwrap() {
        let mappings = mesh["primitives"][0]["extensions"]["KHR_materials_variants"]["mappings"]
            .as_array()
            .unwrap();
        for (number, state) in document["states"].as_array().unwrap().iter().enumerate() {
            let of_state: Vec<&Value> = mappings
                .iter()
                .filter(|m| m["variants"].as_array().unwrap().contains(&number.into()))
                .collect();
            assert_eq!(of_state.len(), 1);
            let material =
                &materials[usize::try_from(of_state[0]["material"].as_u64().unwrap()).unwrap()];
            let shown =
                mesh["name"] != "bill" || state["parts"].as_array().is_some_and(|p| !p.is_empty());
            let name = material["name"].as_str().unwrap();
            assert_eq!(
                name != "not shown",
                shown,
                "{} in {}",
                mesh["name"],
                state["id"]
            );
            if shown {
                let layer = state["layers"][0].as_str().unwrap();
                assert!(name.ends_with(&format!(".{layer}")), "{name} for {layer}");
            }
        }
    }
}

/// A field of waves of more triangles than a telephone has room for.
fn waves() -> tempfile::TempDir {
    const SIDE: u32 = 260;
    let mut mesh = Mesh {
        name: "field".into(),
        sheet: "one".into(),
        ..Mesh::default()
    };
    for row in 0..=SIDE {
        for column in 0..=SIDE {
            let [u, v] = [column, row].map(|n| n as f32 / SIDE as f32);
            // Waves of 5 cm that are 1 mm high, on a field of 40 cm.
            let (sin, cos) = (u * 8.0 * std::f32::consts::TAU).sin_cos();
            let slope = 0.001 * 8.0 * std::f32::consts::TAU / 0.4 * cos;
            let length = slope.hypot(1.0);
            mesh.positions
                .push([u * 0.4 - 0.2, 0.2 - v * 0.4, 0.001 * sin]);
            mesh.normals.push([-slope / length, 0.0, 1.0 / length]);
            mesh.uvs.push([u, v]);
        }
    }
    let at = |column: u32, row: u32| row * (SIDE + 1) + column;
    for row in 0..SIDE {
        for column in 0..SIDE {
            let [a, b] = [at(column, row), at(column + 1, row)];
            let [c, d] = [at(column, row + 1), at(column + 1, row + 1)];
            mesh.indices.extend([a, c, b, b, c, d]);
        }
    }
    let solid = Solid {
        meshes: vec![mesh],
        looks: vec![Look {
            name: "one".into(),
            picture: None,
            colour: [1.0; 4],
            double_sided: false,
            layers: Vec::new(),
            sheet: "one".into(),
        }],
        ..Solid::default()
    };
    let made = tempfile::tempdir().unwrap();
    let bytes = to_glb(&Dossier::default(), &solid).unwrap();
    std::fs::write(made.path().join("field.glb"), bytes).unwrap();
    let picture = image::RgbImage::from_fn(64, 64, |x, y| image::Rgb([x as u8, y as u8, 9]));
    picture.save(made.path().join("painted.png")).unwrap();
    let document = json!({
        "format": "ganosis-dossier/1", "id": "field", "title": "A field of waves",
        "surface": {"file": "field.glb", "sheets": [{"id": "one", "material": "one"}]},
        "layers": [{"id": "painted", "kind": "colour", "images": [{"sheet": "one", "file": "painted.png", "width_px": 64, "height_px": 64}]}],
        "states": [{"id": "found", "kind": "as-found", "layers": ["painted"]}],
    });
    write_document(made.path(), &document);
    made
}

/// What the command says of the error stands in the file, is small, and is told on import; what is left
/// passes the validators.
#[test]
fn a_mesh_is_reduced_for_a_room_and_the_error_is_said() {
    let field = waves();
    let out = tempfile::tempdir().unwrap();
    for kind in ["glb", "usdz"] {
        let name = format!("a.{kind}");
        let path = field.path().to_str().unwrap();
        let arguments = ["export", path, "--as", kind, "--for", "ar", "-o", &name];
        let (code, _, errors) = ganosis(out.path(), &arguments);
        assert_eq!(code, 0, "{errors}");
        assert!(errors.contains("reduced from 135200 to "), "{errors}");
        let file = out.path().join(&name);
        let (triangles, record) = if kind == "glb" {
            let report = outside::gltf(&file);
            let issues = &report["issues"];
            let found = (&issues["numErrors"], &issues["numWarnings"]);
            assert_eq!(found, (&0.into(), &0.into()), "{issues:#}");
            let record = gltf_of(&file)["extras"]["ganosis"]["reduced"].clone();
            (report["info"]["totalTriangleCount"].clone(), record)
        } else {
            let report = outside::usd(&file);
            assert_eq!(report["errors"], json!([]));
            let text = report["reduced"].as_str().unwrap();
            (
                report["triangles"].clone(),
                serde_json::from_str(text).unwrap(),
            )
        };
        assert_eq!(record["triangles"], triangles, "{kind}");
        assert!(triangles.as_u64().unwrap() <= 100_000);
        let largest_mm = record["largest_mm"].as_f64().unwrap();
        assert!(
            errors.contains(&format!("{largest_mm:.3} mm at most")),
            "{errors}"
        );
        // A quarter fewer triangles may flatten no wave of 1 mm by a tenth.
        assert!(largest_mm > 0.0 && largest_mm < 0.1, "{largest_mm}");
        let back = tempfile::tempdir().unwrap();
        let (_, said) = imported(&file, back.path());
        assert!(
            said.contains("not in the file: the whole mesh: of 135200 triangles"),
            "{said}"
        );
    }
}

#[test]
fn what_a_binary_gltf_holds_comes_back() {
    for subject in SUBJECTS.iter() {
        let out = tempfile::tempdir().unwrap();
        let path = exported(
            &subject.folder,
            out.path(),
            "a.glb",
            &["--as", "glb", "--for", "archive"],
        );
        let (back, said) = imported(&path, out.path());
        assert_comes_back(subject, &back, &said);
    }
}

/// What glTF and USD hold alike: the words of states, claims, evidence, palette, pins; the mesh; the
/// colour layers, to the code value.
fn assert_comes_back(subject: &Subject, back: &Path, said: &str) {
    assert_no_errors(back, subject.name);
    let (before, after) = (document_in(&subject.folder), document_in(back));
    let typed = |value: &Value| {
        let json = serde_json::to_vec(value).unwrap();
        document_from_bytes(&json).unwrap().document
    };
    let (old, new) = (typed(&before), typed(&after));
    assert_eq!(
        (&old.id, &old.title, &old.object),
        (&new.id, &new.title, &new.object)
    );
    assert_eq!((&old.rights, &old.people), (&new.rights, &new.people));
    assert_eq!((&old.regions, &old.claims), (&new.regions, &new.claims));
    assert_eq!(old.pins, new.pins);
    let ids = |document: &Value, list: &str| -> Vec<String> {
        let entries = document[list].as_array().cloned().unwrap_or_default();
        entries
            .iter()
            .map(|e| e["id"].as_str().unwrap().to_owned())
            .collect()
    };
    for list in ["states", "evidence", "palette"] {
        assert_eq!(
            ids(&before, list),
            ids(&after, list),
            "{}: {list}",
            subject.name
        );
    }
    let surface = |folder: &Path, document: &Value| {
        let file = document["surface"]["file"].as_str().unwrap().to_owned();
        let bytes = std::fs::read(folder.join(&file)).unwrap();
        let beside =
            |name: &str| std::fs::read(folder.join(ganosis_surface::beside(&file, name))).ok();
        ganosis_surface::gltf_in::read(&bytes, &beside).unwrap()
    };
    let (old, new) = (surface(&subject.folder, &before), surface(back, &after));
    let patches = old.patches.iter().filter(|patch| !patch.indices.is_empty());
    for (a, b) in patches.zip(&new.patches) {
        assert_eq!(a.indices, b.indices);
        assert_eq!(a.positions, b.positions, "{}", subject.name);
        for vertex in 0..a.positions.len() {
            let (u, v) = (old.sheet_uv(a, vertex), new.sheet_uv(b, vertex));
            // v goes through 1 - v and back in USD.
            assert!(
                (u - v).abs().max_element() < 1e-6,
                "{}: {u} {v}",
                subject.name
            );
        }
    }
    for layer in after["layers"].as_array().into_iter().flatten() {
        let same = before["layers"]
            .as_array()
            .unwrap()
            .iter()
            .find(|l| l["id"] == layer["id"])
            .unwrap();
        for (new, old) in layer["images"]
            .as_array()
            .unwrap()
            .iter()
            .zip(same["images"].as_array().unwrap())
        {
            let opaque = |file: &Value| pixels(&subject.folder.join(file.as_str().unwrap()));
            if subject.name == "demonstration" {
                assert_eq!(
                    pixels(&back.join(new["file"].as_str().unwrap())),
                    opaque(&old["file"]),
                    "{} {}",
                    subject.name,
                    layer["id"]
                );
            }
        }
    }
    // Whatever is not in there is told.
    for layer in before["layers"].as_array().unwrap() {
        let id = layer["id"].as_str().unwrap();
        let there = ids(&after, "layers").iter().any(|other| other == id);
        assert!(
            there || said.contains(&format!("layer:{id}")),
            "{id} is lost without a word: {said}"
        );
    }
}

#[test]
fn a_usd_package_passes_all_validators_and_holds_the_states_in_metres() {
    for subject in SUBJECTS.iter() {
        let out = tempfile::tempdir().unwrap();
        let path = exported(
            &subject.folder,
            out.path(),
            "a.usdz",
            &["--as", "usdz", "--for", "archive"],
        );
        let report = outside::usd(&path);
        assert_eq!(report["errors"], json!([]), "{}", subject.name);
        assert!(report["validators"].as_u64().unwrap() >= 20);
        assert_eq!(
            (&report["metres"], &report["up"]),
            (&json!(1.0), &json!("Y"))
        );
        let document = document_in(&subject.folder);
        let states = report["states"].as_object().unwrap();
        assert_eq!(states.len(), document["states"].as_array().unwrap().len());
        for state in document["states"].as_array().unwrap() {
            let id = state["id"].as_str().unwrap().replace('-', "_");
            for (mesh, shown) in states[&id].as_object().unwrap() {
                let parts = state["parts"].as_array();
                let hidden = mesh.starts_with("bill") && parts.is_none_or(Vec::is_empty);
                assert_eq!(shown["visible"], !hidden, "{mesh} in {id}");
                assert!(
                    hidden || shown["material"].is_string(),
                    "{mesh} in {id} has no material"
                );
                if shown["picture"].is_object() {
                    assert_eq!(shown["picture"]["found"], true, "{mesh} in {id}");
                }
            }
        }
        let surface = std::fs::read(
            subject
                .folder
                .join(document["surface"]["file"].as_str().unwrap()),
        )
        .unwrap();
        let file = document["surface"]["file"].as_str().unwrap();
        let beside = |name: &str| {
            std::fs::read(subject.folder.join(ganosis_surface::beside(file, name))).ok()
        };
        let surface = ganosis_surface::gltf_in::read(&surface, &beside).unwrap();
        assert_eq!(report["triangles"], surface.triangle_count());
        let first = surface
            .patches
            .iter()
            .find(|p| !p.indices.is_empty())
            .unwrap();
        for k in 0..3 {
            let there = report["first_point"][k].as_f64().unwrap();
            assert!((there - f64::from(first.positions[0][k])).abs() < 1e-9);
        }
        // v counts from below in USD.
        let uv = surface.sheet_uv(first, 0);
        let there = report["first_uv"][1].as_f64().unwrap();
        assert!((there - (1.0 - f64::from(uv.y))).abs() < 1e-6);
        let pin = &document["pins"][0];
        let read = &report["pins"][pin["id"].as_str().unwrap()];
        for k in 0..3 {
            let wanted = pin["anchor"]["position_m"][k].as_f64().unwrap();
            assert!((read["place"][k].as_f64().unwrap() - wanted).abs() < 1e-9);
        }
        let text = |value: &Value| value.as_str().or(value["en"].as_str()).unwrap().to_owned();
        assert_eq!(read["title"], text(&pin["title"]));
        assert_eq!(read["text"], text(&pin["text"]));
        let carried: Value = serde_json::from_str(report["document"].as_str().unwrap()).unwrap();
        assert_eq!(carried["id"], document["id"]);
        // Upright, whatever the mesh's own axes: the samples here lie on their sides.
        let bounds = surface.bounds().unwrap();
        let size = (bounds.max_m - bounds.min_m).as_dvec3();
        let tall = report["box"][1][1].as_f64().unwrap() - report["box"][0][1].as_f64().unwrap();
        let wanted = if subject.name == "demonstration" {
            size.y
        } else {
            size.x
        };
        assert!(
            (tall - wanted).abs() < 1e-4 * size.length().max(1.0),
            "{}: {tall} {wanted}",
            subject.name
        );
    }
}

#[test]
fn what_a_usd_package_holds_comes_back() {
    for subject in SUBJECTS.iter() {
        let out = tempfile::tempdir().unwrap();
        let path = exported(
            &subject.folder,
            out.path(),
            "a.usdz",
            &["--as", "usdz", "--for", "archive"],
        );
        let (back, said) = imported(&path, out.path());
        assert_comes_back(subject, &back, &said);
    }
}

#[test]
fn narration_goes_along_only_where_asked() {
    let folder = copy_of_demo();
    let mut document = document_in(folder.path());
    document["views"][0]["narration"] = json!({"en": {"audio": "said.wav"}});
    write_document(folder.path(), &document);
    // RIFF WAVE, one sample of silence.
    let wav = b"RIFF\x26\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x40\x1f\0\0\x80\x3e\0\0\x02\0\x10\0data\x02\0\0\0\0\0";
    std::fs::write(folder.path().join("said.wav"), wav).unwrap();
    let out = tempfile::tempdir().unwrap();
    let silent = exported(folder.path(), out.path(), "a.usdz", &["--as", "usdz"]);
    assert_eq!(outside::usd(&silent)["sounds"], json!([]));
    let spoken = exported(
        folder.path(),
        out.path(),
        "b.usdz",
        &["--as", "usdz", "--narration"],
    );
    let report = outside::usd(&spoken);
    assert_eq!(report["sounds"], json!(["narration/0.wav"]));
    assert_eq!(report["errors"], json!([]));
    assert!(holds(&std::fs::read(&spoken).unwrap(), "RIFF"));
    // It comes back where it was; where it did not go along, that is told.
    let (back, said) = imported(&spoken, out.path());
    assert_no_errors(&back, "spoken");
    let audio = &document_in(&back)["views"][0]["narration"]["en"]["audio"];
    assert_eq!(
        std::fs::read(back.join(audio.as_str().unwrap())).unwrap(),
        wav
    );
    assert!(said.contains("captions and other languages"), "{said}");
    let away = tempfile::tempdir().unwrap();
    let (back, said) = imported(&silent, away.path());
    assert_no_errors(&back, "silent");
    assert!(
        said.contains("not in the file: narration of view:"),
        "{said}"
    );
}

#[test]
fn annotations_tables_and_a_manifest_come_back() {
    let out = tempfile::tempdir().unwrap();
    let whole = document_in(&demo());
    let notes = exported(
        &demo(),
        out.path(),
        "notes.jsonld",
        &["--as", "annotations"],
    );
    let tables = exported(&demo(), out.path(), "tables", &["--as", "table"]);
    assert_eq!(
        files_below(&tables),
        ["claims.csv", "evidence.csv", "tables-metadata.json"]
    );
    let manifest = exported(
        &demo(),
        out.path(),
        "manifest.json",
        &["--as", "iiif", "--address", "https://museum.example/boss"],
    );
    let value: Value = serde_json::from_slice(&std::fs::read(&manifest).unwrap()).unwrap();
    assert_eq!(
        (&value["type"], &value["items"][0]["type"]),
        (&"Manifest".into(), &"Scene".into())
    );
    let comments = value["items"][0]["annotations"][0]["items"]
        .as_array()
        .unwrap();
    assert_eq!(comments.len(), whole["pins"].as_array().unwrap().len());
    assert_eq!(
        value["items"][0]["items"][0]["items"][0]["body"]["id"],
        "https://museum.example/boss/object.glb"
    );

    let into = |path: &Path, change: &dyn Fn(&mut Value)| -> (Value, String) {
        let folder = copy_of_demo();
        let mut document = whole.clone();
        change(&mut document);
        write_document(folder.path(), &document);
        let told = folder.path().to_str().unwrap();
        let (code, said, errors) = ganosis(
            out.path(),
            &["import", path.to_str().unwrap(), "--into", told],
        );
        assert_eq!(code, 0, "{errors}");
        (document_in(folder.path()), said)
    };
    // Into the dossier that they came from nothing changes.
    for path in [&notes, &tables, &manifest] {
        let (after, said) = into(path, &|_| {});
        assert_eq!(after, whole, "{said}");
        assert!(said.contains("nothing differs"), "{said}");
    }
    // What was lost comes back: all of claims and evidence, in any order of fields.
    let (after, _) = into(&tables, &|document| {
        document["claims"] = json!([]);
        document["evidence"] = json!([]);
        document["pins"] = json!([]);
        document["views"] = json!([]);
    });
    let typed = |value: &Value| {
        let json = serde_json::to_vec(value).unwrap();
        document_from_bytes(&json).unwrap().document
    };
    assert_eq!(typed(&after).claims, typed(&whole).claims);
    assert_eq!(typed(&after).evidence, typed(&whole).evidence);
    let without_pins = |document: &mut Value| {
        document["pins"] = json!([]);
        document["views"] = json!([]);
    };
    let (after, _) = into(&notes, &without_pins);
    let texts = |document: &Value| -> Vec<(Value, Value)> {
        let pins = document["pins"].as_array().unwrap();
        pins.iter()
            .map(|p| (p["title"].clone(), p["text"].clone()))
            .collect()
    };
    assert_eq!(texts(&after), texts(&whole));
    let changed = |document: &mut Value| document["pins"][0]["text"] = "something else".into();
    let (after, said) = into(&manifest, &changed);
    assert_eq!(texts(&after), texts(&whole), "{said}");
}

/// The same around meshes that others made, and their archives.
#[test]
fn what_is_made_of_other_meshes_comes_back() {
    for subject in SUBJECTS.iter().skip(1) {
        let out = tempfile::tempdir().unwrap();
        let site = "https://museum.example/";
        for (name, more) in [
            ("notes.jsonld", ["--as", "annotations"].as_slice()),
            ("tables", &["--as", "table"]),
            ("manifest.json", &["--as", "iiif", "--address", site]),
        ] {
            exported(&subject.folder, out.path(), name, more);
            let copy = tempfile::tempdir().unwrap();
            copy_folder(&subject.folder, copy.path());
            let told = copy.path().to_str().unwrap();
            let (code, said, errors) = ganosis(out.path(), &["import", name, "--into", told]);
            assert_eq!(code, 0, "{}: {name}: {errors}", subject.name);
            assert!(
                said.contains("nothing differs"),
                "{}: {name}: {said}",
                subject.name
            );
        }
        let bag = ["--as", "bag", "--without-pictures"];
        let bag = exported(&subject.folder, out.path(), "bag", &bag);
        assert_eq!(outside::bagit(&bag), None, "{}", subject.name);
        let (back, _) = imported(&bag, out.path());
        assert_eq!(files_below(&back), files_below(&subject.folder));
        for file in files_below(&back) {
            let (a, b) = (back.join(&file), subject.folder.join(&file));
            assert_eq!(
                std::fs::read(a).unwrap(),
                std::fs::read(b).unwrap(),
                "{file}"
            );
        }
    }
}

/// Quotes, commas, line breaks, formulas, text directions: all come back as they were.
#[test]
fn tables_hold_awkward_texts() {
    let out = tempfile::tempdir().unwrap();
    let folder = copy_of_demo();
    let mut document = document_in(folder.path());
    let texts = [
        "=1+1",
        "'=1",
        "-x",
        "a,\"b\"\r\nc",
        "\u{202e}rtl",
        "@cmd",
        "  spaces  ",
        "\t",
        "é",
    ];
    for (claim, text) in texts.iter().enumerate() {
        document["claims"][claim]["argument"] = json!({"en": text, "de": format!("{text}!")});
    }
    document["claims"][9]["argument"] = "plain".into();
    document["claims"][10]["later"] = json!({"deep": [1, {"x": null}]});
    document["claims"][11]["lab_d50"] = json!([50.123_456_789_012_34, -0.1, 1e-7]);
    document["claims"][12]["public"] = false.into();
    write_document(folder.path(), &document);
    let tables = exported(folder.path(), out.path(), "tables", &["--as", "table"]);
    let csv = std::fs::read_to_string(tables.join("claims.csv")).unwrap();
    for row in csv::Reader::from_reader(csv.as_bytes()).records() {
        let row = row.unwrap();
        // No cell of text begins a formula in a spreadsheet; numbers may be negative.
        for cell in row.iter() {
            let formula = cell.starts_with(['=', '+', '@'])
                || (cell.starts_with('-') && cell.parse::<f64>().is_err());
            assert!(!formula, "{cell}");
        }
    }
    let told = folder.path().to_str().unwrap().to_owned();
    let mut emptied = document.clone();
    emptied["claims"] = json!([]);
    emptied["pins"] = json!([]);
    emptied["views"] = json!([]);
    write_document(folder.path(), &emptied);
    let (code, _, errors) = ganosis(out.path(), &["import", "tables", "--into", &told]);
    assert_eq!(code, 0, "{errors}");
    let typed = |value: &Value| {
        document_from_bytes(&serde_json::to_vec(value).unwrap())
            .unwrap()
            .document
    };
    assert_eq!(
        typed(&document_in(folder.path())).claims,
        typed(&document).claims
    );
}

/// Whatever is written, nothing withheld is in any byte of it.
#[test]
fn every_export_respects_clearance() {
    let canary = "KESTREL-7413-UNSAID";
    let folder = copy_of_demo();
    let mut document = document_in(folder.path());
    document["evidence"][0]["public"] = false.into();
    document["evidence"][0]["result"] = json!({"en": canary});
    document["claims"][0]["public"] = false.into();
    document["claims"][0]["argument"] = canary.into();
    document["pins"][0]["public"] = false.into();
    document["pins"][0]["text"] = canary.into();
    document["people"][0]["public"] = false.into();
    document["people"][0]["name"] = canary.into();
    write_document(folder.path(), &document);
    let out = tempfile::tempdir().unwrap();
    for (name, more) in [
        (
            "a.glb",
            ["--as", "glb", "--public", "--despite-mentions"].as_slice(),
        ),
        (
            "a.usdz",
            &["--as", "usdz", "--public", "--despite-mentions"],
        ),
        (
            "bag",
            &[
                "--as",
                "bag",
                "--public",
                "--despite-mentions",
                "--without-pictures",
            ],
        ),
        (
            "a.jsonld",
            &["--as", "annotations", "--public", "--despite-mentions"],
        ),
        (
            "tables",
            &["--as", "table", "--public", "--despite-mentions"],
        ),
        (
            "a.json",
            &[
                "--as",
                "iiif",
                "--address",
                "https://a.example",
                "--public",
                "--despite-mentions",
            ],
        ),
    ] {
        let path = exported(folder.path(), out.path(), name, more);
        let files = if path.is_dir() {
            files_below(&path).iter().map(|f| path.join(f)).collect()
        } else {
            vec![path]
        };
        for file in files {
            assert!(
                !holds(&std::fs::read(&file).unwrap(), canary),
                "{}",
                file.display()
            );
        }
    }
    // Without --public it is all there.
    let path = exported(
        folder.path(),
        out.path(),
        "b.jsonld",
        &["--as", "annotations"],
    );
    assert!(holds(&std::fs::read(path).unwrap(), canary));
}

#[test]
fn files_of_other_programs_are_refused_with_a_word() {
    let out = tempfile::tempdir().unwrap();
    let glb = demo().join("surface.glb");
    let (code, _, errors) = ganosis(out.path(), &["import", glb.to_str().unwrap(), "--to", "x"]);
    assert!(
        code == 2 && errors.contains("carries no dossier"),
        "{errors}"
    );
    std::fs::write(out.path().join("text.txt"), "no").unwrap();
    let (code, _, errors) = ganosis(out.path(), &["import", "text.txt", "--to", "x"]);
    assert!(code == 2 && errors.contains("do:"), "{errors}");
    assert!(!out.path().join("x").exists());
    // Cut off anywhere, a file is refused and nothing breaks.
    let whole = exported(&demo(), out.path(), "a.usdz", &["--as", "usdz"]);
    let whole = std::fs::read(whole).unwrap();
    let packed = exported(&demo(), out.path(), "a.glb", &["--as", "glb"]);
    let packed = std::fs::read(packed).unwrap();
    for bytes in [&whole, &packed] {
        for share in 1..12 {
            let cut = bytes.len() * share / 12;
            std::fs::write(out.path().join("cut"), &bytes[..cut]).unwrap();
            let (code, _, errors) = ganosis(out.path(), &["import", "cut", "--to", "x"]);
            assert!(code == 2 && !errors.contains("panicked"), "{cut}: {errors}");
        }
    }
}

/// Every value of the JSON of a binary glTF exchanged for one of another kind, and a package and
/// tables with bytes turned: told or taken, never a panic.
#[test]
fn no_file_breaks_the_import() {
    let subject = &SUBJECTS[1];
    let out = tempfile::tempdir().unwrap();
    let path = exported(&subject.folder, out.path(), "a.glb", &["--as", "glb"]);
    let bytes = std::fs::read(&path).unwrap();
    let length = u32::from_le_bytes(bytes[12..16].try_into().unwrap()) as usize;
    let gltf: Value = serde_json::from_slice(&bytes[20..20 + length]).unwrap();
    let mut pointers = Vec::new();
    pointers_of(&gltf, String::new(), &mut pointers);
    let wrong = [
        Value::Null,
        json!("x"),
        json!(-1),
        json!(4_294_967_295_u64),
        json!([]),
        json!({}),
    ];
    let mut tried = 0;
    for pointer in &pointers {
        for value in &wrong {
            let mut changed = gltf.clone();
            *changed.pointer_mut(pointer).unwrap() = value.clone();
            let text = serde_json::to_vec(&changed).unwrap();
            let mut file = bytes[..12].to_vec();
            file.extend((text.len() as u32).to_le_bytes());
            file.extend(b"JSON");
            file.extend(&text);
            file.extend(&bytes[20 + length..]);
            let result =
                std::panic::catch_unwind(|| ganosis_exchange::glb::from_glb(&file).is_ok());
            assert!(result.is_ok(), "{pointer} as {value}");
            tried += 1;
        }
    }
    assert!(tried > 1000, "only {tried}");
    let path = exported(&subject.folder, out.path(), "a.usdz", &["--as", "usdz"]);
    let bytes = std::fs::read(&path).unwrap();
    for step in 0..400 {
        let mut turned = bytes.clone();
        // Most of it text, at the beginning and at the end.
        let at = if step % 2 == 0 {
            step * 37
        } else {
            bytes.len() - 1 - step
        };
        let at = at.min(turned.len() - 1);
        turned[at] ^= 1 << (step % 8);
        let result = std::panic::catch_unwind(|| ganosis_exchange::usd::from_usdz(&turned).is_ok());
        assert!(result.is_ok(), "byte {at}");
    }
    let document = document_from_bytes(&serde_json::to_vec(&document_in(&demo())).unwrap());
    let document = document.unwrap().document;
    for rest in [
        "5",
        "[]",
        "{\"anchor\": 5}",
        "{",
        "null",
        "{\"regions\": 3}",
    ] {
        let rest = rest.replace('"', "\"\"");
        let csv = format!("id,technique,anchor.sheet,rest\r\nx,xrf,crown,\"{rest}\"\r\n");
        let result = std::panic::catch_unwind(|| {
            ganosis_exchange::table::merge_tables(&document, None, Some(csv.as_bytes())).is_ok()
        });
        assert!(result.is_ok(), "{csv}");
    }
}

fn pointers_of(value: &Value, at: String, into: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                let name = name.replace('~', "~0").replace('/', "~1");
                pointers_of(value, format!("{at}/{name}"), into);
            }
        }
        Value::Array(list) => {
            for (i, value) in list.iter().enumerate().take(3) {
                pointers_of(value, format!("{at}/{i}"), into);
            }
        }
        _ => {}
    }
    if !at.is_empty() {
        into.push(at);
    }
}
