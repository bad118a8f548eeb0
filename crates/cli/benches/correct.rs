//! `ganosis correct` on a 16-bit TIFF of 60 megapixels, against reading and writing the same file: time
//! and memory. Prints one JSON object a line; both are run as programs of their own, in turn, and the
//! best of five is taken.
#![allow(clippy::unwrap_used, reason = "a bench may fail by panic")]

mod watched;

use std::fs::File;
use std::io::{BufReader, BufWriter};
use std::path::Path;
use std::process::{Command, Stdio};

use ganosis_imaging::calibration::{FORMAT, InputRecord};
use ganosis_imaging::chart::Summary;
use ganosis_imaging::fit::{Model, ModelKind};
use ganosis_imaging::icc::OutputSpace;
use ganosis_imaging::tiff_out::write_tiff;
use ganosis_imaging::{Calibration, Encoding, Photo};

/// 60 megapixels, three to two.
const WIDTH_PX: usize = 9488;
const HEIGHT_PX: usize = 6324;

const ROUNDS: usize = 5;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(at) = arguments.iter().position(|a| a == "copy") {
        return copy(&arguments[at + 1], &arguments[at + 2]);
    }
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (photo, calibration, out) = (path("in.tif"), path("calibration.json"), path("out.tif"));
    write_tiff(
        BufWriter::new(File::create(&photo).unwrap()),
        &made_up(),
        OutputSpace::Romm,
        "",
    )
    .unwrap();
    std::fs::write(
        &calibration,
        serde_json::to_string(&root_polynomial()).unwrap(),
    )
    .unwrap();
    let this = std::env::current_exe().unwrap();
    let (mut copying, mut correcting) = (f64::INFINITY, f64::INFINITY);
    let mut most_bytes = 0;
    for _ in 0..ROUNDS {
        let (seconds, _) = run(&this, &["copy", &photo, &out]);
        copying = copying.min(seconds);
        let (seconds, bytes) = run(
            Path::new(env!("CARGO_BIN_EXE_ganosis")),
            &[
                "correct",
                &photo,
                "--encoding",
                "linear",
                "--calibration",
                &calibration,
                "--force",
                "-o",
                &out,
            ],
        );
        correcting = correcting.min(seconds);
        most_bytes = most_bytes.max(bytes);
    }
    let image_bytes = (WIDTH_PX * HEIGHT_PX * 6) as f64;
    line(
        "reading and writing 60 megapixels of 16 bit",
        copying,
        None,
        "s",
    );
    line(
        "ganosis correct on it, over that time",
        correcting / copying,
        Some(1.5),
        "ratio",
    );
    line(
        "ganosis correct on it, memory over the image",
        most_bytes as f64 / image_bytes,
        Some(3.0),
        "ratio",
    );
}

fn line(name: &str, measured: f64, limit: Option<f64>, unit: &str) {
    let row = serde_json::json!({"name": name, "measured": measured, "limit": limit, "unit": unit});
    println!("{row}");
}

/// Reads a photograph and writes it, as the command does but for the colour.
fn copy(from: &str, to: &str) {
    let reader = BufReader::with_capacity(1 << 20, File::open(from).unwrap());
    let photo = Photo::read(reader, from, Some(Encoding::Linear)).unwrap();
    let writer = BufWriter::with_capacity(1 << 20, File::create(to).unwrap());
    write_tiff(writer, &photo, OutputSpace::Romm, "").unwrap();
}

/// Runs a program in silence; see [`watched::run`].
fn run(program: &Path, arguments: &[&str]) -> (f64, usize) {
    let mut command = Command::new(program);
    command
        .args(arguments)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    let took = watched::run(&mut command);
    (took.seconds, took.bytes)
}

/// Slopes with noise on them: every code occurs, none is predictable.
fn made_up() -> Photo {
    let mut state = 1_u32;
    let samples = (0..WIDTH_PX * HEIGHT_PX * 3)
        .map(|i| {
            // Linear congruential generator of Numerical Recipes.
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let slope = (i / 3 % WIDTH_PX) * 50_000 / WIDTH_PX;
            (slope + (state >> 20) as usize) as u16
        })
        .collect();
    Photo {
        name: "made up".to_owned(),
        width_px: WIDTH_PX,
        height_px: HEIGHT_PX,
        bits: 16,
        samples,
        encoding: Encoding::Linear,
        encoding_from: "made up".to_owned(),
        icc_profile: None,
    }
}

/// The model that costs most.
fn root_polynomial() -> Calibration {
    let record = InputRecord {
        file: "made up".to_owned(),
        sha256: String::new(),
    };
    let none = Summary::of(&[0.0]);
    Calibration {
        format: FORMAT.to_owned(),
        photo: record.clone(),
        reference: record,
        reference_title: "made up".to_owned(),
        flat: None,
        dark: None,
        encoding: Encoding::Linear.record(),
        encoding_from: "made up".to_owned(),
        corners_px: [[0.0; 2]; 4],
        model: Model {
            kind: ModelKind::RootPolynomial,
            white_balance: [1.9, 1.0, 1.4],
            tone: None,
            xyz_d50_of_term: vec![
                [0.40, 0.20, 0.01],
                [0.20, 0.60, 0.05],
                [0.10, 0.02, 0.60],
                [0.05, 0.02, 0.01],
                [0.02, 0.05, 0.05],
                [0.05, 0.01, 0.02],
            ],
        },
        fit_delta_e_00: none,
        left_out_delta_e_00: none,
        left_out_standard_error: None,
        tried: Vec::new(),
        tone_exponent: None,
        evenness: None,
        findings: Vec::new(),
    }
}
