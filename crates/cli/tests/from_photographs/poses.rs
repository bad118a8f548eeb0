//! Poses and maps against the cameras that took the photographs.

use ganosis_imaging::geometry::Homography;
use ganosis_imaging::pose::{PosedPhoto, Poses, read_pairs};
use ganosis_imaging::register::Registration;
use serde::Deserialize;
use serde_json::Value;

use crate::{MADE, ran};

pub(crate) fn truth() -> Poses {
    let path = MADE.photographs().join("truth/poses.json");
    Poses::read(&std::fs::read_to_string(path).unwrap(), "truth").unwrap()
}

/// Every place that was marked in some photograph.
fn places() -> Vec<[f64; 3]> {
    let mut places: Vec<[f64; 3]> = Vec::new();
    for file in std::fs::read_dir(MADE.photographs().join("points")).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        places.extend(
            read_pairs(&text, "points")
                .unwrap()
                .iter()
                .map(|p| p.surface_m),
        );
    }
    places.sort_by(|a, b| a.partial_cmp(b).unwrap());
    places.dedup();
    assert!(places.len() > 30, "{}", places.len());
    places
}

/// Root mean square of how far the places fall from where they are, over those in the picture.
pub(crate) fn off_px(found: &PosedPhoto, truth: &PosedPhoto) -> f64 {
    let (found, lens, truth) = (found.projector(), truth.lens, truth.projector());
    let squares: Vec<f64> = places()
        .into_iter()
        .filter_map(|place| {
            let (there, _) = truth.pixel_of(place).filter(|(p, _)| lens.holds(*p))?;
            let (here, _) = found.pixel_of(place).unwrap();
            Some((here[0] - there[0]).powi(2) + (here[1] - there[1]).powi(2))
        })
        .collect();
    assert!(squares.len() > 25, "{}", squares.len());
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}

fn read(file: &str) -> Poses {
    let text = std::fs::read_to_string(MADE.photographs().join(file)).unwrap();
    Poses::read(&text, file).unwrap()
}

#[test]
fn poses_from_marked_points_are_those_of_the_cameras() {
    let truth = truth();
    let names = (1..=8).map(|k| format!("c{k}"));
    for name in names.chain((1..=4).map(|k| format!("g{k}-vis"))) {
        let found = read(&format!("made/poses/{name}.json"));
        let off = off_px(
            &found.photos[0],
            truth.of_photo(&format!("{name}.png")).unwrap(),
        );
        println!("{name}: {off:.3} px");
        assert!(off < 0.3, "{name}: {off}");
    }
}

#[derive(Deserialize)]
struct Planted {
    wrong_pairs: Vec<Pair>,
}

#[derive(Deserialize)]
struct Pair {
    photo: String,
    point: String,
}

#[test]
fn every_wrong_pair_is_found_and_no_other() {
    let path = MADE.photographs().join("truth/planted.json");
    let planted: Planted = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert!(planted.wrong_pairs.len() >= 4);
    for k in 1..=8 {
        let name = format!("c{k}");
        let text = pose(&name, &["--lens", "lenses/c.json"]);
        let value: Value = serde_json::from_str(&text).unwrap();
        let pairs = value["fit"]["pairs"].as_array().unwrap();
        let wrong: Vec<&str> = pairs
            .iter()
            .filter(|pair| pair["wrong"] == true)
            .map(|pair| pair["name"].as_str().unwrap())
            .collect();
        let of_photo = planted.wrong_pairs.iter().filter(|p| p.photo == name);
        let wanted: Vec<&str> = of_photo.map(|p| p.point.as_str()).collect();
        assert_eq!(wrong, wanted, "{name}");
        // The command as people run it says so on the line of the pair.
        let told = MADE.said(&format!("pose photographs/{name}.png"));
        let told: Vec<&str> = told.lines().filter(|l| l.contains("left out")).collect();
        let is_told = |name: &&str| {
            told.iter()
                .any(|l| l.split_whitespace().any(|w| w == *name))
        };
        assert!(wanted.iter().all(is_told), "{name}: {wanted:?} {told:?}");
    }
}

