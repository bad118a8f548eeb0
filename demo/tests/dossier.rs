//! The generated dossier against what it must be: read back with general-purpose libraries, not
//! with the code that made it.

use anyhow::{Context, Result};
use ganosis_colorimetry::{Encoded, LabD50, Srgb, delta_e_2000};
use ganosis_demo::Options;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

const SMALL: Options = Options {
    seed: 7,
    texture: 512,
    triangles: 60_000,
};

const SHEETS: [&str; 2] = ["crown", "flank"];

struct Made {
    dir: tempfile::TempDir,
}

/// One dossier for all tests that only read.
static MADE: LazyLock<Made> = LazyLock::new(|| {
    let dir = tempfile::tempdir().expect("a temporary folder");
    ganosis_demo::generate(dir.path(), &SMALL, &|_| {}).expect("the demo");
    Made { dir }
});

fn document() -> Value {
    let text = std::fs::read(MADE.dir.path().join("dossier.json")).expect("dossier.json");
    serde_json::from_slice(&text).expect("JSON")
}

fn hashes(dir: &Path) -> Result<BTreeMap<PathBuf, String>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![dir.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder)? {
            let path = entry?.path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let digest = Sha256::digest(std::fs::read(&path)?);
                let text: String = digest.iter().map(|b| format!("{b:02x}")).collect();
                found.insert(path.strip_prefix(dir)?.to_owned(), text);
            }
        }
    }
    Ok(found)
}

struct Image {
    size: usize,
    channels: usize,
    bytes: Vec<u8>,
}

fn image(file: &str) -> Result<Image> {
    let file = std::io::BufReader::new(std::fs::File::open(MADE.dir.path().join(file))?);
    let mut reader = png::Decoder::new(file).read_info()?;
    let mut bytes = vec![0; reader.output_buffer_size().context("too large")?];
    let info = reader.next_frame(&mut bytes)?;
    Ok(Image {
        size: info.width as usize,
        channels: info.color_type.samples(),
        bytes,
    })
}

type Triangle = ([[f32; 3]; 3], [[f32; 2]; 3], String, String);

