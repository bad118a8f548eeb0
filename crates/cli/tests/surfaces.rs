//! Surfaces without UVs or with odd ones, masks, and regions on photographs, by the commands as they are
//! run, on a square and photographs made by a formula.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod common;

use std::path::Path;

use common::ganosis;
use common::square::{
    PX, SIDE_M, band, corners, drape, gltf, gltf_of, plane, posed, read, set, write_poses,
};
use ganosis_imaging::drape::{Mesh, SheetSize};
use ganosis_surface::{Surface, gltf_in};
use image::{ImageBuffer, Luma};

fn surface(path: &Path) -> Surface {
    gltf_in::read(&std::fs::read(path).unwrap(), &|_| None).unwrap()
}

/// The surface on sheets of this side.
fn mesh(surface: &Surface, side_px: u32) -> Mesh {
    let sheets = surface.sheets.iter().map(|sheet| SheetSize {
        name: sheet.name.clone(),
        width_px: side_px,
        height_px: side_px,
    });
    Mesh::new(surface, sheets.collect(), &|_| true).unwrap()
}

/// A ball of rings of triangles, closed at the poles by triangles without area, and without UVs.
fn ball(rings: u16) -> String {
    let (mut positions, mut indices) = (Vec::new(), Vec::new());
    let columns = 2 * rings;
    let at = |i: u16, j: u16| j * (columns + 1) + i;
    for j in 0..=rings {
        for i in 0..=columns {
            let a = f32::from(i % columns) / f32::from(columns) * std::f32::consts::TAU;
            let b = f32::from(j) / f32::from(rings) * std::f32::consts::PI;
            let r = if j == 0 || j == rings { 0.0 } else { b.sin() };
            positions.push([0.1 * r * a.cos(), 0.1 * b.cos(), -0.1 * r * a.sin()]);
            if i < columns && j < rings {
                let [p, q, r, s] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                indices.extend([p, r, q, p, s, r]);
            }
        }
    }
    gltf_of(&positions, None, &indices)
}

#[test]
fn a_mesh_without_uvs_is_unwrapped_and_keeps_its_points_and_triangles() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path();
    std::fs::write(path.join("ball.gltf"), ball(24)).unwrap();
    let words = ["unwrap", "ball.gltf", "-o", "ball.glb", "--size", "512"];
    let (code, out, err) = ganosis(path, &words);
    assert_eq!(code, 0, "{out}{err}");
    assert!(
        out.contains("charts cover") && out.contains("no area"),
        "{out}"
    );
    let (from, to) = (
        surface(&path.join("ball.gltf")),
        surface(&path.join("ball.glb")),
    );
    assert_eq!(to.sheets[0].name, from.sheets[0].name);
    let (a, b) = (&from.patches[0], &to.patches[0]);
    assert_eq!(
        (&a.node_path, a.triangle_count()),
        (&b.node_path, b.triangle_count())
    );
    for t in 0..a.triangle_count() {
        let (old, new) = (a.triangle(t).unwrap(), b.triangle(t).unwrap());
        assert_eq!(old.map(|v| a.positions[v]), new.map(|v| b.positions[v]));
    }
    // Each place has texels of its own, none mirrored, and of much the same area.
    let found = mesh(&to, 512);
    let findings = &found.findings;
    assert_eq!(
        (findings.mirrored, findings.across_edge),
        (0, 0),
        "{findings:?}"
    );
    assert!(
        findings.overlapping_m2 < 1e-4 * findings.area_m2,
        "{findings:?}"
    );
    // 4πr², a little less for the facets.
    let wanted = 4.0 * std::f64::consts::PI * 0.01;
    assert!(
        (findings.area_m2 / wanted - 1.0).abs() < 0.01,
        "{findings:?}"
    );
    let texels: f64 = found.texel_areas().iter().map(|a| f64::from(*a)).sum();
    assert!((texels / findings.area_m2 - 1.0).abs() < 0.02, "{texels}");
    // The library's default lets a triangle be four times as dense as another.
    let mean = found.mean_texel_m().powi(2);
    let with_place = found.faces.iter().filter(|f| f.cross_px() != 0.0);
    assert!(
        with_place
            .map(|f| f.texel_m2() / mean)
            .all(|r| (0.25..4.0).contains(&r))
    );

    let (code, _, err) = ganosis(path, &words);
    assert!(code == 2 && err.contains("--force"), "{err}");
    std::fs::write(path.join("none.gltf"), "{").unwrap();
    let (code, _, err) = ganosis(path, &["unwrap", "none.gltf", "-o", "none.glb"]);
    assert!(
        code == 2 && err.contains("none.gltf") && !path.join("none.glb").exists(),
        "{err}"
    );
}

