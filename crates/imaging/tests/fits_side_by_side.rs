//! Our fits and those of colour-science on the same patches, side by side
//! (tests/reference/chart_fits.csv; run with --nocapture to read the table).

#![allow(clippy::unwrap_used, reason = "a test may panic")]

use ganosis_imaging::fit::{Candidate, ModelKind, Options, Sample, characterise};
use ganosis_imaging::{CameraRgb, Encoding, Reference};
use ganosis_testkit::samples::in_repository;
use ganosis_testkit::table::Table;

fn samples(photo: &str, edition: &str) -> Vec<Sample> {
    let patches = Table::read(&in_repository("tests/samples/chart/patches.csv")).unwrap();
    let name = format!("tests/samples/chart/reference-{edition}.csv");
    let text = std::fs::read_to_string(in_repository(&name)).unwrap();
    let reference = Reference::read(&text, &name, None).unwrap().remove(0);
    let of_photo: Vec<Sample> = patches
        .rows()
        .filter(|row| row.text("photo").unwrap() == photo)
        .zip(reference.labs())
        .map(|(row, target)| {
            let code = |c| Encoding::Srgb.decode(row.number(c).unwrap());
            let camera = CameraRgb(["r", "g", "b"].map(code));
            Sample { camera, target }
        })
        .collect();
    assert_eq!(of_photo.len(), 24);
    of_photo
}

#[test]
fn no_fit_of_ours_is_worse_than_the_one_of_colour_science() {
    let theirs = Table::read(&in_repository("tests/reference/chart_fits.csv")).unwrap();
    println!(
        "{:9} {:15} {:15}  theirs   ours   left out",
        "photo", "edition", "model"
    );
    let mut done: Vec<(String, Vec<Candidate>)> = Vec::new();
    let mut rows = 0;
    for row in theirs.rows() {
        let [photo, edition, method] = ["photo", "edition", "method"].map(|c| row.text(c).unwrap());
        let key = format!("{photo} {edition}");
        if done.last().is_none_or(|d| d.0 != key) {
            let samples = samples(photo, edition);
            let grey = samples[20].camera.0;
            let options = Options {
                white_balance: grey.map(|v| grey[1] / v),
                tone: false,
            };
            done.push((key, characterise(&samples, &options).unwrap()));
        }
        let kind = match method {
            "matrix" => ModelKind::Matrix,
            _ => ModelKind::RootPolynomial,
        };
        let tried = &done.last().unwrap().1;
        let ours = tried.iter().find(|c| c.model.kind == kind).unwrap();
        let mean = row.number("mean").unwrap();
        println!(
            "{photo:9} {edition:15} {method:15} {mean:7.3} {:6.3} {:10.3}",
            ours.fit_mean(),
            ours.left_out_mean()
        );
        // Our start is the same least squares.
        assert!((ours.least_squares_mean - mean).abs() < 1e-4, "{mean}");
        assert!(ours.fit_mean() <= mean + 1e-6, "{photo} {edition} {method}");
        rows += 1;
    }
    assert_eq!(rows, 18);
}
