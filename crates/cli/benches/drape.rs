//! `ganosis drape`: time and memory, and how they grow with photographs, texels and triangles. Prints
//! one JSON object a line, and tables for people beside. Makes its own mesh, photographs and poses.
//!
//! Without arguments a table is made of how time grows; with `full` the large case is run: 20
//! photographs of 24 megapixels onto 8192² texels over 1,000,000 triangles; with `beside` the same task
//! is done by general-purpose libraries too, with the Python that `GANOSIS_PYTHON` names (`beside full`:
//! the large case, of which those do a quarter, for which they need some 12 GiB). `GANOSIS` names the
//! command where it does not lie where it was compiled; `TMPDIR` is where some 9 GB of the large case go.
#![allow(clippy::unwrap_used, reason = "a bench may fail by panic")]

mod watched;

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;
use std::process::{Command, Stdio};

use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::icc::OutputSpace;
use ganosis_imaging::lens::{Distortion, Lens};
use ganosis_imaging::pose::{Pose, PosedPhoto, Poses};
use ganosis_imaging::tiff_out::write_tiff;
use ganosis_imaging::{Encoding, Photo};
use glam::DVec3;

#[derive(Clone, Copy)]
struct Case {
    photos: usize,
    width_px: usize,
    side_px: u32,
    triangles: usize,
}

/// What the growth is measured from.
const BASE: Case = Case {
    photos: 4,
    width_px: 3000,
    side_px: 2048,
    triangles: 100_000,
};

/// What has to be done in 90 s and 3 GiB on two cores.
const FULL: Case = Case {
    photos: 20,
    width_px: 6000,
    side_px: 8192,
    triangles: 1_000_000,
};

/// What libraries in Python are held against: they have all photographs in memory at once.
const BESIDE: Case = Case {
    photos: 12,
    width_px: 3000,
    side_px: 4096,
    triangles: 400_000,
};

fn main() {
    let has = |word: &str| std::env::args().any(|a| a == word);
    let full = has("full");
    if has("beside") {
        return if full {
            beside(FULL, BLOCKS_OF_FULL)
        } else {
            beside(BESIDE, 1)
        };
    }
    if full {
        let took = alone(FULL);
        told(FULL, took, Some((90.0, 3.0)));
        return;
    }
    let photos = [8, 16].map(|photos| Case { photos, ..BASE });
    let sides = [4096, 8192].map(|side_px| Case { side_px, ..BASE });
    let triangles = [400_000, 1_600_000].map(|triangles| Case { triangles, ..BASE });
    let first = alone(BASE);
    told(BASE, first, None);
    eprintln!(
        "{:>6} {:>7} {:>10} {:>8} {:>11} {:>7} {:>6}",
        "photos", "texels", "triangles", "s", "processors", "GiB", "times"
    );
    row(BASE, first, first);
    for case in photos.into_iter().chain(sides).chain(triangles) {
        let took = alone(case);
        told(case, took, None);
        row(case, took, first);
    }
}

/// A line of the table: with how many times the processors' time of the first.
fn row(case: Case, took: watched::Took, first: watched::Took) {
    eprintln!(
        "{:>6} {:>6}² {:>10} {:>8.1} {:>11.1} {:>7.2} {:>6.2}",
        case.photos,
        case.side_px,
        case.triangles,
        took.seconds,
        took.processor_seconds,
        gib(took),
        took.processor_seconds / first.processor_seconds
    );
}

fn gib(took: watched::Took) -> f64 {
    took.bytes as f64 / f64::from(1 << 30)
}

/// Makes a case, and what the command takes for it.
fn alone(case: Case) -> watched::Took {
    let dir = tempfile::tempdir().unwrap();
    prepare(case, dir.path());
    drape(case, dir.path())
}

fn told(case: Case, took: watched::Took, limits: Option<(f64, f64)>) {
    let name = case.name();
    line(&name, took.seconds, limits.map(|l| l.0), "s");
    let processors = took.processor_seconds;
    line(&format!("{name}, processors"), processors, None, "s");
    let memory = gib(took);
    line(
        &format!("{name}, memory"),
        memory,
        limits.map(|l| l.1),
        "GiB",
    );
}

impl Case {
    fn name(&self) -> String {
        format!(
            "drape {} photographs of {} megapixels, {}² texels, {} triangles",
            self.photos,
            self.width_px * self.width_px * 2 / 3 / 1_000_000,
            self.side_px,
            self.triangles
        )
    }
}

/// Of the large case the libraries do one block of rows in so many, evenly over the sheet, and the others are taken to
/// last as long: the whole takes them a quarter of an hour.
const BLOCKS_OF_FULL: u32 = 4;

/// What the libraries write of their blocks.
#[derive(serde::Deserialize)]
struct Blocks {
    seconds: f64,
    processor_seconds: f64,
}

