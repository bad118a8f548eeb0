//! `ganosis pack` on one colour image, beside the bare encoder on the same tiles, which lie in memory:
//! megapixels a second of both, the processor's time of both, and memory. Prints one JSON object a line. `full` packs 16384²
//! texels instead of 4096²; `GANOSIS` names a command other than the one of this build. Both take the
//! processors there are: `taskset -c 0,1` leaves them two.
#![allow(clippy::unwrap_used, reason = "a bench may fail by panic")]

mod watched;

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use ganosis_tiles::Pyramid;
use serde_json::json;

/// What is asked of packing: bounds of its own, in no standard.
const LEAST_MEGAPIXELS_A_SECOND: f64 = 14.0;
const LEAST_TO_ENCODER: f64 = 0.85;
const MOST_GIB: f64 = 1.5;

const ROUNDS: usize = 3;
/// Tiles that the encoder is measured with, taken evenly from all levels: coarse ones take longer, since
/// they have more colours.
const TILES: usize = 256;

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
    let (mut packing, mut encoding) = (Fastest::default(), Fastest::default());
    let mut most_bytes = 0;
    for round in 0..ROUNDS {
        let to = room.path().join(format!("to-{round}"));
        let mut pack = Command::new(&program);
        pack.arg("pack").arg(&from).arg("-o").arg(&to);
        let took = watched::run(pack.stdout(Stdio::null()).stderr(Stdio::null()));
        packing.add(texels(side_px), took.seconds, took.processor_seconds);
        most_bytes = most_bytes.max(took.bytes);
        bare_encoder(&tiles_in(&to.join("tiles")), &mut encoding);
    }
    let what = format!("{side_px}² texels of colour");
    line(
        &format!("bare encoder, tiles of {what}"),
        encoding.megapixels_a_second,
        "megapixels/s",
    );
    least(
        &format!("ganosis pack, {what}"),
        packing.megapixels_a_second,
        LEAST_MEGAPIXELS_A_SECOND,
        "megapixels/s",
    );
    least(
        &format!("ganosis pack over the bare encoder, {what}"),
        packing.megapixels_a_second / encoding.megapixels_a_second,
        LEAST_TO_ENCODER,
        "ratio",
    );
    line(
        &format!("the same by the processors' time alone, {what}"),
        encoding.nanoseconds_a_texel / packing.nanoseconds_a_texel,
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

/// The best of several rounds: others work on the same machine.
struct Fastest {
    megapixels_a_second: f64,
    /// Of all processors together.
    nanoseconds_a_texel: f64,
}

impl Default for Fastest {
    fn default() -> Self {
        Self {
            megapixels_a_second: 0.0,
            nanoseconds_a_texel: f64::INFINITY,
        }
    }
}

impl Fastest {
    fn add(&mut self, texels: f64, seconds: f64, processor_seconds: f64) {
        self.megapixels_a_second = self.megapixels_a_second.max(texels / 1e6 / seconds);
        let each = processor_seconds * 1e9 / texels;
        self.nanoseconds_a_texel = self.nanoseconds_a_texel.min(each);
    }
}

/// Texels of tiles that were packed, which hold every code value.
fn tiles_in(folder: &Path) -> Vec<image::RgbaImage> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .flat_map(|path| std::fs::read_dir(path).unwrap())
        .map(|entry| entry.unwrap().path())
        .collect();
    // Names are hashes: in their order every level is everywhere.
    files.sort();
    let every = files.len().div_ceil(TILES);
    let some = files.iter().step_by(every);
    some.map(|file| image::open(file).unwrap().to_rgba8())
        .collect()
}

/// libwebp alone, with the settings of `pack`, on all processors.
fn bare_encoder(tiles: &[image::RgbaImage], fastest: &mut Fastest) {
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicUsize::new(0);
    let (start, before) = (Instant::now(), watched::own_processor_seconds());
    std::thread::scope(|scope| {
        for _ in 0..processors {
            scope.spawn(|| {
                while let Some(tile) = tiles.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let mut config = webp::WebPConfig::new().unwrap();
                    (config.lossless, config.method, config.quality) = (1, 0, 0.0);
                    (config.alpha_quality, config.exact) = (100, 1);
                    let encoder = webp::Encoder::from_rgba(tile, tile.width(), tile.height());
                    assert!(!encoder.encode_advanced(&config).unwrap().is_empty());
                }
            });
        }
    });
    let seconds = start.elapsed().as_secs_f64();
    let texels = tiles.iter().map(|t| t.len() as f64 / 4.0).sum();
    fastest.add(texels, seconds, watched::own_processor_seconds() - before);
}
