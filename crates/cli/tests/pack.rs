//! `ganosis pack`: every texel of the sources is in the tiles, and a run can be stopped and repeated.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use image::{GenericImageView, ImageBuffer, Luma, Rgba};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

const SIZE: [u32; 2] = [901, 777];

fn colour(x: u32, y: u32) -> [u8; 4] {
    let n = x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503);
    [
        n as u8,
        (n >> 8) as u8,
        (n >> 16) as u8,
        if (x / 50).is_multiple_of(3) { 0 } else { 255 },
    ]
}

fn number(x: u32, y: u32) -> u16 {
    (x * 71 + y * 13) as u16
}

fn write(folder: &Path) {
    std::fs::create_dir_all(folder.join("layers")).unwrap();
    let [width, height] = SIZE;
    let image = ImageBuffer::from_fn(width, height, |x, y| Rgba(colour(x, y)));
    image.save(folder.join("layers/vis.png")).unwrap();
    let image = ImageBuffer::from_fn(width, height, |x, y| Luma([number(x, y)]));
    image.save(folder.join("layers/irr.png")).unwrap();
    std::fs::write(folder.join("note.txt"), "goes along").unwrap();
    let images = |name: &str| json!([{"sheet": "front", "file": format!("layers/{name}.png"), "width_px": width, "height_px": height}]);
    let document = json!({
        "format": "ganosis-dossier/1", "id": "large", "title": "Large",
        "surface": {"file": "a.glb", "sheets": [{"id": "front", "material": "front"}]},
        "layers": [
            {"id": "vis", "kind": "colour", "images": images("vis")},
            {"id": "irr", "kind": "band", "unit": "%", "range": [0, 100], "images": images("irr")},
        ],
        "states": [{"id": "found", "kind": "as-found", "layers": ["vis"]}],
    });
    std::fs::write(folder.join("dossier.json"), document.to_string()).unwrap();
}

fn pack(from: &Path, to: &Path, more: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ganosis"));
    command.arg("pack").arg(from).arg("-o").arg(to).args(more);
    command.output().unwrap()
}

fn read(path: PathBuf) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// Files below a folder with their bytes.
fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(contents(&path));
        } else {
            found.push((path.clone(), std::fs::read(&path).unwrap()));
        }
    }
    found.sort();
    found
}

#[test]
fn every_texel_is_in_a_tile_that_is_named_by_its_content() {
    let room = tempfile::tempdir().unwrap();
    let (from, to) = (room.path().join("from"), room.path().join("to"));
    write(&from);
    let output = pack(&from, &to, &[]);
    assert!(output.status.success(), "{output:?}");
    let document = read(to.join("dossier.json"));
    assert!(to.join("note.txt").exists() && !to.join("layers/vis.png").exists());
    for (layer, deep) in [(0, false), (1, true)] {
        let image = &document["layers"][layer]["images"][0];
        assert_eq!(
            (image["width_px"].as_u64(), image["height_px"].as_u64()),
            (Some(901), Some(777))
        );
        let list = image["tiles"]["index"].as_str().unwrap();
        let index = read(to.join(list));
        let (level, ending) = (&index["levels"][0], index["ending"].as_str().unwrap());
        assert_eq!(
            level["grid"],
            json!([4, 4]),
            "901 and 777 px in tiles of 256"
        );
        let names = level["names"].as_str().unwrap();
        for (n, name) in names.as_bytes().chunks(16).enumerate() {
            let name = std::str::from_utf8(name).unwrap();
            let bytes =
                std::fs::read(to.join(format!("tiles/{}/{name}.{ending}", &name[..2]))).unwrap();
            let hash: String = Sha256::digest(&bytes)
                .iter()
                .map(|b| format!("{b:02x}"))
                .collect();
            assert_eq!(&hash[..16], name);
            let tile = image::load_from_memory(&bytes).unwrap();
            let (column, row) = (n as u32 % 4, n as u32 / 4);
            for y in 0..tile.height() - 16 {
                for x in 0..tile.width() - 16 {
                    let (sx, sy) = (column * 256 + x, row * 256 + y);
                    if deep {
                        let found = tile.as_luma16().unwrap().get_pixel(x + 8, y + 8)[0];
                        assert_eq!(found, number(sx, sy), "{sx} {sy}");
                    } else {
                        assert_eq!(tile.get_pixel(x + 8, y + 8).0, colour(sx, sy), "{sx} {sy}");
                    }
                }
            }
        }
    }
}

