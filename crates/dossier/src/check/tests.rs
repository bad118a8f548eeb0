use std::collections::BTreeMap;
use std::io::Cursor;

use image::{DynamicImage, ImageBuffer, ImageFormat, Luma, Rgb};
use serde_json::{Value, json};

use super::*;

/// Files in memory.
struct Memory(BTreeMap<String, Vec<u8>>);

impl Store for Memory {
    fn size(&self, path: &str) -> Result<u64, StoreError> {
        self.read(path).map(|bytes| bytes.len() as u64)
    }
    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        crate::store::expect_inside(path)?;
        let missing = || StoreError::NotFound {
            path: path.to_owned(),
        };
        self.0.get(path).cloned().ok_or_else(missing)
    }
    fn list(&self) -> Result<Vec<String>, StoreError> {
        Ok(self.0.keys().cloned().collect())
    }
}

fn png(image: impl Into<DynamicImage>) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    image.into().write_to(&mut out, ImageFormat::Png).unwrap();
    out.into_inner()
}

fn good() -> (Value, Memory) {
    let gltf = json!({"asset": {"version": "2.0"}, "materials": [{"name": "crown"}], "nodes": [{"name": "bill"}]});
    let labels = ImageBuffer::from_fn(4, 4, |x, _| Luma([if x < 2 { 7u16 } else { 0 }]));
    let files = [
        ("surface.gltf", serde_json::to_vec(&gltf).unwrap()),
        (
            "vis.png",
            png(ImageBuffer::from_pixel(8, 4, Rgb([1u8, 2, 3]))),
        ),
        ("uvl.png", png(ImageBuffer::from_pixel(8, 4, Luma([9u16])))),
        ("regions.png", png(labels)),
        ("e.csv", b"a,b\n".to_vec()),
    ];
    let document = json!({
        "format": "ganosis-dossier/1", "id": "boss", "revision": 1, "title": {"en": "Boss"}, "languages": ["en"],
        "rights": {"licence": "https://creativecommons.org/publicdomain/zero/1.0/"},
        "people": [{"id": "ek", "name": "E. K."}],
        "surface": {"file": "surface.gltf", "sheets": [{"id": "crown", "material": "crown"}], "parts": [{"id": "bill", "node": "bill"}]},
        "layers": [
            {"id": "vis", "kind": "colour", "images": [{"sheet": "crown", "file": "vis.png", "width_px": 8, "height_px": 4}]},
            {"id": "uvl", "kind": "band", "unit": "relative", "range": [0, 1], "images": [{"sheet": "crown", "file": "uvl.png", "width_px": 8, "height_px": 4}]}],
        "states": [{"id": "found", "kind": "as-found", "layers": ["vis"], "proposed_by": ["ek"]}],
        "region_map": {"images": [{"sheet": "crown", "file": "regions.png", "width_px": 4, "height_px": 4}]},
        "regions": [{"id": "leaf", "number": 7}],
        "palette": [{"id": "azurite", "title": "Azurite", "lab_d50": [38, -3, -33], "elements": ["Cu"]}],
        "evidence": [{"id": "x", "technique": "xrf", "date": "2025-03-14", "operator": "ek", "region": "leaf",
            "anchor": {"sheet": "crown", "uv": [0.5, 0.5], "normal": [0, 0, 1]}, "identified": ["azurite"],
            "attachments": [{"file": "e.csv"}]}],
        "claims": [{"id": "c", "regions": ["leaf"], "states": ["found"], "pigment": "azurite", "certainty": "measured", "evidence": ["x"], "author": "ek"}],
        "pins": [{"id": "p", "anchor": {"sheet": "crown", "uv": [0, 1]}, "evidence": ["x"], "claims": ["c"], "states": ["found"]}],
        "views": [{"id": "v", "narration": {"en": {"audio": "e.csv", "captions": "e.csv"}}, "view": {"left": "found", "right": "uvl", "compare": "swipe", "position": 0.5, "pin": "p", "region": "leaf", "language": "en"}}]
    });
    let files = files
        .into_iter()
        .map(|(name, bytes)| (name.to_owned(), bytes))
        .collect();
    (document, Memory(files))
}

fn findings(document: &Value, mut store: Memory) -> Vec<Finding> {
    store
        .0
        .insert(FILE_NAME.into(), serde_json::to_vec(document).unwrap());
    check(&store).unwrap().findings
}

#[test]
fn a_good_dossier_has_no_findings() {
    let (document, store) = good();
    assert_eq!(findings(&document, store), []);
}