/// Triangles of the surface: positions, texture coordinates, node, material.
fn triangles() -> Result<Vec<Triangle>> {
    let glb = gltf::Gltf::open(MADE.dir.path().join("surface.glb"))?;
    let blob = glb.blob.as_deref().context("no binary chunk")?;
    let mut out = Vec::new();
    for node in glb.document.nodes() {
        for primitive in node.mesh().context("no mesh")?.primitives() {
            let reader = primitive.reader(|_| Some(blob));
            let p: Vec<[f32; 3]> = reader.read_positions().context("positions")?.collect();
            let uv: Vec<[f32; 2]> = reader
                .read_tex_coords(0)
                .context("uv")?
                .into_f32()
                .collect();
            let i: Vec<u32> = reader
                .read_indices()
                .context("indices")?
                .into_u32()
                .collect();
            let material = primitive.material().name().unwrap_or_default().to_owned();
            for t in i.chunks_exact(3) {
                out.push((
                    [0, 1, 2].map(|k| p[t[k] as usize]),
                    [0, 1, 2].map(|k| uv[t[k] as usize]),
                    node.name().unwrap_or_default().to_owned(),
                    material.clone(),
                ));
            }
        }
    }
    Ok(out)
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() -> Result<()> {
    let tiny = Options {
        seed: 5,
        texture: 256,
        triangles: 40_000,
    };
    let (a, b, c) = (
        tempfile::tempdir()?,
        tempfile::tempdir()?,
        tempfile::tempdir()?,
    );
    ganosis_demo::generate(a.path(), &tiny, &|_| {})?;
    ganosis_demo::generate(b.path(), &tiny, &|_| {})?;
    ganosis_demo::generate(c.path(), &Options { seed: 6, ..tiny }, &|_| {})?;
    let first = hashes(a.path())?;
    assert!(first.len() > 30, "only {} files", first.len());
    assert_eq!(first, hashes(b.path())?);
    assert_ne!(
        first[Path::new("surface.glb")],
        hashes(c.path())?[Path::new("surface.glb")]
    );
    Ok(())
}

#[test]
fn the_dossier_checks_clean() -> Result<()> {
    let store = ganosis_dossier::store::FolderStore::open(MADE.dir.path())?;
    let findings = ganosis_dossier::check::check(&store)?.findings;
    assert!(findings.is_empty(), "{findings:#?}");
    Ok(())
}

#[test]
fn it_holds_as_much_as_a_demonstration_needs() -> Result<()> {
    let d = document();
    for (field, least) in [
        ("regions", 12),
        ("claims", 20),
        ("evidence", 24),
        ("pins", 6),
        ("views", 5),
        ("palette", 8),
    ] {
        let n = d[field].as_array().map_or(0, Vec::len);
        assert!(n >= least, "{field}: wanted {least} at least, got {n}");
    }
    let boss = triangles()?.iter().filter(|t| t.2 == "boss").count();
    assert!(
        boss >= SMALL.triangles,
        "wanted {}, got {boss} triangles",
        SMALL.triangles
    );
    let files = d["evidence"]
        .as_array()
        .into_iter()
        .flatten()
        .flat_map(|e| e["attachments"].as_array().cloned().unwrap_or_default());
    let mut seen = 0;
    for a in files {
        let path = MADE.dir.path().join(a["file"].as_str().context("file")?);
        assert!(
            path.metadata()?.len() > 500,
            "{} is too small",
            path.display()
        );
        seen += 1;
    }
    assert!(seen >= 20, "only {seen} attachments");
    Ok(())
}

#[test]
fn no_two_triangles_cover_the_same_texel() -> Result<()> {
    const N: usize = 1024;
    let mut owner: HashMap<String, Vec<u32>> = HashMap::new();
    let (mut covered, mut twice) = (0_u32, 0_u32);
    for (id, (_, uv, _, sheet)) in triangles()?.into_iter().enumerate() {
        let map = owner.entry(sheet).or_insert_with(|| vec![u32::MAX; N * N]);
        let t = uv.map(|c| c.map(|x| x * N as f32));
        assert!(
            t.iter().flatten().all(|&x| (0.0..=N as f32).contains(&x)),
            "outside the sheet: {t:?}"
        );
        let cross = |a: [f32; 2], b: [f32; 2], c: [f32; 2]| {
            (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        };
        let area = cross(t[0], t[1], t[2]);
        let range = |k: usize| {
            let (low, high) = (
                t[0][k].min(t[1][k]).min(t[2][k]),
                t[0][k].max(t[1][k]).max(t[2][k]),
            );
            low as usize..=(high as usize).min(N - 1)
        };
        for y in range(1) {
            for x in range(0) {
                let q = [x as f32 + 0.5, y as f32 + 0.5];
                // Clearly inside: edges are shared with the neighbour.
                let inside = (0..3).all(|k| cross(t[k], t[(k + 1) % 3], q) / area > 1e-3);
                if inside {
                    covered += 1;
                    twice += u32::from(map[y * N + x] != u32::MAX);
                    map[y * N + x] = id as u32;
                }
            }
        }
    }
    assert!(
        covered > 600_000,
        "the sheets are used too little: {covered} texels of {}",
        2 * N * N
    );
    assert_eq!(twice, 0, "{twice} texels are covered twice");
    Ok(())
}

#[test]
fn the_surface_is_closed() -> Result<()> {
    for node in ["boss", "bill"] {
        let mut edges: HashMap<[[u32; 3]; 2], i32> = HashMap::new();
        for (p, _, _, _) in triangles()?.into_iter().filter(|t| t.2 == node) {
            for k in 0..3 {
                let (a, b) = (p[k].map(f32::to_bits), p[(k + 1) % 3].map(f32::to_bits));
                *edges
                    .entry(if a < b { [a, b] } else { [b, a] })
                    .or_default() += 1;
            }
        }
        let open = edges.values().filter(|&&n| n == 1).count();
        let manifold = edges.values().filter(|&&n| n == 2).count();
        assert_eq!(open, 0, "{node}: {open} open edges");
        assert!(
            // At this coarse setting, thin stone may touch itself along an edge (four triangles).
            manifold as f64 > 0.99 * edges.len() as f64,
            "{node}: {manifold} of {}",
            edges.len()
        );
    }
    Ok(())
}

#[test]
fn every_anchor_lies_in_its_region_and_on_the_stone() -> Result<()> {
    let d = document();
    let numbers: HashMap<&str, u64> = d["regions"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|r| Some((r["id"].as_str()?, r["number"].as_u64()?)))
        .collect();
    let surface = triangles()?;
    let mut seen = 0;
    for item in d["evidence"].as_array().into_iter().flatten() {
        let anchor = &item["anchor"];
        let sheet = anchor["sheet"].as_str().context("sheet")?;
        let map = image(&format!("regions/{sheet}.png"))?;
        let at = |k: usize| anchor["uv"][k].as_f64().unwrap_or(-1.0);
        let (x, y) = (
            (at(0) * map.size as f64) as usize,
            (at(1) * map.size as f64) as usize,
        );
        let number = u64::from(map.bytes[y * map.size + x]);
        let region = item["region"].as_str().context("region")?;
        assert_eq!(number, numbers[region], "{}: not in {region}", item["id"]);
        let p = [0, 1, 2].map(|k| anchor["position_m"][k].as_f64().unwrap_or(9.0) as f32);
        let near = surface
            .iter()
            .filter(|t| t.3 == sheet)
            .flat_map(|t| t.0)
            .map(|q| (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f32>().sqrt())
            .fold(f32::MAX, f32::min);
        assert!(near < 0.005, "{}: {near} m off the surface", item["id"]);
        seen += 1;
    }
    assert!(seen >= 24);
    Ok(())
}

/// Reconstructions show the palette: in every state the middle texel of a region is within
/// CIEDE2000 (CIE 142-2001) of 4 of the colour that its claim names, and 95 of 100 within 10.
/// The limits of the audit, without the spread
/// of the paint that it adds.
#[test]
fn regions_show_the_colour_that_their_claim_names() -> Result<()> {
    let d = document();
    let list = |field: &str| d[field].as_array().cloned().unwrap_or_default();
    let find = |field: &str, id: &Value| list(field).into_iter().find(|x| x["id"] == *id);
    let maps = SHEETS.map(|s| image(&format!("regions/{s}.png")).expect("region map"));
    let mut seen = 0;
    for state in ["evidence-based", "hypothesis-a", "hypothesis-b"] {
        let colours =
            SHEETS.map(|s| image(&format!("layers/{state}/{s}.png")).expect("colour layer"));
        assert!(colours.iter().all(|c| c.channels == 3) && maps[0].channels == 1);
        for claim in list("claims") {
            let holds = claim["states"]
                .as_array()
                .is_some_and(|l| l.contains(&state.into()));
            let Some(paint) = find("palette", &claim["pigment"]).filter(|_| holds) else {
                continue;
            };
            let lab: [f64; 3] = serde_json::from_value(paint["lab_d50"].clone())?;
            let region = &claim["regions"][0];
            let number = find("regions", region).context("region")?["number"].clone();
            let mut differences = Vec::new();
            for (map, colour) in maps.iter().zip(&colours) {
                let here = (0..map.bytes.len()).filter(|&i| number == map.bytes[i]);
                differences.extend(here.map(|i| {
                    let rgb = [0, 1, 2].map(|k| colour.bytes[i * 3 + k]);
                    delta_e_2000(
                        LabD50::from_array(lab),
                        Encoded::<Srgb>::from_u8(rgb).into(),
                    )
                }));
            }
            differences.sort_by(f64::total_cmp);
            let at = |share: f64| differences[(share * differences.len() as f64) as usize];
            let (middle, most) = (at(0.5), at(0.95));
            assert!(
                middle < 4.0 && most < 10.0,
                "{state}, {region}: {middle:.2} in the middle, {most:.2} at 95 of 100"
            );
            seen += 1;
        }
    }
    assert!(seen > 50, "only {seen} regions looked at");
    Ok(())
}

/// What a reader sees first is written in every language that the dossier names.
#[test]
fn titles_and_pins_are_in_every_language() -> Result<()> {
    let d = document();
    let languages: Vec<String> = serde_json::from_value(d["languages"].clone())?;
    assert_eq!(languages, ["en", "es", "de", "ar"]);
    let mut texts = vec![("dossier".to_owned(), d["title"].clone())];
    for (list, fields) in [
        ("states", &["title", "description"][..]),
        ("layers", &["title"]),
        ("regions", &["title"]),
        ("palette", &["title"]),
        ("pins", &["title", "text"]),
        ("views", &["title", "text"]),
    ] {
        for item in d[list].as_array().context(list)? {
            for field in fields {
                texts.push((
                    format!("{list} {} {field}", item["id"]),
                    item[field].clone(),
                ));
            }
        }
    }
    for (place, text) in &texts {
        for language in &languages {
            let word = text[language].as_str().unwrap_or_default();
            assert!(!word.is_empty(), "{place}: nothing in {language}");
        }
        let arabic = text["ar"].as_str().unwrap_or_default();
        assert!(
            arabic.chars().any(|c| ('\u{600}'..='\u{6ff}').contains(&c)),
            "{place}: {arabic:?} has no Arabic letter"
        );
    }
    assert!(texts.len() > 80, "only {} texts", texts.len());
    Ok(())
}