#[test]
fn a_run_can_be_repeated_and_goes_on_where_it_was_stopped() {
    let room = tempfile::tempdir().unwrap();
    let (from, to) = (room.path().join("from"), room.path().join("to"));
    write(&from);
    assert!(pack(&from, &to, &[]).status.success());
    let first = contents(&to);
    let again = pack(&from, &to, &[]);
    assert!(
        String::from_utf8_lossy(&again.stdout).contains("2 of them done before"),
        "{again:?}"
    );
    assert_eq!(contents(&to), first);
    // As a run leaves it that is killed in its second image: no list, a tile cut off by a crash.
    let document = read(to.join("dossier.json"));
    let list = document["layers"][1]["images"][0]["tiles"]["index"]
        .as_str()
        .unwrap();
    std::fs::remove_file(to.join(list)).unwrap();
    std::fs::remove_file(to.join("dossier.json")).unwrap();
    let (tile, _) = first
        .iter()
        .find(|(path, _)| path.extension().is_some_and(|e| e == "png"))
        .unwrap();
    std::fs::write(tile, b"cut").unwrap();
    let again = pack(&from, &to, &[]);
    assert!(
        String::from_utf8_lossy(&again.stdout).contains("1 of them done before"),
        "{again:?}"
    );
    assert_eq!(contents(&to), first);
}

#[test]
fn what_is_lost_is_measured_and_written_down() {
    let room = tempfile::tempdir().unwrap();
    let (from, to) = (room.path().join("from"), room.path().join("to"));
    write(&from);
    assert!(pack(&from, &to, &["--keep", "small"]).status.success());
    let document = read(to.join("dossier.json"));
    let tiles = |layer: usize| &document["layers"][layer]["images"][0]["tiles"];
    assert_eq!(
        (&tiles(0)["keep"], &tiles(1)["keep"]),
        (&json!("small"), &json!("exact"))
    );
    let mean = tiles(0)["loss"]["mean_delta_e"].as_f64().unwrap();
    let most = tiles(0)["loss"]["percentile_99_delta_e"].as_f64().unwrap();
    // Noise loses its chroma at half the resolution: plainly, and no more than colours can differ.
    assert!(mean > 1.0 && most > mean && most < 120.0, "{mean} {most}");
    assert_eq!(tiles(1)["loss"], Value::Null);
}

#[test]
fn the_copy_may_not_lie_in_the_dossier() {
    let room = tempfile::tempdir().unwrap();
    let from = room.path().join("from");
    write(&from);
    std::fs::create_dir(from.join("packed")).unwrap();
    let output = pack(&from, &from.join("packed"), &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("Give a folder elsewhere"));
}

/// Tiles that `ganosis check` finds fault with, by their paths below the dossier.
fn faults(folder: &Path) -> Vec<String> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ganosis"));
    let output = command.arg("check").arg("--json").arg(folder).output();
    let said: Value = serde_json::from_slice(&output.unwrap().stdout).unwrap();
    let findings = said["findings"].as_array().unwrap().iter();
    let mut files: Vec<String> = findings
        .filter(|f| f["rule"] == "damaged-tile")
        .map(|f| f["file"].as_str().unwrap().to_owned())
        .collect();
    files.sort();
    files
}

#[test]
fn check_finds_every_tile_that_is_not_as_it_was_written() {
    let room = tempfile::tempdir().unwrap();
    let (from, to) = (room.path().join("from"), room.path().join("to"));
    write(&from);
    assert!(pack(&from, &to, &[]).status.success());
    assert_eq!(faults(&to), [] as [String; 0]);
    let tiles: Vec<(PathBuf, Vec<u8>)> = contents(&to.join("tiles"))
        .into_iter()
        .filter(|(path, _)| path.parent().unwrap().file_name().unwrap().len() == 2)
        .collect();
    let name = |path: &Path| path.strip_prefix(&to).unwrap().display().to_string();
    let [gone, cut, turned] = [0, 1, 2].map(|i| &tiles[i * (tiles.len() - 1) / 2]);
    std::fs::remove_file(&gone.0).unwrap();
    std::fs::write(&cut.0, &cut.1[..cut.1.len() / 2]).unwrap();
    let mut bytes = turned.1.clone();
    bytes[turned.1.len() / 3] ^= 1;
    std::fs::write(&turned.0, bytes).unwrap();
    let mut wanted = [gone, cut, turned].map(|(path, _)| name(path));
    wanted.sort();
    assert_eq!(faults(&to), wanted);
    // Of many, five are named, and how many more there are.
    for (path, _) in &tiles {
        let _ = std::fs::remove_file(path);
    }
    let all = faults(&to);
    assert!(all.len() < tiles.len() && all.len() > 5, "{all:?}");
    assert!(all.iter().any(|file| file.ends_with(".json")), "{all:?}");
}
