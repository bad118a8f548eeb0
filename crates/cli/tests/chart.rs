//! `ganosis chart` and `ganosis correct` as they are run, on a real photograph of a chart
//! (tests/samples/chart/SOURCE.md) and on what was made of it.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod common;

use std::io::{BufReader, Cursor};
use std::path::{Path, PathBuf};

use common::ganosis;
use ganosis_colorimetry::rgb::{decode_srgb, encode_srgb};
use ganosis_colorimetry::{Encoded, LabD50, Romm, delta_e_2000};
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, RgbImage};
use serde_json::Value;
use tempfile::TempDir;

fn sample(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/samples/chart")
        .join(name)
}

fn original() -> RgbImage {
    image::open(sample("IMG_1967.png")).unwrap().into_rgb8()
}

/// A folder with the photograph as `photo.png`.
fn with_photo(photo: &RgbImage) -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    photo.save(dir.path().join("photo.png")).unwrap();
    dir
}

fn files(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(dir)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn triple(value: &Value) -> [f64; 3] {
    serde_json::from_value(value.clone()).unwrap()
}

/// Light times `gain`, clipped as a camera does.
fn exposed(gain: f64) -> RgbImage {
    let mut photo = original();
    for pixel in photo.pixels_mut() {
        pixel.0 = pixel.0.map(|v| {
            let light = decode_srgb(f64::from(v) / 255.0) * gain;
            (encode_srgb(light).min(1.0) * 255.0).round() as u8
        });
    }
    photo
}

#[test]
fn a_photograph_alone_gives_a_calibration_a_report_and_a_comparison_of_editions() {
    let dir = with_photo(&original());
    let (code, out, err) = ganosis(dir.path(), &["chart", "photo.png", "--json"]);
    assert_eq!(code, 0, "{err}");
    assert_eq!(
        files(dir.path()),
        ["calibration.html", "calibration.json", "photo.png"]
    );
    let result = &json(&out)["photos"][0];

    // The patch means of the photograph's authors.
    let table = std::fs::read_to_string(sample("patches.csv")).unwrap();
    let theirs: Vec<Vec<&str>> = table
        .lines()
        .map(|l| l.split(',').collect::<Vec<_>>())
        .filter(|f| f[0] == "IMG_1967")
        .collect();
    let patches = result["patches"].as_array().unwrap();
    assert_eq!((theirs.len(), patches.len()), (24, 24));
    let mut squares = 0.0;
    for (row, patch) in theirs.iter().zip(patches) {
        for (c, ours) in triple(&patch["encoded"]).into_iter().enumerate() {
            squares += (ours - row[3 + c].parse::<f64>().unwrap()).powi(2);
        }
    }
    let rms = (squares / 72.0).sqrt();
    assert!(rms < 0.006, "{rms}");

    // The editions, best first, and that they cannot be told apart: they differ by ΔE00 0.85 and
    // less, and this light leaves 2.5.
    let references = result["references"].as_array().unwrap();
    assert_eq!(references.len(), 3);
    let left_out = |i: usize| references[i]["left_out_mean_delta_e_00"].as_f64().unwrap();
    assert!(left_out(0) <= left_out(1) && left_out(1) <= left_out(2));
    assert!(result["verdict"].as_str().unwrap().contains("cannot tell"));

    // The model preferred foretells best, though another fits no worse.
    let calibration = json(&std::fs::read_to_string(dir.path().join("calibration.json")).unwrap());
    let tried = calibration["tried"].as_array().unwrap();
    assert_eq!(tried.len(), 2);
    let of = |i: usize| tried[i]["left_out_mean_delta_e_00"].as_f64().unwrap();
    assert!(of(0) < of(1));
    assert!(!result["judgements"].as_array().unwrap().is_empty());
    for j in result["judgements"].as_array().unwrap() {
        for field in ["scheme", "source", "status"] {
            assert!(!j[field].as_str().unwrap().is_empty());
        }
    }

    let html = std::fs::read_to_string(dir.path().join("calibration.html")).unwrap();
    assert!(html.starts_with("<!doctype html>") && html.matches("<svg").count() == 3);
    for bad in ["<script", "src=\"http", "href=\"http", "url("] {
        assert!(
            !html.contains(bad),
            "the report is not self-contained: {bad}"
        );
    }
}

#[test]
fn nothing_is_written_over_unless_forced_and_never_an_input() {
    let dir = with_photo(&original());
    let at = |name: &str| dir.path().join(name);
    std::fs::write(at("calibration.json"), "mine").unwrap();
    let (code, _, err) = ganosis(dir.path(), &["chart", "photo.png"]);
    assert!(
        code == 2 && err.contains("not written over") && err.contains("--force"),
        "{err}"
    );
    assert_eq!(
        std::fs::read_to_string(at("calibration.json")).unwrap(),
        "mine"
    );
    assert_eq!(files(dir.path()), ["calibration.json", "photo.png"]);

    let before = std::fs::read(at("photo.png")).unwrap();
    for arguments in [
        &["chart", "photo.png", "-o", "photo.png", "--force"][..],
        &["chart", "photo.png", "--report", "photo.png", "--force"],
        &[
            "correct",
            "photo.png",
            "--own-profile",
            "-o",
            "photo.png",
            "--force",
        ],
    ] {
        let (code, _, err) = ganosis(dir.path(), arguments);
        assert!(code == 2 && err.contains("would be written over"), "{err}");
    }
    assert_eq!(std::fs::read(at("photo.png")).unwrap(), before);

    let (code, _, err) = ganosis(
        dir.path(),
        &["chart", "photo.png", "--force", "--edition", "2005"],
    );
    assert_eq!(code, 0, "{err}");
    let written = json(&std::fs::read_to_string(at("calibration.json")).unwrap());
    assert_eq!(written["reference_title"], "edition 2005");
}

/// CIELAB of ROMM codes around the middle of a quadrilateral.
fn middle(image: &image::ImageBuffer<image::Rgb<u16>, Vec<u16>>, centre: [f64; 2]) -> LabD50 {
    let mut sum = [0.0; 3];
    let half = 8;
    for dy in -half..=half {
        for dx in -half..=half {
            let (x, y) = (centre[0] as i64 + dx, centre[1] as i64 + dy);
            let pixel = image.get_pixel(x as u32, y as u32).0;
            for c in 0..3 {
                sum[c] += f64::from(pixel[c]) / 65535.0;
            }
        }
    }
    let n = f64::from((2 * half + 1) as i32).powi(2);
    let [r, g, b] = sum.map(|s| s / n);
    LabD50::from(Encoded::<Romm>::new(r, g, b))
}

#[test]
fn a_corrected_photograph_shows_what_the_report_says_and_carries_its_record() {
    let dir = with_photo(&original());
    let corners = ["272.9,156.9", "777.5,182.4", "759.0,513.3", "263.5,490.7"];
    let mut arguments = vec![
        "chart",
        "photo.png",
        "--json",
        "--edition",
        "2005",
        "--corners",
    ];
    arguments.extend(corners);
    let (code, out, err) = ganosis(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let result = &json(&out)["photos"][0];
    let arguments = [
        "correct",
        "photo.png",
        "--calibration",
        "calibration.json",
        "-o",
        "out.tif",
    ];
    let (code, _, err) = ganosis(dir.path(), &arguments);
    // The window behind the chart is brighter than white, which is said.
    assert!(code == 1 && err.contains("lighter"), "{code} {err}");

    let bytes = std::fs::read(dir.path().join("out.tif")).unwrap();
    let reader = ImageReader::with_format(Cursor::new(&bytes), ImageFormat::Tiff);
    let mut decoder = reader.into_decoder().unwrap();
    assert!(decoder.icc_profile().unwrap().unwrap().len() > 300);
    let DynamicImage::ImageRgb16(image) = DynamicImage::from_decoder(decoder).unwrap() else {
        panic!("not 16-bit RGB");
    };
    let [a, b, c, d]: [[f64; 2]; 4] =
        serde_json::from_value(result["calibration"]["corners_px"].clone()).unwrap();
    for (i, patch) in result["patches"].as_array().unwrap().iter().enumerate() {
        // Bilinear between the corners is near enough to the middle of a patch here.
        let (u, v) = (
            (i % 6) as f64 / 6.0 + 1.0 / 12.0,
            (i / 6) as f64 / 4.0 + 1.0 / 8.0,
        );
        let at = [0, 1].map(|k| {
            let top = a[k] + (b[k] - a[k]) * u;
            top + (d[k] + (c[k] - d[k]) * u - top) * v
        });
        let [l, aa, bb] = triple(&patch["got_lab_d50"]);
        let apart = delta_e_2000(middle(&image, at), LabD50::new(l, aa, bb));
        // A smaller window of the same patch: its mean differs by noise.
        assert!(apart < 1.0, "{}: {apart}", patch["name"]);
    }

    let mut tiff = tiff::decoder::Decoder::new(BufReader::new(Cursor::new(&bytes))).unwrap();
    let text = tiff
        .get_tag_ascii_string(tiff::tags::Tag::ImageDescription)
        .unwrap();
    let origin = json(&text);
    assert_eq!(origin["command"], "ganosis correct");
    let inputs = origin["inputs"].as_array().unwrap();
    assert_eq!((&inputs[0]["file"], inputs.len()), (&"photo.png".into(), 2));
    assert_eq!(
        inputs[0]["sha256"],
        result["calibration"]["photo"]["sha256"]
    );
    assert_eq!(
        origin["calibration"]["mean_delta_e"],
        result["fit_delta_e_00"]["mean"]
    );
    assert_eq!(origin["parameters"]["space"], "ROMM RGB");
}

#[test]
fn two_photographs_are_compared_patch_by_patch() {
    let dir = with_photo(&original());
    let other = image::imageops::rotate90(&exposed(0.9));
    other.save(dir.path().join("other.png")).unwrap();
    let arguments = [
        "chart",
        "photo.png",
        "other.png",
        "--json",
        "--edition",
        "2014-11",
    ];
    let (code, _, err) = ganosis(dir.path(), &arguments);
    assert!(
        code == 2 && err.contains("edition from November 2014"),
        "{err}"
    );
    let arguments = [
        "chart",
        "photo.png",
        "other.png",
        "--json",
        "--edition",
        "2005",
    ];
    let (code, out, err) = ganosis(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    assert_eq!(
        files(dir.path()),
        [
            "calibration-other.json",
            "calibration-photo.json",
            "calibration.html",
            "other.png",
            "photo.png"
        ]
    );
    let pair = &json(&out)["agreements"][0];
    assert_eq!(pair["photos"][1], "other.png");
    assert_eq!(pair["patches"].as_array().unwrap().len(), 24);
    // The same photograph a little darker and rounded to 8 bits again.
    let mean = pair["delta_e_00"]["mean"].as_f64().unwrap();
    assert!(mean > 0.0 && mean < 1.0, "{mean}");
}

#[test]
fn named_tolerances_decide_the_exit_code_and_unknown_ones_are_told() {
    let dir = with_photo(&original());
    let with = |set: &str| {
        let arguments = [
            "chart",
            "photo.png",
            "--edition",
            "2005",
            "--tolerance-set",
            set,
            "--force",
        ];
        ganosis(dir.path(), &arguments)
    };
    let (code, out, _) = with("Metamorfoze 1.0");
    assert!(
        code == 1 && out.contains("missed") && !out.contains("FADGI"),
        "{out}"
    );
    assert_eq!(with("ISO 19264-1").0, 0);
    let (code, _, err) = with("made up");
    assert!(code == 2 && err.contains("FADGI 2016"), "{err}");
}

#[test]
fn an_upside_down_chart_is_recognised_and_gives_the_same_calibration() {
    let fit = |photo: &RgbImage| {
        let dir = with_photo(photo);
        let (code, out, err) = ganosis(
            dir.path(),
            &["chart", "photo.png", "--json", "--edition", "2005"],
        );
        assert_eq!(code, 0, "{err}");
        let result = json(&out)["photos"][0].clone();
        let mean = result["left_out_delta_e_00"]["mean"].as_f64().unwrap();
        (mean, result["calibration"]["findings"].to_string())
    };
    let (upright, found) = fit(&original());
    assert!(!found.contains("upside down"), "{found}");
    let (turned, found) = fit(&image::imageops::rotate180(&original()));
    assert!(found.contains("upside down"), "{found}");
    assert!((upright - turned).abs() < 0.1, "{upright} {turned}");
}

/// Runs on a bad input and holds that it is told, with what to do, and that nothing was written.
fn refused(dir: &Path, arguments: &[&str], says: &[&str]) {
    let before = files(dir);
    let (code, out, err) = ganosis(dir, arguments);
    assert_eq!(code, 2, "{arguments:?}: {out}{err}");
    for part in says.iter().chain(&["where:", "do:"]) {
        assert!(err.contains(part), "{arguments:?} should say {part}: {err}");
    }
    assert_eq!(files(dir), before, "{arguments:?} wrote something");
}

#[test]
fn bad_references_are_told() {
    let dir = with_photo(&original());
    let good = std::fs::read_to_string(sample("reference-2005.csv")).unwrap();
    let lines: Vec<&str> = good.lines().collect();
    let cases = [
        (lines[..24].join("\n"), vec!["23 patches", "--grid"]),
        (
            good.replace("L*,a*,b*", "u,v,w"),
            vec!["no CIELAB columns", "heading"],
        ),
        (good.replace("18.1405", "NaN"), vec!["NaN", "line 3"]),
        (good.replace("18.1405", "nought"), vec!["nought", "line 3"]),
        (good.replace("18.1405", "1e400"), vec!["1e400", "line 3"]),
        (format!("{good}1,2\n"), vec!["no table", "line 26"]),
        (String::new(), vec!["do:"]),
    ];
    for (text, says) in &cases {
        std::fs::write(dir.path().join("r.csv"), text).unwrap();
        refused(
            dir.path(),
            &["chart", "photo.png", "--reference", "r.csv"],
            says,
        );
    }
    std::fs::write(dir.path().join("r.csv"), [0xFF, 0xFE, 0x41]).unwrap();
    refused(
        dir.path(),
        &["chart", "photo.png", "--reference", "r.csv"],
        &["UTF-8"],
    );
    refused(
        dir.path(),
        &["chart", "photo.png", "--reference", "none.csv"],
        &["none.csv"],
    );
}

#[test]
fn badly_exposed_and_wrongly_read_photographs_are_told() {
    let told = |photo: &RgbImage, more: &[&str]| {
        let dir = with_photo(photo);
        let mut arguments = vec!["chart", "photo.png", "--edition", "2005"];
        arguments.extend(more);
        let (code, out, err) = ganosis(dir.path(), &arguments);
        (code, out + &err)
    };
    // White and the lighter greys at the largest code: left out, and told.
    let (code, text) = told(&exposed(2.1), &[]);
    assert!(
        code == 1 && text.contains("clipped, and left out") && text.contains("Expose less"),
        "{code} {text}"
    );
    let (code, text) = told(&exposed(6.0), &[]);
    assert!(
        code == 2 && text.contains("patches are clipped") && text.contains("do:"),
        "{code} {text}"
    );
    let (code, text) = told(&exposed(0.15), &[]);
    assert!(
        code == 1 && text.contains("underexposed") && text.contains("Expose more"),
        "{code} {text}"
    );
    let (code, text) = told(&exposed(0.0005), &[]);
    assert!(
        code == 2 && text.contains("nearly black") && text.contains("do:"),
        "{code} {text}"
    );

    // An encoded JPEG declared linear.
    let dir = tempfile::tempdir().unwrap();
    original().save(dir.path().join("photo.jpg")).unwrap();
    refused(
        dir.path(),
        &[
            "chart",
            "photo.jpg",
            "--encoding",
            "linear",
            "--edition",
            "2005",
        ],
        &["looks encoded", "--encoding srgb", "nothing was written"],
    );
}

#[test]
fn files_that_are_no_photographs_of_a_chart_are_told() {
    let dir = with_photo(&original());
    let at = |name: &str| dir.path().join(name);
    let bytes = std::fs::read(at("photo.png")).unwrap();
    std::fs::write(at("cut.png"), &bytes[..bytes.len() / 2]).unwrap();
    std::fs::write(at("text.png"), "no picture").unwrap();
    RgbImage::from_pixel(400, 300, image::Rgb([120, 110, 100]))
        .save(at("plain.png"))
        .unwrap();
    DynamicImage::ImageRgb8(original())
        .into_luma8()
        .save(at("grey.png"))
        .unwrap();
    let floats = image::Rgb32FImage::from_pixel(64, 64, image::Rgb([f32::NAN, 0.5, 0.5]));
    DynamicImage::ImageRgb32F(floats)
        .save(at("nan.tif"))
        .unwrap();
    let cases: [(&str, &[&str]); 6] = [
        ("cut.png", &["cannot be read"]),
        ("text.png", &["cannot be read"]),
        ("plain.png", &["no chart was found", "--corners"]),
        ("grey.png", &["one channel"]),
        ("nan.tif", &["cannot be read"]),
        ("none.png", &["none.png"]),
    ];
    for (name, says) in cases {
        refused(dir.path(), &["chart", name], says);
    }
    let line = ["0,0", "10,10", "20,20", "30,30"];
    let mut arguments = vec!["chart", "photo.png", "--corners"];
    arguments.extend(line);
    refused(dir.path(), &arguments, &["on one line"]);
    let mut outside = vec!["chart", "photo.png", "--corners"];
    outside.extend(["-9,0", "9000,0", "9000,900", "0,900"]);
    let (code, _, err) = ganosis(dir.path(), &outside);
    assert_eq!(code, 2, "{err}");
    let (code, _, err) = ganosis(
        dir.path(),
        &[
            "chart",
            "photo.png",
            "--corners",
            "1,2",
            "NaN,3",
            "1,1",
            "2,2",
        ],
    );
    assert!(code == 2 && err.contains("272.9,156.9"), "{err}");
}

#[test]
fn correct_refuses_what_does_not_belong_together() {
    let dir = with_photo(&original());
    let at = |name: &str| dir.path().join(name);
    let (code, _, err) = ganosis(dir.path(), &["chart", "photo.png", "--edition", "2005"]);
    assert_eq!(code, 0, "{err}");
    let correct = |calibration: &'static str, more: &[&'static str]| {
        let mut all = vec![
            "correct",
            "photo.png",
            "-o",
            "out.tif",
            "--calibration",
            calibration,
        ];
        all.extend(more);
        all
    };
    refused(
        dir.path(),
        &correct("calibration.json", &["--encoding", "linear"]),
        &["is read as linear", "srgb"],
    );
    let text = std::fs::read_to_string(at("calibration.json")).unwrap();
    let bad = [
        ("{", "no calibration"),
        (
            &text.replace("ganosis-calibration/1", "ganosis-calibration/9"),
            "calibration/9",
        ),
        (
            &text.replacen("\"matrix\"", "\"root-polynomial\"", 1),
            "rows",
        ),
    ];
    for (text, says) in bad {
        std::fs::write(at("bad.json"), text).unwrap();
        refused(dir.path(), &correct("bad.json", &[]), &[says]);
    }
    RgbImage::from_pixel(64, 64, image::Rgb([200; 3]))
        .save(at("small.png"))
        .unwrap();
    refused(
        dir.path(),
        &correct("calibration.json", &["--flat", "small.png"]),
        &["64 × 64 px", "small.png"],
    );
    let size = original().dimensions();
    RgbImage::from_pixel(size.0, size.1, image::Rgb([255; 3]))
        .save(at("white.png"))
        .unwrap();
    refused(
        dir.path(),
        &correct("calibration.json", &["--flat", "white.png"]),
        &["black or clipped"],
    );
    std::fs::write(at("out.tif"), "mine").unwrap();
    refused(
        dir.path(),
        &correct("calibration.json", &[]),
        &["not written over"],
    );
    assert_eq!(std::fs::read_to_string(at("out.tif")).unwrap(), "mine");
}
