//! A real photograph of a 24-patch chart, against the patch means of its authors
//! (tests/samples/chart/SOURCE.md).

#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::io::Cursor;
use std::path::PathBuf;

use ganosis_imaging::chart::{Placement, at_corners, examine, find, spots};
use ganosis_imaging::fit::{Options, characterise};
use ganosis_imaging::photo::LinearPhoto;
use ganosis_imaging::{Encoding, Photo, Reference};

const CORNERS: [[f64; 2]; 4] = [
    [272.9, 156.9],
    [777.5, 182.4],
    [759.0, 513.3],
    [263.5, 490.7],
];

fn sample(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/samples/chart");
    std::fs::read(folder.join(name)).unwrap()
}

fn reference() -> Reference {
    let name = "reference-before-2014-11.csv";
    let text = String::from_utf8(sample(name)).unwrap();
    Reference::read(&text, name, None).unwrap().remove(0)
}

fn photo() -> Photo {
    Photo::read(
        Cursor::new(sample("IMG_1967.png")),
        "IMG_1967.png",
        Some(Encoding::Srgb),
    )
    .unwrap()
}

/// R.m.s. difference of our patch means from the authors', encoded 0..1.
fn rms(view: &LinearPhoto, placement: &Placement) -> f64 {
    let read = examine(view, placement, &reference()).unwrap();
    let text = String::from_utf8(sample("patches.csv")).unwrap();
    let rows: Vec<Vec<&str>> = text
        .lines()
        .map(|l| l.split(',').collect::<Vec<_>>())
        .filter(|f| f[0] == "IMG_1967")
        .collect();
    assert_eq!(rows.len(), 24);
    let mut sum = 0.0;
    for (row, reading) in rows.iter().zip(&read.readings) {
        for c in 0..3 {
            sum += (reading.encoded[c] - row[3 + c].parse::<f64>().unwrap()).powi(2);
        }
    }
    (sum / 72.0).sqrt()
}

#[test]
fn patch_means_at_given_corners_agree_with_the_authors() {
    let photo = photo();
    let view = LinearPhoto::new(&photo, None);
    let spots = spots(&view);
    let placement = at_corners(&view, CORNERS, &reference(), &spots[1]).unwrap();
    let rms = rms(&view, &placement);
    println!(
        "r.m.s. {rms:.5}, match {:.2}, next {:.2}",
        placement.match_delta_e, placement.next_match_delta_e
    );
    assert!(rms < 0.006, "{rms}");
}

#[test]
fn the_chart_is_found_without_corners() {
    let photo = photo();
    let view = LinearPhoto::new(&photo, None);
    let placement = find(&view, &reference(), &spots(&view)).unwrap();
    let rms = rms(&view, &placement);
    println!("r.m.s. {rms:.5}, seen {}", placement.patches_seen);
    assert!(rms < 0.006, "{rms}");
}

#[test]
fn refining_never_fits_worse_than_least_squares() {
    let (photo, reference) = (photo(), reference());
    let view = LinearPhoto::new(&photo, None);
    let placement = at_corners(&view, CORNERS, &reference, &spots(&view)[1]).unwrap();
    let read = examine(&view, &placement, &reference).unwrap();
    let options = Options {
        white_balance: read.white_balance,
        tone: false,
    };
    let tried = characterise(&read.samples(&reference), &options).unwrap();
    assert_eq!(tried.len(), 2);
    for one in tried {
        println!(
            "{}: least squares {:.3}, fit {:.3}, left out {:.3}",
            one.title(),
            one.least_squares_mean,
            one.fit_mean(),
            one.left_out_mean()
        );
        assert!(one.fit_mean() <= one.least_squares_mean);
    }
}
