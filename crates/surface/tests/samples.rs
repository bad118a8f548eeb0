//! Real files: counts against an outside validator, and wrong files.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use common::{copied, in_place, models, open};
use ganosis_surface::{Surface, SurfaceError};

#[derive(Debug)]
struct Row {
    file: String,
    counts: [u64; 5],
    draco: bool,
}

/// Rows of a table written with the Khronos glTF validator 2.0.0-dev.3.10.
fn rows(table: &Path) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(table).unwrap();
    let headers = reader.headers().unwrap().clone();
    let column = |name: &str| headers.iter().position(|h| h == name).unwrap();
    // Its column "textures" counts the pictures: clear-coat has 10 textures of 6 images, and 6 there.
    let numbers = [
        "triangles",
        "vertices",
        "draw_calls",
        "materials",
        "textures",
    ]
    .map(column);
    let (file, extensions) = (column("file"), column("extensions"));
    reader
        .records()
        .map(|r| r.unwrap())
        .map(|r| Row {
            file: r[file].to_owned(),
            counts: numbers.map(|c| r[c].parse().unwrap()),
            draco: r[extensions].contains("draco"),
        })
        .collect()
}

fn agrees(row: &Row, path: &Path) {
    if row.draco {
        let error = open(path).unwrap_err();
        assert!(
            matches!(&error, SurfaceError::Extension { name, .. } if name == "KHR_draco_mesh_compression")
        );
        assert!(
            error.to_string().contains("without mesh compression"),
            "{error}"
        );
        return;
    }
    let (_, c) = open(path).unwrap_or_else(|e| panic!("{}: {e}", row.file));
    let got = [c.triangles, c.vertices, c.draw_calls, c.materials, c.images];
    assert_eq!(got, row.counts, "{}", row.file);
}

#[test]
fn counts_of_the_copied_files_agree_with_the_validator() {
    let folder = copied("samples/meshes");
    let rows = rows(&folder.join("expected.csv"));
    assert!(rows.len() >= 20);
    for row in rows {
        agrees(&row, &folder.join(&row.file));
    }
}

#[test]
fn counts_of_the_files_read_in_place_agree_with_the_validator() {
    let Some(folder) = in_place() else {
        println!("skipped 35 meshes: GANOSIS_SAMPLES is not set");
        return;
    };
    let rows = rows(&folder.join("meshes/expected.csv"));
    assert!(rows.len() >= 30);
    for row in rows {
        agrees(&row, &folder.join(&row.file));
    }
}

/// Every number of a surface must be usable by the others.
fn assert_sound(surface: &Surface, path: &Path) {
    for patch in &surface.patches {
        let n = patch.positions.len();
        let at = path.display();
        assert!(patch.sheet < surface.sheets.len(), "{at}");
        assert!(patch.positions.iter().all(|p| p.is_finite()), "{at}");
        assert!(patch.normals.iter().all(|v| v.is_finite()), "{at}");
        assert!(patch.uvs.iter().all(|v| v.is_finite()), "{at}");
        assert_eq!((patch.normals.len(), patch.uvs.len()), (n, n), "{at}");
        assert!(patch.indices.iter().all(|i| (*i as usize) < n), "{at}");
        assert_eq!(patch.indices.len() % 3, 0, "{at}");
    }
}

/// Opens or refuses every model of a folder; gives (opened, refused).
fn never_panics(folder: &Path) -> (usize, usize) {
    let (mut opened, mut refused) = (0, 0);
    for path in models(folder) {
        let result = catch_unwind(AssertUnwindSafe(|| open(&path)));
        match result.unwrap_or_else(|_| panic!("{} makes it panic", path.display())) {
            Ok((surface, _)) => {
                assert_sound(&surface, &path);
                opened += 1;
            }
            Err(e) => {
                let text = e.to_string();
                assert!(text.len() > 30, "{}: {text}", path.display());
                println!("{}: {text}", path.file_name().unwrap().display());
                refused += 1;
            }
        }
    }
    (opened, refused)
}

#[test]
fn wrong_files_are_opened_or_refused_with_a_message() {
    let (opened, refused) = never_panics(&copied("bad/meshes"));
    assert!(opened + refused >= 19, "{opened} {refused}");
}

