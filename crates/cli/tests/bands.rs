//! `ganosis bands` on photographs: the recipes of README.md for luminescence, against what was put in.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod common;

use std::path::Path;

use common::ganosis;
use image::{ImageBuffer, Luma, Rgb};

const SIDE: u32 = 60;
/// Two grey standards along the upper edge that do not luminesce.
const STANDARDS: [([u32; 4], f64); 2] = [([0, 0, 20, 20], 0.5), ([20, 0, 40, 20], 0.2)];
/// Share of the reflected light that is in the luminescence image as stray light, a channel each.
const STRAY: [f64; 3] = [0.02, 0.035, 0.08];
const SENSOR: [f64; 3] = [0.8, 1.0, 0.6];
/// What luminesces, and how, a channel each.
const BOX: [u32; 4] = [20, 30, 50, 50];
const LUMINESCENCE: [f64; 3] = [0.05, 0.12, 0.2];
/// Light of the room, in every picture under the ultraviolet lamp.
const ROOM: f64 = 0.004;

fn within(x: u32, y: u32, [x0, y0, x1, y1]: [u32; 4]) -> bool {
    (x0..x1).contains(&x) && (y0..y1).contains(&y)
}

/// Reflectance of the scene.
fn reflected(x: u32, y: u32) -> f64 {
    let standard = STANDARDS.iter().find(|(at, _)| within(x, y, *at));
    standard.map_or(0.3 + 0.005 * f64::from(x), |(_, grey)| *grey)
}

fn code(light: f64) -> u16 {
    (light * 65535.0).round() as u16
}

fn colour(path: &Path, light: impl Fn(u32, u32, usize) -> f64) {
    let picture: ImageBuffer<Rgb<u16>, Vec<u16>> = ImageBuffer::from_fn(SIDE, SIDE, |x, y| {
        Rgb([0, 1, 2].map(|c| code(light(x, y, c))))
    });
    picture.save(path).unwrap();
}

fn grey(path: &Path, light: impl Fn(u32, u32) -> f64) {
    let picture: ImageBuffer<Luma<u16>, Vec<u16>> =
        ImageBuffer::from_fn(SIDE, SIDE, |x, y| Luma([code(light(x, y))]));
    picture.save(path).unwrap();
}

/// Codes are rounded before and after, and a share is a quotient of rounded means: some codes of 16 bits.
const TOLERANCE: f64 = 4.0 / 65535.0;

const UVL: &str = r#"
[inputs]
uvl = { file = "uvl.png", band = "UVL" }
uvl-off = { file = "uvl-off.png" }
vis = { file = "vis.png", band = "VIS" }

[[step]]
make = "lit"
do = "ambient"
of = "uvl"
lamp_off = "uvl-off"

[[step]]
make = "luminescence"
do = "stray"
of = "lit"
reflected = "vis"
at_px = [[0, 0, 20, 20], [20, 0, 40, 20]]
sensor = [0.8, 1.0, 0.6]

[[output]]
of = "luminescence"
id = "uvl-corrected"
"#;

#[test]
fn ultraviolet_luminescence_without_stray_light_and_sensor_is_what_was_put_in() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path();
    let own = |x, y, c: usize| {
        if within(x, y, BOX) {
            LUMINESCENCE[c]
        } else {
            0.0
        }
    };
    colour(&path.join("vis.png"), |x, y, _| reflected(x, y));
    colour(&path.join("uvl-off.png"), |_, _, _| ROOM);
    colour(&path.join("uvl.png"), |x, y, c| {
        own(x, y, c) * SENSOR[c] + STRAY[c] * reflected(x, y) + ROOM
    });
    std::fs::write(path.join("uvl.toml"), UVL).unwrap();
    let (code, out, err) = ganosis(path, &["bands", "uvl.toml", "-o", "out"]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(err.contains("eyes and skin"), "{err}");
    assert!(out.contains("2.00 %, 3.50 %, 8.00 %"), "{out}");
    // Linear and of 16 bits: more is to be made of it.
    let made = image::open(path.join("out/uvl-corrected/1.png")).unwrap();
    assert_eq!(made.color(), image::ColorType::Rgba16);
    for (x, y, pixel) in made.to_rgb16().enumerate_pixels() {
        for (c, sensor) in SENSOR.iter().enumerate() {
            let got = f64::from(pixel.0[c]) / 65535.0;
            let off = (got - own(x, y, c)).abs();
            assert!(off < TOLERANCE / sensor, "{x} {y} {c}: {got}, off {off}");
        }
    }
    let text = std::fs::read_to_string(path.join("out/layers.json")).unwrap();
    assert!(!text.contains("False colour"), "{text}");
    let wrong = UVL.replace("[0.8, 1.0, 0.6]", "[0.8, 1.0]");
    std::fs::write(path.join("wrong.toml"), wrong).unwrap();
    let (code, _, err) = ganosis(path, &["bands", "wrong.toml", "-o", "none"]);
    assert!(
        code == 2 && err.contains("3 bands") && err.contains("sensor ="),
        "{err}"
    );
    assert!(!path.join("none").exists());
}

#[test]
fn visible_induced_luminescence_is_taken_from_infrared_by_one_share() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path();
    let own = |x, y| if within(x, y, BOX) { 0.3 } else { 0.0 };
    grey(&path.join("irr.png"), reflected);
    grey(&path.join("vil.png"), |x, y| {
        own(x, y) + 0.05 * reflected(x, y)
    });
    let recipe = r#"
[inputs]
vil = { file = "vil.png", band = "VIL" }
irr = { file = "irr.png", band = "IRR" }

[[step]]
make = "net"
do = "stray"
of = "vil"
reflected = "irr"
at_px = [[0, 0, 20, 20]]

[[step]]
make = "where"
do = "threshold"
of = "net"
least = 0.1

[[output]]
of = "net"
id = "vil-corrected"
band = "VIL"
range = [-0.1, 0.9]

[[output]]
of = "where"
id = "luminesces"
"#;
    std::fs::write(path.join("vil.toml"), recipe).unwrap();
    let (code, out, err) = ganosis(path, &["bands", "vil.toml", "-o", "out"]);
    assert_eq!(code, 0, "{out}{err}");
    // No lamp here is an ultraviolet one.
    assert!(!err.contains("caution"), "{err}");
    let net = image::open(path.join("out/vil-corrected/1.png")).unwrap();
    let regions = image::open(path.join("out/luminesces/1.png")).unwrap();
    for (x, y, region) in regions.to_luma16().enumerate_pixels() {
        // Codes 1 to 65535 are the range.
        let pixel = net.as_luma16().unwrap().get_pixel(x, y).0[0];
        let got = (f64::from(pixel) - 1.0) / 65534.0 - 0.1;
        assert!((got - own(x, y)).abs() < TOLERANCE, "{x} {y}: {got}");
        assert_eq!(region.0[0], u16::from(within(x, y, BOX)), "{x} {y}");
    }
}

/// A state shows a layer in colour, and only a dossier has states.
#[test]
fn a_state_without_a_dossier_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path();
    colour(&path.join("vis.png"), |x, y, _| reflected(x, y));
    let recipe = "[inputs]\nvis = { file = \"vis.png\" }\n\n[[output]]\nof = \"vis\"\nid = \"v\"\nstate = \"s\"\n";
    std::fs::write(path.join("r.toml"), recipe).unwrap();
    let (code, _, err) = ganosis(path, &["bands", "r.toml", "-o", "out"]);
    assert!(code == 2 && err.contains("no dossier is given"), "{err}");
    assert!(!path.join("out").exists());
}