#[test]
fn layers_come_out_right_on_what_was_unwrapped() {
    let dir = set();
    let path = dir.path();
    std::fs::write(path.join("bare.gltf"), gltf(false)).unwrap();
    let bare = [
        "drape",
        "--surface",
        "bare.gltf",
        "--poses",
        "poses.json",
        "--id",
        "v",
        "-o",
        "v",
    ];
    let (code, _, err) = ganosis(path, &bare);
    assert!(
        code == 2 && err.contains("no UVs") && err.contains("ganosis unwrap"),
        "{err}"
    );
    let (code, out, err) = ganosis(
        path,
        &["unwrap", "bare.gltf", "-o", "with.glb", "--size", "256"],
    );
    assert_eq!(code, 0, "{out}{err}");
    let words = [
        "drape",
        "--surface",
        "with.glb",
        "--poses",
        "poses.json",
        "--photos",
        "irr",
    ];
    let more = ["--id", "v", "--band", "IRR", "--size", "256", "-o", "v"];
    let (code, out, err) = ganosis(path, &[&words[..], &more].concat());
    assert_eq!(code, 0, "{out}{err}");
    // Half of the square is 0.6 of the light, half 0.1.
    let image = image::open(path.join("v/1-page.png"))
        .unwrap()
        .into_luma16();
    let found = mesh(&surface(&path.join("with.glb")), 256);
    let (areas, mut sums) = (found.texel_areas(), [0.0; 3]);
    for (code, area) in image.as_raw().iter().zip(areas) {
        let light = f64::from(*code) / 65535.0;
        let k = [0.1, 0.6].iter().position(|l| (light - l).abs() < 0.01);
        sums[k.unwrap_or(2)] += f64::from(area);
    }
    let half = SIDE_M * SIDE_M / 2.0;
    assert!((sums[0] / half - 1.0).abs() < 0.03, "{sums:?}");
    assert!((sums[1] / half - 1.0).abs() < 0.03, "{sums:?}");
}

#[test]
fn what_is_odd_about_a_surface_is_said_with_its_area() {
    let dir = set();
    let path = dir.path();
    let [a, b, c, d] = corners();
    let ended = |name: &str, positions: &[[f32; 3]], uvs: &[[f32; 2]], indices: &[u16]| {
        let text = gltf_of(positions, Some(uvs), indices);
        std::fs::write(path.join("odd.gltf"), text).unwrap();
        let words = ["drape", "--surface", "odd.gltf", "--poses", "poses.json"];
        let more = ["--id", "v", "--size", "128", "-o", name];
        let (code, _, err) = ganosis(path, &[&words[..], &more].concat());
        (code, err)
    };
    let told = |name: &str, positions: &[[f32; 3]], uvs: &[[f32; 2]], indices: &[u16]| {
        let (code, err) = ended(name, positions, uvs, indices);
        assert_eq!(code, 1, "{name}: {err}");
        err
    };
    // Both triangles on the same half of the sheet: 16 of 16 dm² share their texels, each place once.
    let six = [a, d, b, b, d, c];
    let half = [[0.1, 0.1], [0.1, 0.9], [0.9, 0.1]];
    let same = [half[0], half[1], half[2], half[0], half[1], half[2]];
    let err = told("overlapping", &six, &same, &[0, 1, 2, 3, 4, 5]);
    let cm2: f64 = err
        .split("overlap: about ")
        .nth(1)
        .and_then(|rest| rest.split(" cm²").next())
        .unwrap()
        .parse()
        .unwrap();
    // The triangle that comes second, to the rounding of a coarse image.
    assert!((cm2 - 800.0).abs() < 30.0, "{err}");
    // One triangle mirrored, half of the surface: said, and the layer is as good.
    let mirrored = [
        [0.1, 0.1],
        [0.1, 0.5],
        [0.5, 0.1],
        [0.9, 0.9],
        [0.5, 0.9],
        [0.9, 0.5],
    ];
    let (code, err) = ended("mirrored", &six, &mirrored, &[0, 1, 2, 3, 4, 5]);
    assert!(
        code == 0 && err.contains("mirrored") && err.contains("800.0 cm²"),
        "{code}: {err}"
    );
    // All of it mirrored: said, and draped all the same.
    let turned = [[0.9, 0.1], [0.1, 0.1], [0.1, 0.9], [0.9, 0.9]];
    let err = told("turned", &[a, b, c, d], &turned, &[0, 3, 1, 1, 3, 2]);
    assert!(
        err.contains("all 2 triangles (1600.0 cm²) lie mirrored"),
        "{err}"
    );
    assert!(path.join("turned/1-page.png").exists());
    // A triangle without area.
    let uvs = [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]];
    let err = told("thin", &[a, b, c, d], &uvs, &[0, 3, 1, 1, 3, 2, 0, 0, 1]);
    assert!(err.contains("1 triangles have no area"), "{err}");
    // Triangles on a line of the sheet.
    let line = [
        [0.1, 0.1],
        [0.1, 0.9],
        [0.9, 0.1],
        [0.5, 0.5],
        [0.6, 0.6],
        [0.7, 0.7],
    ];
    let err = told("line", &six, &line, &[0, 1, 2, 3, 4, 5]);
    assert!(err.contains("no area on the sheet"), "{err}");
    // Millimetres taken for metres: the square is 400 m wide, and the camera within it.
    let large = [a, b, c, d].map(|p| p.map(|v| v * 1000.0));
    let text = gltf_of(&large, Some(&uvs), &[0, 3, 1, 1, 3, 2]);
    std::fs::write(path.join("odd.gltf"), text).unwrap();
    let words = ["drape", "--surface", "odd.gltf", "--poses", "poses.json"];
    let (_, out, err) = ganosis(
        path,
        &[&words[..], &["--id", "v", "--size", "64", "-o", "mm"]].concat(),
    );
    assert!(err.contains("millimetres"), "{out}{err}");
}

