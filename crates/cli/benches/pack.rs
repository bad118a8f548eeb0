//! `ganosis pack` on one colour image, beside the bare encoder on tiles of the same picture that lie in
//! memory: megapixels a second of both, and memory. Prints one JSON object a line. `full` packs 16384²
//! texels instead of 4096²; `GANOSIS` names a command other than the one of this build. Both take the
//! processors there are: `taskset -c 0,1` leaves them two.
#![allow(clippy::unwrap_used, reason = "a bench may fail by panic")]

mod watched;

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use ganosis_tiles::{Pyramid, STORED_PX};
use serde_json::json;

/// What is asked of packing: bounds of its own, in no standard.
const LEAST_MEGAPIXELS_A_SECOND: f64 = 14.0;
const LEAST_TO_ENCODER: f64 = 0.85;
const MOST_GIB: f64 = 1.5;

const ROUNDS: usize = 3;
/// Tiles that the encoder is measured with, of one part of the picture each.
const TILES: u32 = 256;

fn main() {
    let has = |word: &str| std::env::args().any(|a| a == word);
    let side_px: u32 = if has("full") { 16384 } else { 4096 };
    let room = tempfile::tempdir().unwrap();
    let from = room.path().join("from");
    write_dossier(&from, side_px);
    let program = std::env::var_os("GANOSIS").map_or_else(
        || PathBuf::from(env!("CARGO_BIN_EXE_ganosis")),
        PathBuf::from,
    );
    let (mut packing, mut encoding) = (0.0_f64, 0.0_f64);
    let mut most_bytes = 0;
    for round in 0..ROUNDS {
        encoding = encoding.max(bare_encoder());
        let mut pack = Command::new(&program);
        pack.arg("pack").arg(&from).arg("-o");
        pack.arg(room.path().join(format!("to-{round}")));
        let took = watched::run(pack.stdout(Stdio::null()).stderr(Stdio::null()));
        packing = packing.max(texels(side_px) / 1e6 / took.seconds);
        most_bytes = most_bytes.max(took.bytes);
    }
    let what = format!("{side_px}² texels of colour");
    line(
        &format!("bare encoder, tiles of {what}"),
        encoding,
        "megapixels/s",
    );
    least(
        &format!("ganosis pack, {what}"),
        packing,
        LEAST_MEGAPIXELS_A_SECOND,
        "megapixels/s",
    );
    least(
        &format!("ganosis pack over the bare encoder, {what}"),
        packing / encoding,
        LEAST_TO_ENCODER,
        "ratio",
    );
    let gib = most_bytes as f64 / f64::from(1 << 30);
    println!(
        "{}",
        json!({"name": format!("most memory of ganosis pack, {what}"), "measured": gib, "limit": MOST_GIB, "unit": "GiB"})
    );
}

fn line(name: &str, measured: f64, unit: &str) {
    println!(
        "{}",
        json!({"name": name, "measured": measured, "limit": null, "unit": unit})
    );
}

/// More is better.
fn least(name: &str, measured: f64, least: f64, unit: &str) {
    println!(
        "{}",
        json!({"name": name, "measured": measured, "limit": least, "is_least": true, "unit": unit})
    );
}

/// Texels that are encoded of an image: of all tiles with their borders, and of the base.
fn texels(side_px: u32) -> f64 {
    let pyramid = Pyramid::new([side_px; 2]);
    let tiles = (0..pyramid.tiles()).filter_map(|number| pyramid.place(number));
    let stored = tiles.map(|place| pyramid.stored_size(place));
    let base = pyramid.size_of(pyramid.base_level());
    stored
        .chain([base])
        .map(|[w, h]| f64::from(w) * f64::from(h))
        .sum()
}

/// Something like a photograph of paint: areas of even colour, slow shades, and the noise of a sensor.
fn paint(x: u32, y: u32) -> [u8; 3] {
    let noise = {
        let n = x.wrapping_mul(0x9E37_79B9) ^ y.wrapping_mul(0x85EB_CA6B);
        (n ^ (n >> 15)).wrapping_mul(0x2C1B_3C6D) >> 29
    };
    let shade = (f64::from(x) / 300.0).sin() * 20.0 + (f64::from(y) / 470.0).cos() * 25.0;
    let area = ((x / 900 + y / 700) % 3) * 40;
    [0, 1, 2].map(|c| (90.0 + shade + f64::from(area * (c + 1)) / 2.0 + f64::from(noise)) as u8)
}

fn write_dossier(folder: &Path, side_px: u32) {
    std::fs::create_dir_all(folder).unwrap();
    let file = BufWriter::new(File::create(folder.join("paint.png")).unwrap());
    let mut encoder = png::Encoder::new(file, side_px, side_px);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header().unwrap();
    let mut stream = writer.stream_writer().unwrap();
    for y in 0..side_px {
        let row: Vec<u8> = (0..side_px).flat_map(|x| paint(x, y)).collect();
        std::io::Write::write_all(&mut stream, &row).unwrap();
    }
    stream.finish().unwrap();
    let images =
        json!([{"sheet": "front", "file": "paint.png", "width_px": side_px, "height_px": side_px}]);
    let document = json!({
        "format": "ganosis-dossier/1", "id": "large", "title": "Large",
        "surface": {"file": "a.glb", "sheets": [{"id": "front", "material": "front"}]},
        "layers": [{"id": "vis", "kind": "colour", "images": images}],
        "states": [{"id": "found", "kind": "as-found", "layers": ["vis"]}],
    });
    std::fs::write(folder.join("dossier.json"), document.to_string()).unwrap();
}

/// Megapixels a second of libwebp alone, with the settings of `pack`, on all processors.
fn bare_encoder() -> f64 {
    let across = TILES.isqrt();
    let tiles: Vec<Vec<u8>> = (0..TILES)
        .map(|number| {
            let corner = [number % across, number / across].map(|n| n * STORED_PX);
            let places = (0..STORED_PX * STORED_PX).map(|i| (i % STORED_PX, i / STORED_PX));
            places
                .flat_map(|(x, y)| {
                    let [r, g, b] = paint(corner[0] + x, corner[1] + y);
                    [r, g, b, 255]
                })
                .collect()
        })
        .collect();
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    let start = Instant::now();
    std::thread::scope(|scope| {
        for part in tiles.chunks(tiles.len().div_ceil(processors)) {
            scope.spawn(move || {
                for tile in part {
                    let mut config = webp::WebPConfig::new().unwrap();
                    (config.lossless, config.method, config.quality) = (1, 0, 0.0);
                    (config.alpha_quality, config.exact) = (100, 1);
                    let encoder = webp::Encoder::from_rgba(tile, STORED_PX, STORED_PX);
                    assert!(!encoder.encode_advanced(&config).unwrap().is_empty());
                }
            });
        }
    });
    let texels = f64::from(TILES) * f64::from(STORED_PX * STORED_PX);
    texels / 1e6 / start.elapsed().as_secs_f64()
}
