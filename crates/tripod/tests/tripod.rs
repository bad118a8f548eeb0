//! A photograph of a square, placed by the tripod.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use std::io::Cursor;

use ganosis_imaging::lens::{Distortion, Lens};
use ganosis_imaging::pose::{Pair, Pose, PosedPhoto, Question};
use ganosis_testkit::mesh::square_glb;
use ganosis_tripod::{Asked, BORDER_STEPS, Frame, Told, Tripod};
use image::{ImageBuffer, ImageFormat, Luma, Rgb};

const SIZE: [u32; 2] = [60, 40];

fn lens() -> Lens {
    Lens {
        distortion: Distortion {
            k1: -0.1,
            ..Distortion::default()
        },
        ..Lens::simple(60, 40, 70.0)
    }
}

/// Two metres before the square, which lies in z = 0 and is one metre wide; a little aside.
fn pose() -> Pose {
    let (sin, cos) = 0.3_f64.sin_cos();
    Pose {
        rotation: [[cos, 0.0, -sin], [0.0, -1.0, 0.0], [-sin, 0.0, -cos]],
        translation_m: [0.02, -0.01, 2.0],
    }
}

fn tripod() -> Tripod {
    let bytes = square_glb([0.0; 3]);
    assert!(Tripod::needs(&bytes).unwrap().is_empty());
    Tripod::open(&bytes, &|_| None).unwrap()
}

fn with_photo() -> Tripod {
    let mut tripod = tripod();
    tripod.take(&png(), "square.png", None, 4096).unwrap();
    tripod
}

fn png() -> Vec<u8> {
    let image = ImageBuffer::from_fn(SIZE[0], SIZE[1], |x, y| Rgb([x as u8, y as u8, 200]));
    let mut bytes = Cursor::new(Vec::new());
    image.write_to(&mut bytes, ImageFormat::Png).unwrap();
    bytes.into_inner()
}

fn pairs() -> Vec<Pair> {
    let places = [
        [-0.4, -0.4],
        [0.4, -0.4],
        [0.4, 0.4],
        [-0.4, 0.4],
        [0.1, 0.2],
    ];
    let pair = |(k, [x, y]): (usize, &[f64; 2])| Pair {
        name: format!("{k}"),
        pixel: lens().project(pose().camera_of([*x, *y, 0.0])).unwrap(),
        surface_m: [*x, *y, 0.0],
    };
    places.iter().enumerate().map(pair).collect()
}

#[test]
fn a_photograph_is_shown_pixel_for_pixel_and_made_smaller_by_whole_pixels() {
    let mut tripod = tripod();
    let shown = tripod.take(&png(), "square.png", None, 4096).unwrap();
    assert_eq!((shown.width_px, shown.height_px, shown.shrunk), (60, 40, 1));
    assert_eq!((shown.gain, shown.bits, shown.exif), (1.0, 8, 1));
    for (i, pixel) in shown.rgba.chunks_exact(4).enumerate() {
        assert_eq!(pixel, [(i % 60) as u8, (i / 60) as u8, 200, 255]);
    }
    let small = tripod.take(&png(), "square.png", None, 25).unwrap();
    assert_eq!(
        (small.shrunk, small.shown_width, small.shown_height),
        (3, 20, 13)
    );
}

#[test]
fn linear_photographs_are_brightened_for_looking() {
    let image = ImageBuffer::from_fn(SIZE[0], SIZE[1], |x, _| Luma([(x * 100) as u16]));
    let mut bytes = Cursor::new(Vec::new());
    image.write_to(&mut bytes, ImageFormat::Png).unwrap();
    let shown = tripod()
        .take(&bytes.into_inner(), "dark.png", None, 4096)
        .unwrap();
    // The lightest code is 5900 of 65535, and 0.9 is shown of it.
    assert!(
        (shown.gain - 0.9 * 65535.0 / 5900.0).abs() < 1e-3,
        "{}",
        shown.gain
    );
    // 0.9 is 243.9 by IEC 61966-2-1.
    assert!(
        shown
            .rgba
            .chunks_exact(4)
            .all(|p| p[0] <= 244 && p[0] == p[1])
    );
    assert!(tripod().take(b"II*\0", "torn.tif", None, 4096).is_err());
}

#[test]
fn the_answer_is_the_commands_and_the_cameras() {
    let asked = Asked {
        pairs: pairs(),
        lens: Some(lens()),
    };
    assert!(tripod().solve(&asked).is_err());
    let answer = with_photo().solve(&asked).unwrap();
    let question = Question {
        size_px: [60, 40],
        lens: Some(lens()),
        free: None,
        marked_px: None,
    };
    assert_eq!(answer.fit, question.answer(&asked.pairs).unwrap().0);
    let (got, is) = (answer.camera_centre_m, pose().centre_m());
    assert!(
        (0..3).all(|k| (got[k] - is[k]).abs() < 1e-6),
        "{got:?} {is:?}"
    );
    for (pair, sighted) in asked.pairs.iter().zip(&answer.sighted_m) {
        let sighted = sighted.unwrap();
        assert!((0..3).all(|k| (sighted[k] - pair.surface_m[k]).abs() < 1e-6));
    }
}

#[test]
fn the_frame_is_the_border_of_the_picture() {
    let frame = Frame::of(&lens(), &pose()).unwrap();
    assert_eq!(frame.border.len(), 4 * BORDER_STEPS);
    let corner = frame.border[BORDER_STEPS];
    let place = [0, 1, 2].map(|k| frame.centre_m[k] + 1.7 * corner[k]);
    let [x, y] = lens().project(pose().camera_of(place)).unwrap();
    assert!((x - 60.0).abs() < 1e-9 && y.abs() < 1e-9, "{x} {y}");
}

#[test]
fn files_of_the_command_are_told_apart() {
    let tripod = with_photo();
    let points = Tripod::points_text(&pairs());
    let told = tripod.read(&points, "p.csv", "square.png").unwrap();
    assert_eq!(told, Told::Pairs(pairs()));
    let text = serde_json::to_string(&lens()).unwrap();
    let told = tripod.read(&text, "l.json", "square.png").unwrap();
    assert_eq!(told, Told::Lens(lens()));
    let posed = PosedPhoto {
        photo: ganosis_imaging::calibration::InputRecord {
            file: "square.png".to_owned(),
            sha256: String::new(),
        },
        lens: lens(),
        pose: pose(),
        fit: None,
    };
    let text = Tripod::poses_text(Vec::new(), posed.clone());
    let told = tripod.read(&text, "p.json", "square.png").unwrap();
    assert_eq!(told, Told::Posed(Box::new(posed)));
    // Poses of another photograph tell of the lens alone.
    let told = tripod.read(&text, "p.json", "other.png").unwrap();
    assert_eq!(told, Told::Lens(lens()));
    for (text, what) in [
        ("a,b\n1,2\n", "x_px"),
        ("{}", "no lens"),
        ("{\"photos\": 3}", "no poses"),
    ] {
        let error = tripod.read(text, "file", "square.png").unwrap_err();
        assert!(error.message.contains(what), "{}", error.message);
    }
}

#[test]
fn the_triangles_are_those_of_the_file() {
    let all = tripod().geometry();
    assert_eq!(all.corners.len(), 6);
    assert_eq!(all.spans.len(), 1);
    let corner = |k: usize| {
        let at = 3 * all.corners[k] as usize;
        [all.positions[at], all.positions[at + 1]]
    };
    let xs: Vec<f32> = (0..6).map(|k| corner(k)[0].abs()).collect();
    assert!(xs.iter().all(|x| (x - 0.5).abs() < 1e-6), "{xs:?}");
}