/// The same files by the command and by general-purpose libraries (`tests/bench/drape.py`), one after the
/// other, and how often both say that a texel is seen by the same number of photographs.
fn beside(case: Case, every: u32) {
    let Some(python) = std::env::var_os("GANOSIS_PYTHON") else {
        eprintln!("GANOSIS_PYTHON names no Python that has trimesh, embreex and OpenCV");
        return;
    };
    let dir = tempfile::tempdir().unwrap();
    prepare(case, dir.path());
    let ours = drape(case, dir.path());
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/bench/drape.py");
    let mut command = Command::new(python);
    command.arg(script).arg(dir.path()).stdout(Stdio::null());
    command.arg(case.side_px.to_string()).arg(every.to_string());
    let mut theirs = watched::run(&mut command);
    let took = std::fs::read_to_string(dir.path().join("took.json")).unwrap();
    let blocks: Blocks = serde_json::from_str(&took).unwrap();
    theirs.seconds += f64::from(every - 1) * blocks.seconds;
    theirs.processor_seconds += f64::from(every - 1) * blocks.processor_seconds;
    let name = case.name();
    for (who, took) in [("ganosis", ours), ("general-purpose libraries", theirs)] {
        line(&format!("{name}, {who}"), took.seconds, None, "s");
        let processors = took.processor_seconds;
        line(&format!("{name}, {who}, processors"), processors, None, "s");
        line(&format!("{name}, {who}, memory"), gib(took), None, "GiB");
    }
    // Both at least so often; the processors' time does not depend on what else runs.
    line(
        &format!("{name}: times as fast"),
        theirs.seconds / ours.seconds,
        None,
        "times",
    );
    line(
        &format!("{name}: times less of the processors"),
        theirs.processor_seconds / ours.processor_seconds,
        None,
        "times",
    );
    let open = |file: &str| image::open(dir.path().join(file)).unwrap().into_luma8();
    let (of_ours, of_theirs) = (open("out/1-page-views.png"), open("views.png"));
    let both = of_ours.as_raw().iter().zip(of_theirs.as_raw());
    let compared: Vec<bool> = both
        .filter(|(_, theirs)| **theirs != u8::MAX)
        .map(|(ours, theirs)| ours == theirs)
        .collect();
    let same = compared.iter().filter(|same| **same).count();
    line(
        &format!("{name}: texels seen by as many photographs"),
        100.0 * same as f64 / compared.len() as f64,
        None,
        "%",
    );
}

fn line(name: &str, measured: f64, limit: Option<f64>, unit: &str) {
    let row = serde_json::json!({"name": name, "measured": measured, "limit": limit, "unit": unit});
    println!("{row}");
}

/// Writes mesh, photographs and poses.
fn prepare(case: Case, dir: &Path) {
    let path = |name: &str| dir.join(name);
    std::fs::write(path("s.glb"), glb(case.triangles)).unwrap();
    let (w, h) = (case.width_px, case.width_px * 2 / 3);
    let photos = (0..case.photos).map(|i| {
        let posed = around(i, case.photos, w, h);
        let writer = BufWriter::new(File::create(path(&posed.photo.file)).unwrap());
        write_tiff(writer, &taken(&posed), OutputSpace::Romm, "").unwrap();
        posed
    });
    std::fs::write(
        path("poses.json"),
        Poses::new(Vec::new(), photos.collect()).text(),
    )
    .unwrap();
}

fn drape(case: Case, dir: &Path) -> watched::Took {
    let ganosis = std::env::var_os("GANOSIS");
    let ganosis = ganosis.unwrap_or_else(|| env!("CARGO_BIN_EXE_ganosis").into());
    let mut command = Command::new(ganosis);
    command
        .current_dir(dir)
        .args(["drape", "--surface", "s.glb", "--poses", "poses.json"])
        .args(["--id", "vis", "--size", &case.side_px.to_string()])
        .args(["-o", "out"])
        .stdout(Stdio::null())
        .stderr(Stdio::inherit());
    watched::run(&mut command)
}

/// A camera on a ring about a ball of 0.2 m, turned in and a little up and down.
fn around(i: usize, of: usize, width_px: usize, height_px: usize) -> PosedPhoto {
    let angle = i as f64 / of as f64 * std::f64::consts::TAU;
    let up = if i.is_multiple_of(2) { 0.35 } else { -0.25 };
    let from = DVec3::new(angle.cos(), up, angle.sin()) * 0.7;
    let forward = -from.normalize();
    let right = forward.cross(DVec3::Y).normalize();
    let down = forward.cross(right);
    let rows = [right, down, forward];
    PosedPhoto {
        photo: InputRecord {
            file: format!("{i}.tif"),
            sha256: String::new(),
        },
        lens: Lens {
            distortion: Distortion {
                k1: -0.1,
                k2: 0.05,
                ..Distortion::default()
            },
            ..Lens::simple(width_px, height_px, width_px as f64 * 1.05)
        },
        pose: Pose {
            rotation: rows.map(|r| r.to_array()),
            translation_m: rows.map(|r| -r.dot(from)),
        },
        fit: None,
    }
}