#[test]
fn what_a_mask_covers_is_not_used() {
    let dir = set();
    let path = dir.path();
    // Of the first photograph the left half is black in its mask, the second has none.
    std::fs::create_dir(path.join("masks")).unwrap();
    let mask = ImageBuffer::from_fn(PX[0], PX[1], |x, _| {
        Luma([if x < PX[0] / 2 { 0_u8 } else { 255 }])
    });
    mask.save(path.join("masks/a.png")).unwrap();
    write_poses(path, &[posed("a.png", 0.0)]);
    let more = ["--id", "v", "--size", "100", "--masks", "masks"];
    let (code, out, err) = drape(path, &more);
    assert_eq!(code, 0, "{out}{err}");
    let coverage = image::open(path.join("d/layers/v/1-page-coverage.png"))
        .unwrap()
        .into_luma8();
    // The middle of the picture is the middle of the square, at texel 50; charts go from 10 to 90.
    for (x, y, code) in coverage.enumerate_pixels() {
        if (11..89).contains(&x) && (11..89).contains(&y) && x.abs_diff(50) > 1 {
            assert_eq!(code.0[0], if x < 50 { 64 } else { 255 }, "{x} {y}");
        }
    }
    let document = read(&path.join("d/dossier.json"));
    let inputs = document["layers"][0]["origin"]["inputs"].to_string();
    assert!(inputs.matches("a.png").count() == 2, "{inputs}");
    // Named with the photograph's whole name; and none that is of a photograph.
    std::fs::rename(path.join("masks/a.png"), path.join("masks/a.png.png")).unwrap();
    let (code, out, err) = drape(
        path,
        &["--id", "again", "--size", "100", "--masks", "masks"],
    );
    assert_eq!(code, 0, "{out}{err}");
    let bytes = |id: &str| std::fs::read(path.join(format!("d/layers/{id}/1-page.png"))).unwrap();
    assert!(bytes("v") == bytes("again"));
    std::fs::rename(path.join("masks/a.png.png"), path.join("masks/z.png")).unwrap();
    let (code, _, err) = drape(path, &["--id", "w", "--size", "100", "--masks", "masks"]);
    assert!(code == 2 && err.contains("no mask"), "{err}");
    // One of another size.
    ImageBuffer::from_pixel(20, 20, Luma([255_u8]))
        .save(path.join("masks/a.png"))
        .unwrap();
    let (code, _, err) = drape(path, &["--id", "w", "--size", "100", "--masks", "masks"]);
    assert!(code == 2 && err.contains("20 × 20"), "{err}");
}