/// Every row: a place, a bad value, and the rule that must name that place.
#[test]
fn every_fault_is_reported_at_its_place() {
    let rows = [
        ("/people/0/id", json!("a b"), "illegal-id", "$.people[0].id"),
        (
            "/states/0/id",
            json!("vis"),
            "duplicate-id",
            "$.states[0].id",
        ),
        (
            "/states/0/layers/0",
            json!("no"),
            "unknown-id",
            "$.states[0].layers[0]",
        ),
        (
            "/states/0/proposed_by/0",
            json!("no"),
            "unknown-id",
            "$.states[0].proposed_by[0]",
        ),
        (
            "/states/0/kind",
            json!("maybe"),
            "illegal-word",
            "$.states[0].kind",
        ),
        (
            "/layers/0/images/0/sheet",
            json!("no"),
            "unknown-id",
            "$.layers[0].images[0].sheet",
        ),
        (
            "/layers/0/images/0/file",
            json!("no.png"),
            "missing-file",
            "$.layers[0].images[0].file",
        ),
        (
            "/layers/0/images/0/file",
            json!("../x.png"),
            "bad-path",
            "$.layers[0].images[0].file",
        ),
        (
            "/layers/0/images/0/file",
            json!("e.csv"),
            "unreadable-image",
            "$.layers[0].images[0].file",
        ),
        (
            "/layers/0/images/0/width_px",
            json!(9),
            "wrong-image-size",
            "$.layers[0].images[0]",
        ),
        (
            "/layers/0/images/0/file",
            json!("uvl.png"),
            "bad-pixels",
            "$.layers[0].images[0].file",
        ),
        (
            "/layers/1/images/0/file",
            json!("vis.png"),
            "bad-pixels",
            "$.layers[1].images[0].file",
        ),
        (
            "/layers/1/unit",
            Value::Null,
            "band-without-unit",
            "$.layers[1].unit",
        ),
        (
            "/layers/1/range",
            Value::Null,
            "band-without-range",
            "$.layers[1].range",
        ),
        (
            "/layers/1/range",
            json!([1, 0]),
            "out-of-range",
            "$.layers[1].range",
        ),
        (
            "/region_map/images/0/file",
            json!("vis.png"),
            "bad-pixels",
            "$.region_map.images[0].file",
        ),
        (
            "/regions/0/number",
            json!(8),
            "region-without-entry",
            "$.region_map.images[0]",
        ),
        (
            "/regions/0/number",
            json!(8),
            "region-without-area",
            "$.regions[0].number",
        ),
        (
            "/regions/0/number",
            json!(0),
            "out-of-range",
            "$.regions[0].number",
        ),
        (
            "/palette/0/lab_d50",
            json!([138, 0, 0]),
            "out-of-range",
            "$.palette[0].lab_d50",
        ),
        (
            "/palette/0/elements/0",
            json!("Xx"),
            "unknown-element",
            "$.palette[0].elements[0]",
        ),
        (
            "/evidence/0/technique",
            json!("guess"),
            "illegal-word",
            "$.evidence[0].technique",
        ),
        (
            "/evidence/0/date",
            json!("14.3.2025"),
            "bad-date",
            "$.evidence[0].date",
        ),
        (
            "/evidence/0/operator",
            json!("no"),
            "unknown-id",
            "$.evidence[0].operator",
        ),
        (
            "/evidence/0/region",
            json!("no"),
            "unknown-id",
            "$.evidence[0].region",
        ),
        (
            "/evidence/0/identified/0",
            json!("no"),
            "unknown-id",
            "$.evidence[0].identified[0]",
        ),
        (
            "/evidence/0/anchor/sheet",
            json!("no"),
            "unknown-id",
            "$.evidence[0].anchor.sheet",
        ),
        (
            "/evidence/0/anchor/uv",
            json!([2, 0]),
            "out-of-range",
            "$.evidence[0].anchor.uv",
        ),
        (
            "/evidence/0/anchor/normal",
            json!([0, 0, 0]),
            "bad-direction",
            "$.evidence[0].anchor.normal",
        ),
        (
            "/evidence/0/attachments/0/file",
            json!("no"),
            "missing-file",
            "$.evidence[0].attachments[0].file",
        ),
        (
            "/layers/0/images/0/tiles",
            json!({"index": "no"}),
            "missing-file",
            "$.layers[0].images[0].tiles.index",
        ),
        (
            "/views/0/narration/en/captions",
            json!("no"),
            "missing-file",
            "$.views[0].narration[\"en\"].captions",
        ),
        (
            "/claims/0/certainty",
            json!("sure"),
            "illegal-word",
            "$.claims[0].certainty",
        ),
        (
            "/claims/0/finish",
            json!("wet"),
            "illegal-word",
            "$.claims[0].finish",
        ),
        (
            "/claims/0/pigment",
            json!("no"),
            "unknown-id",
            "$.claims[0].pigment",
        ),
        (
            "/claims/0/regions/0",
            json!("no"),
            "unknown-id",
            "$.claims[0].regions[0]",
        ),
        (
            "/claims/0/evidence/0",
            json!("no"),
            "unknown-id",
            "$.claims[0].evidence[0]",
        ),
        (
            "/claims/0/author",
            json!("no"),
            "unknown-id",
            "$.claims[0].author",
        ),
        (
            "/pins/0/claims/0",
            json!("no"),
            "unknown-id",
            "$.pins[0].claims[0]",
        ),
        (
            "/views/0/view/left",
            json!("vis"),
            "unknown-id",
            "$.views[0].view.left",
        ),
        (
            "/views/0/view/right",
            json!("no"),
            "unknown-id",
            "$.views[0].view.right",
        ),
        (
            "/views/0/view/position",
            json!(1.5),
            "out-of-range",
            "$.views[0].view.position",
        ),
        (
            "/title",
            json!({"xx": "Boss"}),
            "unknown-language",
            "$.title.xx",
        ),
        (
            "/title",
            json!({"de": "Boss"}),
            "undeclared-language",
            "$.title.de",
        ),
        ("/title", json!(5), "wrong-type", "$.title"),
        (
            "/rights/licence",
            json!("ask us"),
            "bad-rights",
            "$.rights.licence",
        ),
        (
            "/surface/file",
            json!("e.csv"),
            "unreadable-surface",
            "$.surface.file",
        ),
        (
            "/surface/sheets/0/material",
            json!("no"),
            "unknown-material",
            "$.surface.sheets[0].material",
        ),
        (
            "/surface/parts/0/node",
            json!("no"),
            "unknown-node",
            "$.surface.parts[0].node",
        ),
    ];
    for (pointer, value, rule, path) in rows {
        let (mut document, store) = good();
        let (parent, name) = pointer.rsplit_once('/').unwrap();
        match document.pointer_mut(parent).unwrap() {
            Value::Object(fields) => drop(fields.insert(name.to_owned(), value.clone())),
            Value::Array(list) => list[name.parse::<usize>().unwrap()] = value.clone(),
            other => panic!("{pointer}: {other}"),
        }
        let found = findings(&document, store);
        let hit = found.iter().any(|f| f.rule == rule && f.path == path);
        assert!(
            hit,
            "{pointer} = {value}: wanted {rule} at {path}, got {found:#?}"
        );
        assert!(
            found
                .iter()
                .all(|f| !f.advice.is_empty() && !f.message.is_empty())
        );
    }
}