/// What it sees of a ball whose colour goes from pole to pole, with noise on it: photographs of one object agree. Knobs
/// and lens are left out, which move a colour by less than the noise.
fn taken(posed: &PosedPhoto) -> Photo {
    const RADIUS_M: f64 = 0.2;
    let Lens {
        width_px,
        height_px,
        focal_px,
        centre_px,
        ..
    } = posed.lens;
    let [right, down, forward] = posed.pose.rotation.map(DVec3::from);
    let from = DVec3::from(posed.pose.centre_m());
    let mut state = 1_u32;
    let mut samples = Vec::with_capacity(width_px * height_px * 3);
    for y in 0..height_px {
        for x in 0..width_px {
            let [u, v] = [x as f64 - centre_px[0], y as f64 - centre_px[1]];
            let way = (right * (u / focal_px[0]) + down * (v / focal_px[1]) + forward).normalize();
            let (nearest, off) = (-from.dot(way), from.length_squared());
            let half_chord2 = RADIUS_M * RADIUS_M - (off - nearest * nearest);
            let height_m = from.y + way.y * (nearest - half_chord2.max(0.0).sqrt());
            let slope = 25_000.0 + 10_000.0 * (height_m / RADIUS_M).clamp(-1.0, 1.0);
            for _ in 0..3 {
                // Linear congruential generator of Numerical Recipes.
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                samples.push(slope as u16 + (state >> 20) as u16);
            }
        }
    }
    Photo {
        name: posed.photo.file.clone(),
        width_px,
        height_px,
        bits: 16,
        samples,
        encoding: Encoding::Linear,
        encoding_from: "made up".to_owned(),
        icc_profile: None,
    }
}

/// A knobbly ball as GLB, unwrapped by longitude and latitude.
fn glb(triangles: usize) -> Vec<u8> {
    use std::f64::consts::{PI, TAU};
    let rows = ((triangles / 4) as f64).sqrt() as usize;
    let columns = 2 * rows;
    let (mut positions, mut uvs, mut indices) = (Vec::new(), Vec::new(), Vec::new());
    for j in 0..=rows {
        for i in 0..=columns {
            let (u, v) = (i as f64 / columns as f64, j as f64 / rows as f64);
            // The poles are cut off a little.
            let (a, b) = (u * TAU, 0.03 + v * (PI - 0.06));
            let r = 0.2 + 0.01 * (20.0 * a).sin() * (17.0 * b).sin();
            let at = [b.sin() * a.cos() * r, b.cos() * r, -b.sin() * a.sin() * r];
            positions.extend(at.map(|p| p as f32));
            uvs.extend([u as f32, v as f32]);
        }
    }
    for j in 0..rows {
        for i in 0..columns {
            let at = |i: usize, j: usize| (j * (columns + 1) + i) as u32;
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            indices.extend([a, c, b, a, d, c]);
        }
    }
    let vertices = positions.len() / 3;
    let mut bin: Vec<u8> = Vec::new();
    bin.extend(positions.iter().flat_map(|v| v.to_le_bytes()));
    bin.extend(uvs.iter().flat_map(|v| v.to_le_bytes()));
    bin.extend(indices.iter().flat_map(|v| v.to_le_bytes()));
    let (p, t) = (vertices * 12, vertices * 8);
    let mut json = serde_json::json!({
        "asset": {"version": "2.0"},
        "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0, "name": "ball"}],
        "materials": [{"name": "page"}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "TEXCOORD_0": 1}, "indices": 2,
            "material": 0}]}],
        "buffers": [{"byteLength": bin.len()}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": p},
            {"buffer": 0, "byteOffset": p, "byteLength": t},
            {"buffer": 0, "byteOffset": p + t, "byteLength": indices.len() * 4}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": vertices, "type": "VEC3",
                "min": [-0.3, -0.3, -0.3], "max": [0.3, 0.3, 0.3]},
            {"bufferView": 1, "componentType": 5126, "count": vertices, "type": "VEC2"},
            {"bufferView": 2, "componentType": 5125, "count": indices.len(), "type": "SCALAR"}],
    })
    .to_string()
    .into_bytes();
    json.resize(json.len().next_multiple_of(4), b' ');
    let mut out = b"glTF".to_vec();
    let all = 12 + 8 + json.len() + 8 + bin.len();
    for word in [2_u32, all as u32, json.len() as u32] {
        out.extend(word.to_le_bytes());
    }
    out.extend(b"JSON");
    out.extend(json);
    out.extend((bin.len() as u32).to_le_bytes());
    out.extend(b"BIN\0");
    out.extend(bin);
    out
}