#[test]
fn wrong_files_read_in_place_are_opened_or_refused_with_a_message() {
    let Some(folder) = in_place() else {
        println!("skipped about 200 wrong files: GANOSIS_SAMPLES is not set");
        return;
    };
    let (opened, refused) = never_panics(&folder.join("invalid"));
    println!("{opened} opened, {refused} refused");
    assert!(opened + refused >= 200, "{opened} {refused}");
}

#[test]
fn what_cannot_be_mended_is_refused_and_what_can_is_noted() {
    let bad = copied("bad/meshes/assimp");
    for (file, words) in [
        ("IndexOutOfRange/IndexOutOfRange.gltf", "asks for vertex"),
        (
            "IndexOutOfRange/AllIndicesOutOfRange.gltf",
            "asks for vertex",
        ),
        (
            "BoxWithInfinites-glTF-Binary/BoxWithInfinites.glb",
            "no place",
        ),
        ("MissingBin/BoxTextured.gltf", "is missing"),
        ("RecursiveNodes/RecursiveNodes.gltf", "without loops"),
        ("wrongTypes/badArray.gltf", "meshes[0]: invalid type"),
    ] {
        let error = open(&bad.join(file))
            .err()
            .map(|e| e.to_string())
            .unwrap_or_default();
        assert!(error.contains(words), "{file}: {error}");
    }
    let (surface, _) = open(&bad.join("BoxBadNormals-glTF-Binary/BoxBadNormals.glb")).unwrap();
    for normal in &surface.patches[0].normals {
        assert!((normal.length() - 1.0).abs() < 1e-5);
    }
}

#[test]
fn every_cut_of_a_binary_file_is_refused() {
    let path = copied("samples/meshes/draco/bunny.glb");
    let bytes = std::fs::read(path).unwrap();
    for length in (0..200).chain((200..bytes.len()).step_by(997)) {
        assert!(ganosis_surface::gltf_in::read(&bytes[..length], &|_| None).is_err());
    }
}

/// Distance of each vertex of one surface to the other, the largest.
fn furthest(from: &Surface, to: &Surface) -> f32 {
    let picker = ganosis_surface::pick::Picker::new(to);
    let points = from.patches.iter().flat_map(|p| &p.positions);
    let far = |p: &glam::Vec3| picker.nearest(*p, 1.0, &|_| true).unwrap().distance_m;
    points.map(far).fold(0.0, f32::max)
}

#[test]
fn the_compressed_twin_has_the_same_shape_and_uvs() {
    let Some(folder) = in_place() else {
        println!("skipped 1 pair: GANOSIS_SAMPLES is not set");
        return;
    };
    let folder = folder.join("meshes/controller");
    let (plain, _) = open(&folder.join("controller.glb")).unwrap();
    let (packed, _) = open(&folder.join("controller-meshopt.glb")).unwrap();
    let size = plain.bounds().unwrap().radius_m() * 2.0;
    // The packer quantises positions to 14 bits of the largest extent, UVs to 12
    // (its defaults); half a step an axis, doubled for the slack of node transforms.
    let tolerance = size / 16_384.0 * 2.0;
    assert!(
        furthest(&packed, &plain) < tolerance,
        "{}",
        furthest(&packed, &plain) / tolerance
    );
    assert!(
        furthest(&plain, &packed) < tolerance,
        "{}",
        furthest(&plain, &packed) / tolerance
    );
    let uv_range = |s: &Surface| {
        let mut low = glam::Vec2::INFINITY;
        let mut high = glam::Vec2::NEG_INFINITY;
        for patch in &s.patches {
            for v in 0..patch.positions.len() {
                low = low.min(s.sheet_uv(patch, v));
                high = high.max(s.sheet_uv(patch, v));
            }
        }
        (low, high)
    };
    let (a, b) = (uv_range(&plain), uv_range(&packed));
    assert!(
        a.0.distance(b.0) < 2.0 / 4096.0 && a.1.distance(b.1) < 2.0 / 4096.0,
        "{a:?} {b:?}"
    );
}