#[test]
fn images_cut_off_are_reported() {
    for name in ["vis.png", "regions.png"] {
        let (document, mut store) = good();
        let bytes = store.0.get_mut(name).unwrap();
        bytes.truncate(bytes.len() - 13);
        let found = findings(&document, store);
        assert!(
            found
                .iter()
                .any(|f| f.rule == "unreadable-image" && f.file == name),
            "{found:#?}"
        );
    }
}

#[test]
fn an_edit_is_held_to_the_errors_it_brings_in() {
    let store = Memory(BTreeMap::new());
    let read = |json: &str| document_from_bytes(json.as_bytes()).unwrap().document;
    let before = read(
        r#"{"format": "ganosis-dossier/1", "id": "b", "surface": {"file": "gone.glb"},
        "pins": [{"id": "p", "anchor": {"sheet": "none"}}]}"#,
    );
    assert_eq!(new_errors(&before, &before, &store), []);
    let mut after = before.clone();
    after.pins.insert(0, after.pins[0].clone());
    after.pins[0].id = "q".to_owned();
    after.pins[0].evidence = vec!["nowhere".to_owned()];
    after.palette = vec![crate::document::PaletteEntry {
        id: "azurite".to_owned(),
        spectrum: Some("palette/azurite.csv".to_owned()),
        ..Default::default()
    }];
    let rules: Vec<&str> = new_errors(&before, &after, &store)
        .iter()
        .map(|finding| finding.rule)
        .collect();
    assert!(rules.contains(&"unknown-id"), "{rules:?}");
    assert!(rules.contains(&"missing-file"), "{rules:?}");
}