/// A disc that reflects more than the rest.
const DISC: [f64; 3] = [0.05, -0.04, 0.06];

#[test]
fn regions_on_photographs_have_areas_where_their_pose_is_known() {
    let dir = set();
    let path = dir.path();
    let is_in = |x: f64, y: f64| (x - DISC[0]).hypot(y - DISC[1]) < DISC[2];
    band(&path.join("disc.png"), 0.1, &|x, y| {
        if is_in(x, y) { 0.7 } else { 0.2 }
    });
    let recipe = r#"
        [inputs]
        irr = { file = "disc.png", encoding = "linear" }
        [[step]]
        make = "light"
        do = "threshold"
        of = "irr"
        least = 0.5
        [[step]]
        make = "two"
        do = "gather"
        of = ["irr"]
        groups = 2
        [[output]]
        of = "light"
        id = "light"
        [[output]]
        of = "two"
        id = "two"
    "#;
    std::fs::write(path.join("r.toml"), recipe).unwrap();
    write_poses(path, &[posed("disc.png", 0.1)]);
    let bands = |more: &[&str]| ganosis(path, &[&["bands", "r.toml"], more].concat());
    // Without a pose: pixels, and what is missing.
    let (code, out, err) = bands(&["-o", "pixels"]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(out.contains("pixels") && out.contains("--pose"), "{out}");
    let told = |out: &str, words: &str| -> f64 {
        let line = out.lines().find_map(|l| l.trim().strip_prefix(words));
        line.unwrap().strip_suffix(" cm²").unwrap().parse().unwrap()
    };
    let with = ["--pose", "poses.json", "--surface", "d/s.gltf", "-o"];
    let (code, out, err) = bands(&[&with[..], &["areas"]].concat());
    assert_eq!(code, 0, "{out}{err}");
    // πr², and all of the square that is in the picture less that. A pixel is 4 mm².
    let disc = std::f64::consts::PI * DISC[2] * DISC[2] * 1e4;
    let half = SIDE_M / 2.0;
    let (left, right) = (
        plane(0.1, 0, 0).0 - 0.001,
        plane(0.1, PX[0] - 1, 0).0 + 0.001,
    );
    let (top, bottom) = (
        plane(0.1, 0, 0).1 + 0.001,
        plane(0.1, 0, PX[1] - 1).1 - 0.001,
    );
    let width = right.min(half) - left.max(-half);
    let shown = width * (top.min(half) - bottom.max(-half)) * 1e4;
    assert!(
        (told(&out, "light 1: ") - disc).abs() < 0.01 * disc,
        "{out}"
    );
    let groups = [told(&out, "two 1: "), told(&out, "two 2: ")];
    assert!((groups[1] - disc).abs() < 0.01 * disc, "{out}");
    assert!(
        (groups[0] - (shown - disc)).abs() < 0.01 * shown,
        "{out} {shown}"
    );
    let layers = read(&path.join("areas/layers.json"));
    let inputs = layers[0]["origin"]["inputs"].to_string();
    assert!(
        inputs.contains("poses.json") && inputs.contains("s.gltf"),
        "{inputs}"
    );
    let description = layers[0]["description"].as_str().unwrap();
    assert!(description.contains("cm²"), "{description}");
    // A photograph is no layer; and a pose that is not of this photograph.
    let (code, _, err) = bands(&["--dossier", "d"]);
    assert!(code == 2 && err.contains("no sheet"), "{err}");
    assert!(!path.join("d/layers/light").exists());
    let mut other = posed("disc.png", 0.1);
    other.lens.width_px = 640;
    write_poses(path, &[other]);
    let (code, _, err) = bands(&[&with[..], &["other"]].concat());
    assert!(code == 2 && err.contains("640"), "{err}");
    assert!(!path.join("other/light").exists());
    write_poses(path, &[posed("a.png", 0.1), posed("b.png", 0.1)]);
    let (code, _, err) = bands(&[&with[..], &["other"]].concat());
    assert!(code == 2 && err.contains("2 photographs"), "{err}");
    let (code, _, err) = bands(&["--pose", "poses.json", "-o", "other"]);
    assert!(code == 2 && err.contains("--surface"), "{err}");
}
