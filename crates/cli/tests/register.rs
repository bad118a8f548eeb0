//! `ganosis register` as it is run, on invented photographs.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod common;

use common::ganosis;
use image::{ImageBuffer, Luma, Rgb};
use serde_json::Value;

/// Soft spots scattered over a plane, light 0.1 to 0.9; `seed` says where.
fn light(seed: u32, x: f64, y: f64) -> f64 {
    let mut sum = 0.0;
    for i in 0..90u32 {
        let at = |k: f64| {
            ((f64::from(i + 1000 * seed) * k).sin() * 43758.5453)
                .fract()
                .abs()
        };
        let (cx, cy, r) = (
            at(12.9898) * 400.0 - 40.0,
            at(78.233) * 320.0 - 40.0,
            4.0 + 14.0 * at(3.7),
        );
        let squared = ((x - cx).powi(2) + (y - cy).powi(2)) / (r * r);
        let side = if i % 2 == 0 { 1.0 } else { -1.0 };
        sum += side / (1.0 + (squared * squared).min(1e6));
    }
    (0.5 + 0.25 * sum).clamp(0.1, 0.9)
}

fn code(light: f64) -> u16 {
    (light * 65535.0).round() as u16
}

#[test]
fn an_inverted_band_is_moved_over_the_other_and_written_with_its_record() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name);
    let (w, h) = (320, 240);
    ImageBuffer::from_fn(w, h, |x, y| {
        let v = code(light(1, f64::from(x), f64::from(y)));
        Rgb([v, v / 2, v / 3])
    })
    .save(path("vis.png"))
    .unwrap();
    // One channel, inverted, and shifted by (2.25, -1.5).
    ImageBuffer::from_fn(w, h, |x, y| {
        Luma([code(
            1.0 - light(1, f64::from(x) - 2.25, f64::from(y) + 1.5),
        )])
    })
    .save(path("ir.png"))
    .unwrap();
    let (status, out, err) = ganosis(
        dir.path(),
        &[
            "register", "ir.png", "--to", "vis.png", "-o", "ir.tif", "--json",
        ],
    );
    assert_eq!(status, 0, "{err}");
    let result: Value = serde_json::from_str(&out).unwrap();
    let found = &result["registration"];
    assert_eq!(found["kind"], "translation", "{found}");
    for (k, wanted) in [2.25, -1.5].into_iter().enumerate() {
        let got = found["shift_px"][k].as_f64().unwrap();
        assert!((got - wanted).abs() < 0.1, "{got} {wanted}");
    }
    let written = image::open(path("ir.tif")).unwrap();
    assert_eq!(written.color(), image::ColorType::L16);
    let written = written.into_luma16();
    let mut worst: f64 = 0.0;
    for y in 10..h - 10 {
        for x in 10..w - 10 {
            let wanted = 1.0 - light(1, f64::from(x), f64::from(y));
            let got = f64::from(written.get_pixel(x, y).0[0]) / 65535.0;
            worst = worst.max((got - wanted).abs());
        }
    }
    // The steepest slope here is 0.15 a pixel; a tenth of a pixel and the kernel.
    assert!(worst < 0.025, "{worst}");
    let bytes = std::fs::read(path("ir.tif")).unwrap();
    let record = b"ganosis register";
    assert!(bytes.windows(record.len()).any(|w| w == record));

    let (status, _, err) = ganosis(
        dir.path(),
        &["register", "ir.png", "--to", "vis.png", "-o", "ir.tif"],
    );
    assert_eq!(status, 2);
    assert!(err.contains("--force"), "{err}");
}

#[test]
fn another_object_is_refused_and_nothing_is_written() {
    let dir = tempfile::tempdir().unwrap();
    for (seed, name) in [(1, "a.png"), (2, "b.png")] {
        ImageBuffer::from_fn(320, 240, |x, y| {
            Luma([code(light(seed, f64::from(x), f64::from(y)))])
        })
        .save(dir.path().join(name))
        .unwrap();
    }
    let (status, _, err) = ganosis(
        dir.path(),
        &["register", "a.png", "--to", "b.png", "-o", "c.tif"],
    );
    assert_eq!(status, 2);
    assert!(
        err.contains("not sure") && err.contains("a.png over b.png"),
        "{err}"
    );
    assert!(!dir.path().join("c.tif").exists());
}
