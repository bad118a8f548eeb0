//! `ganosis drape` and `ganosis bands` as they are run, on a square and photographs made by a formula.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod common;

use std::path::Path;
use std::process::Command;

use common::ganosis;
use common::square::{
    DRAPE, PX, SIDE_M, band, drape, gltf, names, paint, posed, read, set, write_poses,
};
use ganosis_colorimetry::rgb::decode_srgb;
use ganosis_imaging::lens::Lens;
use serde_json::{Value, json};

#[test]
fn colour_and_band_go_into_a_dossier_that_checks_and_bands_are_made_of_them() {
    let dir = set();
    let (code, out, err) = drape(dir.path(), &["--id", "vis", "--size", "256"]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(out.contains("100.0 % of the texels"), "{out}");
    let more = [
        "--id", "irr", "--band", "IRR", "--size", "256", "--photos", "irr",
    ];
    let (code, out, err) = drape(dir.path(), &more);
    assert_eq!(code, 0, "{out}{err}");
    let files = ["-coverage", "-photo", "-resolution", "-views", ""];
    let mut wanted: Vec<String> = files.iter().map(|f| format!("1-page{f}.png")).collect();
    wanted.extend(["1-page.tif".to_owned(), "layer.json".to_owned()]);
    wanted.sort();
    assert_eq!(names(&dir.path().join("d/layers/vis")), wanted);

    // Colours are those of the paint to a code of 8 bits and the rounding of the photographs.
    let image = image::open(dir.path().join("d/layers/vis/1-page.png"))
        .unwrap()
        .into_rgba8();
    let deep = image::open(dir.path().join("d/layers/vis/1-page.tif")).unwrap();
    assert_eq!(deep.color(), image::ColorType::Rgb16);
    let mut most = 0.0_f64;
    for (x, y, pixel) in image.enumerate_pixels() {
        let at = |v: u32| ((f64::from(v) + 0.5) / 256.0 - 0.1) / 0.8;
        let (u, v) = (at(x), at(y));
        if !(0.01..0.99).contains(&u) || !(0.01..0.99).contains(&v) || (u - 0.5).abs() < 0.02 {
            continue;
        }
        assert_eq!(pixel.0[3], 255);
        let wanted = paint((u - 0.5) * SIDE_M, (0.5 - v) * SIDE_M);
        for (got, wanted) in pixel.0.iter().zip(wanted) {
            most = most.max((decode_srgb(f64::from(*got) / 255.0) - wanted).abs());
        }
    }
    assert!(most < 0.008, "{most}");
    assert_eq!(image.get_pixel(2, 2).0[3], 0);

    // The record says what went in.
    let document = read(&dir.path().join("d/dossier.json"));
    let vis = &document["layers"][0];
    assert_eq!(
        (&vis["id"], &vis["images"][0]["sheet"]),
        (&json!("vis"), &json!("front"))
    );
    assert_eq!(vis["origin"]["command"], "ganosis drape");
    let inputs = vis["origin"]["inputs"].as_array().unwrap();
    assert_eq!(inputs.len(), 4);
    assert!(
        inputs
            .iter()
            .all(|i| i["sha256"].as_str().unwrap().len() == 64)
    );
    assert_eq!(vis["origin"]["parameters"]["retoned"], false);

    // Bands: false colour, and the half that reflects infrared, with its area: 20 × 40 cm.
    let recipe = r#"
        [inputs]
        vis = { layer = "vis" }
        irr = { layer = "irr" }
        [[step]]
        make = "irfc"
        do = "irfc"
        infrared = "irr"
        red = "vis.red"
        green = "vis.green"
        [[step]]
        make = "light"
        do = "threshold"
        of = "irr"
        least = 0.3
        [[output]]
        of = "irfc"
        id = "irfc"
        [[output]]
        of = "light"
        id = "light"
    "#;
    std::fs::write(dir.path().join("recipe.toml"), recipe).unwrap();
    let (code, out, err) = ganosis(dir.path(), &["bands", "recipe.toml", "--dossier", "d"]);
    assert_eq!(code, 0, "{out}{err}");
    let told = out
        .lines()
        .find_map(|l| l.trim().strip_prefix("light 1: "))
        .unwrap();
    let cm2: f64 = told.strip_suffix(" cm²").unwrap().parse().unwrap();
    assert!((cm2 - 800.0).abs() < 16.0, "{cm2}");
    let document = read(&dir.path().join("d/dossier.json"));
    let last = document["layers"]
        .as_array()
        .unwrap()
        .last()
        .unwrap()
        .clone();
    assert_eq!(last["origin"]["parameters"]["recipe"], recipe);
    let (code, out, err) = ganosis(dir.path(), &["check", "d"]);
    assert_eq!(code, 0, "{out}{err}");

    // A second time the id is taken.
    let (code, _, err) = drape(dir.path(), &["--id", "vis", "--size", "256"]);
    assert!(code == 2 && err.contains("another id"), "{err}");
}

#[test]
fn bad_input_is_named_and_leaves_no_image() {
    let dir = set();
    let path = dir.path();
    let refused = |more: &[&str], words: &[&str]| {
        let (code, out, err) = drape(path, &[&["--id", "x", "--size", "64"], more].concat());
        assert_eq!(code, 2, "{out}{err}");
        for word in words {
            assert!(err.contains(word), "{word}: {err}");
        }
        assert!(!path.join("d/layers/x/1-page.png").exists());
        assert_eq!(read(&path.join("d/dossier.json"))["revision"], 1);
    };
    refused(&["--photos", "d"], &["a.png is not there"]);
    refused(&["--encoding", "linear", "--band", "IRR"], &["8 bits"]);
    refused(&["--leave-out", "nobody"], &["nobody"]);
    refused(&["--state", "x-coverage"], &["an id of its own"]);
    refused(&["--state", "../x"], &["id of a state"]);
    // The photograph was turned on export.
    let mut turned = posed("a.png", -0.1);
    turned.lens = Lens::simple(PX[1] as usize, PX[0] as usize, 400.0);
    write_poses(path, &[turned]);
    refused(&[], &["turned", "EXIF"]);
    // A lens of another photograph.
    let mut other = posed("a.png", -0.1);
    other.lens = Lens::simple(6000, 4000, 4000.0);
    write_poses(path, &[other]);
    refused(&[], &["6000 × 4000"]);
    // From behind: the backs of the triangles.
    let mut behind = posed("a.png", 0.0);
    behind.pose.rotation = [[-1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0]];
    write_poses(path, &[behind]);
    refused(&[], &["inside the mesh"]);
    // 8 and 16 bits in one job.
    band(&path.join("c.png"), 0.1, &|_, _| 0.5);
    write_poses(path, &[posed("a.png", -0.1), posed("c.png", 0.1)]);
    refused(&["--band", "IRR"], &["bits a sample"]);
    // No UVs.
    write_poses(path, &[posed("a.png", -0.1)]);
    std::fs::write(path.join("d/s.gltf"), gltf(false)).unwrap();
    refused(&[], &["no UVs"]);
}

#[test]
fn a_run_that_failed_goes_on_and_what_nothing_saw_is_filled_only_when_asked() {
    let dir = set();
    let path = dir.path();
    // The second photograph cannot be read, then it can.
    let whole = std::fs::read(path.join("b.png")).unwrap();
    std::fs::write(path.join("b.png"), &whole[..whole.len() / 2]).unwrap();
    let (code, _, err) = drape(path, &["--id", "v", "--size", "64"]);
    assert!(code == 2 && err.contains("b.png"), "{err}");
    assert!(!path.join("d/layers/v/1-page.png").exists());
    std::fs::write(path.join("b.png"), &whole).unwrap();
    let (code, out, err) = drape(path, &["--id", "v", "--size", "64"]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(!path.join("d/layers/v/.drape-in-work").exists());

    // One photograph far to the right sees a part.
    write_poses(path, &[posed("a.png", 0.3)]);
    let filled = |id: &str, more: &[&str]| {
        let (code, out, err) = drape(path, &[&["--id", id, "--size", "64"], more].concat());
        assert_eq!(code, 0, "{out}{err}");
        let open =
            |end: &str| image::open(path.join(format!("d/layers/{id}/1-page{end}.png"))).unwrap();
        let coverage = open("-coverage").into_luma8();
        let alpha = open("").into_rgba8().get_pixel(10, 32).0[3];
        let count = |code: u8| coverage.as_raw().iter().filter(|c| **c == code).count();
        (alpha, count(64), count(128), count(255))
    };
    let (alpha, unseen, made_up, seen) = filled("bare", &[]);
    assert!(alpha == 0 && unseen > 500 && made_up == 0 && seen > 500);
    let (alpha, left, made_up, same) = filled("full", &["--fill"]);
    assert_eq!((alpha, left, made_up, same), (255, 0, unseen, seen));
}

/// The system kills a program that makes a file larger than it may, if it does not say otherwise: half of
/// the texels are mixed then, and one after the other, so that it is the same half each time.
#[cfg(unix)]
#[test]
fn a_run_that_was_killed_goes_on_and_gives_the_same_image() {
    use std::os::unix::process::ExitStatusExt;
    let dir = set();
    let path = dir.path();
    let more = ["--id", "killed", "--size", "2048"];
    // 2048² texels of 20 bytes are 80 MiB.
    let status = Command::new("bash")
        .args(["-c", "ulimit -c 0; ulimit -f 40000; exec \"$0\" \"$@\""])
        .arg(env!("CARGO_BIN_EXE_ganosis"))
        .args([&DRAPE[..], &more].concat())
        .env("RAYON_NUM_THREADS", "1")
        .current_dir(path)
        .stderr(std::process::Stdio::null())
        .stdout(std::process::Stdio::null())
        .status()
        .unwrap();
    assert!(status.signal().is_some(), "{status}");
    let journal = path.join("d/layers/killed/.drape-in-work/journal");
    let text = std::fs::read_to_string(journal).unwrap();
    assert!(text.contains("mixed") && !path.join("d/layers/killed/1-page.png").exists());
    let (code, out, err) = drape(path, &more);
    assert_eq!(code, 0, "{out}{err}");
    assert!(err.contains("going on"), "{err}");
    let (code, out, err) = drape(path, &["--id", "whole", "--size", "2048"]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(!err.contains("going on"), "{err}");
    for file in [
        "1-page.png",
        "1-page-views.png",
        "1-page-resolution.png",
        "1-page-photo.png",
    ] {
        let read = |id: &str| std::fs::read(path.join(format!("d/layers/{id}/{file}"))).unwrap();
        assert!(read("killed") == read("whole"), "{file}");
    }
}

#[test]
fn a_recipe_over_photographs_cautions_about_ultraviolet_and_names_what_is_wrong() {
    let dir = set();
    let path = dir.path();
    let recipe = r#"
        [inputs]
        uvl = { file = "irr/a.png", band = "UVL" }
        off = { file = "irr/b.png" }
        [[step]]
        make = "net"
        do = "ambient"
        of = "uvl"
        lamp_off = "off"
        [[output]]
        of = "net"
        id = "net"
    "#;
    std::fs::write(path.join("r.toml"), recipe).unwrap();
    let (code, out, err) = ganosis(path, &["bands", "r.toml", "-o", "out"]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(
        err.contains("caution") && err.contains("eyes and skin"),
        "{err}"
    );
    assert_eq!(names(&path.join("out")), ["layers.json", "net"]);
    let layer = &read(&path.join("out/layers.json"))[0];
    assert!(layer["caution"].as_str().unwrap().contains("eyes and skin"));
    assert_eq!(
        (&layer["unit"], &layer["kind"]),
        (&json!("relative"), &json!("band"))
    );
    let cases = [
        (recipe.replace("lamp_off", "lamp_of"), "lamp_of"),
        (
            recipe.replace("\"net\"\n        do", "\"net\"\n        do2"),
            "net",
        ),
        (recipe.replace("of = \"uvl\"", "of = \"uvr\""), "uvr"),
        (recipe.replace("irr/b.png", "irr/none.png"), "none.png"),
        (recipe.replace("[[output]]", "[[out]]"), "line"),
    ];
    for (text, word) in cases {
        std::fs::write(path.join("r.toml"), text).unwrap();
        let (code, out, err) = ganosis(path, &["bands", "r.toml", "-o", "out2"]);
        assert!(code == 2 && err.contains(word), "{word}: {out}{err}");
        assert!(names(&path.join("out2")).is_empty());
    }
}

/// The formula of a band in percent, and a recipe that makes photographs of it: a board of 80 % stands in a
/// photograph of its own and has half of the largest code, so that a code is 160 % of a perfect white.
const BOARD_LIGHT: f64 = 0.5;
const BOARD_PERCENT: f64 = 80.0;

fn percent(u: f64, v: f64) -> f64 {
    40.0 + 60.0 * u - 30.0 * v
}

fn percent_recipe(range: &str) -> String {
    let of = |name: &str| {
        format!(
            r#"
        [[step]]
        make = "percent-{name}"
        do = "reflectance"
        of = "{name}"
        standards_in = "board"
        standards = [{{ at_px = [10, 10, 30, 30], percent = {BOARD_PERCENT:.1} }}]
        [[output]]
        of = "percent-{name}"
        id = "{name}"
        {range}
"#
        )
    };
    format!(
        "[inputs]\na = {{ file = \"irr/a.png\" }}\nb = {{ file = \"irr/b.png\" }}\n\
         board = {{ file = \"board.png\" }}\n{}{}",
        of("a"),
        of("b")
    )
}

#[test]
fn a_band_of_photographs_in_percent_is_in_percent_on_the_surface_too() {
    let dir = set();
    let path = dir.path();
    let light = |u: f64, v: f64| percent(u, v) / BOARD_PERCENT * BOARD_LIGHT;
    for (name, right) in [("a", -0.1), ("b", 0.1)] {
        band(&path.join(format!("irr/{name}.png")), right, &light);
    }
    band(&path.join("board.png"), 0.0, &|_, _| BOARD_LIGHT);
    let made = |range: &str, folder: &str| {
        std::fs::write(path.join("r.toml"), percent_recipe(range)).unwrap();
        let (code, out, err) = ganosis(path, &["bands", "r.toml", "-o", folder]);
        assert_eq!(code, 0, "{out}{err}");
    };
    made("range = [0.0, 120.0]", "made");
    made("range = [0.0, 90.0]", "other");
    let draped = |id: &str, photos: [&str; 2]| {
        let photos_in = format!("photos-{id}");
        let folder = path.join(&photos_in);
        std::fs::create_dir(&folder).unwrap();
        for (to, from) in ["a.png", "b.png"].into_iter().zip(photos) {
            std::fs::copy(path.join(from), folder.join(to)).unwrap();
        }
        let more = [
            "--id", id, "--band", "IRR", "--size", "128", "--photos", &photos_in,
        ];
        drape(path, &more)
    };
    let layer = |id: &str| {
        let document = read(&path.join("d/dossier.json"));
        let layers = document["layers"].as_array().unwrap();
        layers.iter().find(|l| l["id"] == id).unwrap().clone()
    };

    let (code, out, err) = draped("irr", ["made/a/1.png", "made/b/1.png"]);
    assert_eq!(code, 0, "{out}{err}");
    let record = layer("irr");
    assert_eq!(record["unit"], "%");
    let [low, high]: [f64; 2] = serde_json::from_value(record["range"].clone()).unwrap();
    assert!(low.abs() < 0.01 && high == 120.0, "{low} {high}");
    let image = image::open(path.join("d/layers/irr/1-page.png")).unwrap();
    let mut seen = 0;
    for (x, y, code) in image.into_luma16().enumerate_pixels() {
        let at = |v: u32| ((f64::from(v) + 0.5) / 128.0 - 0.1) / 0.8;
        let (u, v) = (at(x), at(y));
        if !(0.02..0.98).contains(&u) || !(0.02..0.98).contains(&v) || code.0[0] == 0 {
            continue;
        }
        seen += 1;
        let wanted = percent((u - 0.5) * SIDE_M, (0.5 - v) * SIDE_M);
        let got = low + f64::from(code.0[0]) / 65535.0 * (high - low);
        // A texel is 4 mm, over which the formula changes by 0.24 % at most.
        assert!((got - wanted).abs() < 0.1, "{x} {y}: {got} {wanted}");
    }
    assert!(seen > 5_000, "{seen}");

    // Of different ranges the same codes are different values.
    let (code, _, err) = draped("mixed", ["made/a/1.png", "other/b/1.png"]);
    assert!(code == 2 && err.contains("cannot be mixed"), "{err}");
    // What another program wrote says nothing, and then the whole is no more than light.
    let (code, out, err) = draped("half", ["made/a/1.png", "irr/b.png"]);
    assert!(err.contains("does not say its unit"), "{code} {out}{err}");
    assert_eq!(
        (&layer("half")["unit"], &layer("half")["range"]),
        (&json!("relative"), &json!([0.0, 1.0]))
    );
}

/// Of two bands that are the same, one component has all of the variance and both have 1/√2 of it.
#[test]
fn principal_components_are_told_in_words() {
    let dir = set();
    let recipe = r#"
        [inputs]
        one = { file = "irr/a.png" }
        two = { file = "irr/a.png" }
        [[step]]
        make = "pc"
        do = "principal-components"
        of = ["one", "two"]
        [[output]]
        of = "pc"
        id = "pc"
    "#;
    std::fs::write(dir.path().join("r.toml"), recipe).unwrap();
    let (code, out, err) = ganosis(dir.path(), &["bands", "r.toml", "-o", "out"]);
    assert_eq!(code, 0, "{out}{err}");
    let told = "pc, component 1: 100.0 % of the variance; loadings one +0.707, two +0.707";
    assert!(out.contains(told), "{out}");
}

/// Changes `dossier.json` of a set.
fn edit(dir: &Path, with: impl FnOnce(&mut Value)) {
    let path = dir.join("d/dossier.json");
    let mut document = read(&path);
    with(&mut document);
    std::fs::write(path, document.to_string()).unwrap();
}

#[test]
fn files_that_were_moved_in_part_are_taken_back_and_the_run_goes_on() {
    let dir = set();
    let path = dir.path();
    let layer = path.join("d/layers/v");
    let more = ["--id", "v", "--size", "64"];
    // Something in the dossier that cannot be saved again: the files are out, the dossier is not.
    edit(path, |document| document["description"] = json!(7));
    let (code, _, err) = drape(path, &more);
    assert!(code == 2 && err.contains("could not be saved"), "{err}");
    assert!(layer.join("1-page.png").exists());
    // As if the run had been killed between two of the moves.
    let work = layer.join(".drape-in-work/images");
    std::fs::rename(layer.join("1-page.tif"), work.join("1-page.tif")).unwrap();
    std::fs::rename(layer.join("layer.json"), work.join("layer.json")).unwrap();
    edit(path, |document| document["description"] = json!("Boss"));
    let (code, out, err) = drape(path, &more);
    assert_eq!(code, 0, "{out}{err}");
    assert!(layer.join("1-page.tif").exists() && !layer.join(".drape-in-work").exists());
    let document = read(&path.join("d/dossier.json"));
    assert_eq!(document["layers"][0]["id"], "v");
    let (code, out, err) = ganosis(path, &["check", "d"]);
    assert_eq!(code, 0, "{out}{err}");
}

#[test]
fn nothing_of_a_layer_is_written_over_nor_has_an_id_twice() {
    let dir = set();
    let path = dir.path();
    let refused = |what: &str| {
        let (code, _, err) = drape(path, &["--id", "v", "--size", "64"]);
        assert!(code == 2 && err.contains(what), "{what}: {err}");
    };
    edit(path, |document| {
        document["layers"] = json!([{"id": "v-views", "kind": "band", "title": "Views"}]);
    });
    refused("v-views");
    edit(path, |document| document["layers"] = json!([]));
    for file in ["1-page-coverage.png", "1-page.tif", "layer.json"] {
        let taken = path.join("d/layers/v").join(file);
        std::fs::create_dir_all(taken.parent().unwrap()).unwrap();
        std::fs::write(&taken, "theirs").unwrap();
        refused(file);
        assert_eq!(std::fs::read_to_string(&taken).unwrap(), "theirs");
        std::fs::remove_file(taken).unwrap();
    }
    // Bands: an image of two bands becomes two layers, each with an id of its own.
    let recipe = r#"
        [inputs]
        one = { file = "irr/a.png" }
        two = { file = "irr/a.png" }
        [[step]]
        make = "both"
        do = "stack"
        of = ["one", "two"]
        [[output]]
        of = "both"
        id = "both"
    "#;
    std::fs::write(path.join("r.toml"), recipe).unwrap();
    let bands = || ganosis(path, &["bands", "r.toml", "-o", "out"]);
    std::fs::create_dir_all(path.join("out/both-two")).unwrap();
    let (code, _, err) = bands();
    assert!(code == 2 && err.contains("both-two"), "{err}");
    assert_eq!(names(&path.join("out")), ["both-two"]);
    std::fs::remove_dir(path.join("out/both-two")).unwrap();
    let (code, out, err) = bands();
    assert_eq!(code, 0, "{out}{err}");
    assert_eq!(
        names(&path.join("out")),
        ["both-one", "both-two", "layers.json"]
    );
    let (code, _, err) = bands();
    assert!(code == 2 && err.contains("layers.json"), "{err}");
    // A run that was killed before the record was there.
    std::fs::create_dir(path.join("out/.bands-in-work")).unwrap();
    std::fs::write(
        path.join("out/.bands-in-work/moving"),
        "both-one\nboth-two\nlayers.json",
    )
    .unwrap();
    std::fs::remove_file(path.join("out/layers.json")).unwrap();
    let (code, out, err) = bands();
    assert_eq!(code, 0, "{out}{err}");
    assert_eq!(
        names(&path.join("out")),
        ["both-one", "both-two", "layers.json"]
    );
}

#[test]
fn layers_under_ultraviolet_keep_their_caution_and_code_0_is_no_value() {
    let dir = set();
    let path = dir.path();
    // A photograph far to the right sees a part; its name is not of plain letters.
    std::fs::copy(path.join("irr/a.png"), path.join("irr/bänd.png")).unwrap();
    write_poses(path, &[posed("bänd.png", 0.3)]);
    let more = [
        "--id", "uvl", "--band", "UVL", "--size", "256", "--photos", "irr",
    ];
    let (code, out, err) = drape(path, &more);
    assert_eq!(code, 0, "{out}{err}");
    // All that is dark, of a layer whose record of what was seen is gone.
    let recipe = r#"
        [inputs]
        light = { layer = "uvl" }
        [[step]]
        make = "dark"
        do = "threshold"
        of = "light"
        most = 0.05
        [[step]]
        make = "lit"
        do = "threshold"
        of = "light"
        least = 0.05
        [[output]]
        of = "dark"
        id = "dark"
        [[output]]
        of = "lit"
        id = "lit"
    "#;
    std::fs::write(path.join("r.toml"), recipe).unwrap();
    let (code, out, err) = ganosis(path, &["bands", "r.toml", "--dossier", "d"]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(
        err.contains("caution") && err.contains("eyes and skin"),
        "{err}"
    );
    let document = read(&path.join("d/dossier.json"));
    let layer = |id: &str| {
        let mut layers = document["layers"].as_array().unwrap().iter();
        layers.find(|l| l["id"] == id).unwrap().clone()
    };
    let dark = layer("dark");
    assert!(dark["caution"].as_str().unwrap().contains("eyes and skin"));
    let inputs = dark["origin"]["inputs"].as_array().unwrap();
    let files: Vec<&str> = inputs.iter().map(|i| i["file"].as_str().unwrap()).collect();
    assert_eq!(
        files,
        [
            "r.toml",
            "layers/uvl/1-page.png",
            "layers/uvl/1-page-coverage.png"
        ]
    );
    edit(path, |document| {
        let layers = document["layers"].as_array_mut().unwrap();
        layers.retain(|layer| layer["id"] == "uvl");
    });
    std::fs::remove_dir_all(path.join("d/layers/dark")).unwrap();
    std::fs::remove_dir_all(path.join("d/layers/lit")).unwrap();
    let (code, again, err) = ganosis(path, &["bands", "r.toml", "--dossier", "d"]);
    assert_eq!(code, 0, "{again}{err}");
    // The darkest paint is 0.1: nothing that was seen is as dark, and what was not seen is not dark.
    for told in [out, again] {
        assert!(!told.contains("dark 1:"), "{told}");
        assert!(told.contains("lit 1:"), "{told}");
    }
}

#[test]
fn the_record_in_the_tiff_is_in_the_letters_that_it_may_have() {
    let dir = set();
    let path = dir.path();
    std::fs::copy(path.join("a.png"), path.join("bänd.png")).unwrap();
    write_poses(path, &[posed("bänd.png", -0.1)]);
    let (code, out, err) = drape(path, &["--id", "v", "--size", "64"]);
    assert_eq!(code, 0, "{out}{err}");
    let file = std::fs::File::open(path.join("d/layers/v/1-page.tif")).unwrap();
    let mut tiff = tiff::decoder::Decoder::new(std::io::BufReader::new(file)).unwrap();
    let text = tiff
        .get_tag_ascii_string(tiff::tags::Tag::ImageDescription)
        .unwrap();
    assert!(text.is_ascii(), "{text}");
    let origin: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(origin["inputs"][2]["file"], "bänd.png");
}

#[test]
fn numbers_that_make_no_sense_are_refused() {
    let dir = set();
    for (name, value, word) in [
        ("--tolerance", "0", "above 0"),
        ("--tolerance", "NaN", "above 0"),
        ("--border", "65", "0 to 64"),
        ("--border=-1", "", "0 to 64"),
    ] {
        let more: Vec<&str> = [name, value]
            .into_iter()
            .filter(|a| !a.is_empty())
            .collect();
        let (code, out, err) = drape(dir.path(), &[&["--id", "v"], &more[..]].concat());
        assert!(
            code == 2 && err.contains(word),
            "{name} {value}: {out}{err}"
        );
    }
}

/// As [`drape`], with no file allowed to become larger than so many KiB: the system then refuses to
/// write, as on a full disk. (The signal that comes with it is left aside, as nothing sends one there.)
#[cfg(unix)]
fn drape_within(dir: &Path, kib: u32, more: &[&str]) -> (i32, String) {
    let command = format!("trap '' XFSZ; ulimit -f {kib}; exec \"$0\" \"$@\"");
    let out = Command::new("bash")
        .args(["-c", &command, env!("CARGO_BIN_EXE_ganosis")])
        .args([&DRAPE[..], more].concat())
        .current_dir(dir)
        .output()
        .unwrap();
    let text = String::from_utf8(out.stderr).unwrap();
    (out.status.code().unwrap(), text)
}

#[cfg(unix)]
#[test]
fn a_full_disk_is_named_leaves_nothing_as_if_whole_and_the_run_goes_on() {
    let dir = set();
    let path = dir.path();
    let layer = path.join("d/layers/v");
    let more = ["--id", "v", "--size", "512"];
    let refused = |kib: u32| {
        let (code, err) = drape_within(path, kib, &more);
        assert_eq!(code, 2, "{kib}: {err}");
        assert!(err.contains("free space") || err.contains("room"), "{err}");
        assert_eq!(names(&layer), [".drape-in-work"], "{kib}");
        let document = read(&path.join("d/dossier.json"));
        assert_eq!(document["layers"], Value::Null);
    };
    // A photograph in work takes 506 KiB, what is mixed 5 MiB: full at the one, then at the other.
    refused(200);
    refused(2000);
    // All is mixed, and the dossier refuses: what was moved out is taken back, and then the image of
    // 16 bits, 1.5 MiB, finds the disk full.
    edit(path, |document| document["description"] = json!(7));
    let (code, _, err) = drape(path, &more);
    assert!(code == 2 && err.contains("could not be saved"), "{err}");
    edit(path, |document| document["description"] = json!("Boss"));
    refused(1000);
    let (code, out, err) = drape(path, &more);
    assert_eq!(code, 0, "{out}{err}");
    let (code, out, err) = drape(path, &["--id", "w", "--size", "512"]);
    assert_eq!(code, 0, "{out}{err}");
    let bytes = |id: &str| std::fs::read(path.join(format!("d/layers/{id}/1-page.png"))).unwrap();
    assert!(bytes("v") == bytes("w"));
}