fn pose(name: &str, more: &[&str]) -> String {
    let surface = MADE.dossier().join("surface.glb");
    let photo = format!("photographs/{name}.png");
    let points = format!("points/{name}.csv");
    let out = tempfile::tempdir().unwrap();
    let out = out.path().join("pose.json");
    let surface = ["pose", &photo, "--surface", surface.to_str().unwrap()];
    let rest = ["--points", &points, "--json", "-o", out.to_str().unwrap()];
    let words: Vec<&str> = surface.iter().chain(&rest).chain(more).copied().collect();
    ran(&MADE.photographs(), &words)
}

/// Without a calibrated lens 24 points must also say focal length and distortion: for the places seen
/// in the photograph that costs little.
#[test]
fn an_unknown_lens_is_found_along_with_the_pose() {
    let truth = truth();
    for k in [1, 3, 8] {
        let text = pose(&format!("c{k}"), &[]);
        let value: Value = serde_json::from_str(&text).unwrap();
        let truth = truth.of_photo(&format!("c{k}.png")).unwrap();
        let found = PosedPhoto {
            lens: serde_json::from_value(value["fit"]["lens"].clone()).unwrap(),
            pose: serde_json::from_value(value["fit"]["pose"].clone()).unwrap(),
            ..truth.clone()
        };
        let off = off_px(&found, truth);
        println!("c{k} without a lens: {off:.3} px");
        assert!(off < 0.3, "c{k}: {off}");
    }
}

/// Known points are off by 0.1 mm (one standard deviation), which is a tenth of a pixel here.
#[test]
fn a_photogrammetric_model_is_brought_to_the_surface() {
    let surface = MADE.dossier().join("surface.glb");
    let surface = surface.to_str().unwrap();
    let words = [
        "pose",
        "--model",
        "model",
        "--known",
        "model/known.csv",
        "--surface",
        surface,
    ];
    let rest = ["-o", "made/model.json"];
    ran(&MADE.photographs(), &[&words[..], &rest].concat());
    let (found, truth) = (read("made/model.json"), truth());
    assert_eq!(found.photos.len(), 8);
    for one in &found.photos {
        let off = off_px(one, truth.of_photo(&one.photo.file).unwrap());
        println!("{} by the model: {off:.3} px", one.photo.file);
        assert!(off < 0.3, "{}: {off}", one.photo.file);
    }
}

#[test]
fn bands_lie_over_one_another_within_a_seventh_of_a_pixel() {
    let truth = truth();
    for k in 1..=4 {
        for band in ["uvl", "irr"] {
            let fixed = truth.of_photo(&format!("g{k}-vis.png")).unwrap();
            let moving = truth.of_photo(&format!("g{k}-{band}.png")).unwrap();
            let (moving_path, fixed_path) = (
                format!("made/flat/g{k}-{band}/1.png"),
                format!("made/flat/g{k}-vis/1.png"),
            );
            let words = ["register", &moving_path, "--to", &fixed_path];
            let registered = |more: &[&str]| {
                let rest = ["--encoding", "linear", "--json"];
                let text = ran(&MADE.photographs(), &[&words[..], &rest, more].concat());
                let value: Value = serde_json::from_str(&text).unwrap();
                let found = serde_json::from_value(value["registration"].clone());
                let found: Registration = found.unwrap();
                let off = off_by_map_px(&found.map(), fixed, moving);
                println!("g{k} {band} {more:?}: {} {off:.3} px", found.kind);
                off
            };
            let off = registered(&["--kind", "similarity"]);
            // Of it 0.05 px is what a turned camera and a distorting lens do that no similarity does.
            assert!(off < 0.15, "g{k} {band}: {off}");
            // The kind that it chooses may have less to say about the corners.
            let off = registered(&[]);
            assert!(off < 0.3, "g{k} {band} without a kind: {off}");
        }
    }
}

fn off_by_map_px(map: &Homography, fixed: &PosedPhoto, moving: &PosedPhoto) -> f64 {
    let (of_fixed, of_moving) = (fixed.projector(), moving.projector());
    let squares: Vec<f64> = places()
        .into_iter()
        .filter_map(|place| {
            let (from, _) = of_fixed
                .pixel_of(place)
                .filter(|(p, _)| fixed.lens.holds(*p))?;
            let (there, _) = of_moving.pixel_of(place)?;
            let here = map.apply(from);
            Some((here[0] - there[0]).powi(2) + (here[1] - there[1]).powi(2))
        })
        .collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}
