//! The desk over a dossier of which every texel is known: a square of one metre, six columns of regions.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::rc::Rc;

use ganosis_desk::{Desk, Drawing, Outcome};
use ganosis_editing::journal::Step;
use ganosis_testkit::mesh::square_glb;
use image::{GrayImage, ImageFormat, Luma, Rgb, RgbImage};
use serde_json::{Value, json};

const SIDE: u32 = 120;
const COLUMNS: u32 = 6;

type Files = Rc<BTreeMap<String, Vec<u8>>>;

fn png(image: impl Into<image::DynamicImage>) -> Vec<u8> {
    let mut bytes = Vec::new();
    let image = image.into();
    image
        .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)
        .expect("written");
    bytes
}

fn region_at(x: u32) -> u16 {
    (x * COLUMNS / SIDE + 1) as u16
}

fn document() -> Value {
    let over =
        |file: &str| json!([{"sheet": "front", "file": file, "width_px": SIDE, "height_px": SIDE}]);
    let anchor =
        json!({"sheet": "front", "uv": [0.5, 0.5], "position_m": [0, 0, 0], "normal": [0, 0, 1]});
    let regions: Vec<Value> = (1..=COLUMNS)
        .map(|n| json!({"id": format!("column-{n}"), "number": n, "title": format!("Column {n}")}))
        .collect();
    json!({
        "x_first": 1, "format": "ganosis-dossier/1", "id": "square", "revision": 7, "title": "A square",
        "surface": {"file": "square.glb", "sheets": [{"id": "front", "material": "front"}]},
        "people": [{"id": "ek", "name": "E. K."}],
        "layers": [
            {"id": "paint", "kind": "colour", "title": "Paint", "colour_space": "srgb", "images": over("paint.png")},
            {"id": "irr", "kind": "band", "band": "IRR", "title": "Infrared", "unit": "%", "range": [0, 50], "images": over("irr.png")},
        ],
        "states": [{"id": "shown", "kind": "evidence-based", "title": "Shown", "layers": ["paint"], "proposed_by": ["ek"]},
                   {"id": "bare", "kind": "as-found", "title": "Bare", "layers": ["paint"]}],
        "region_map": {"images": over("regions/front.png")},
        "regions": regions,
        "palette": [{"id": "azurite", "title": "Azurite", "lab_d50": [38, -3, -33], "readings": 3}],
        "evidence": [{"id": "xrf-1", "technique": "xrf", "title": "Spot", "result": "Copper", "anchor": anchor, "region": "column-4",
                      "date": "2025-03-14", "operator": "ek", "elements": ["Cu"]}],
        "claims": [{"id": "c-1", "regions": ["column-4"], "states": ["shown"], "pigment": "azurite", "certainty": "measured",
                    "evidence": ["xrf-1"], "author": "ek", "date": "2025-05-02", "argument": "Copper.", "x_note": {"kept": true}}],
        "pins": [{"id": "p-1", "title": "Here", "text": "Copper.", "x_tray": 4, "anchor": anchor, "evidence": ["xrf-1"]}],
        "x_last": [[]],
    })
}

fn files() -> Files {
    let labels = GrayImage::from_fn(SIDE, SIDE, |x, _| Luma([region_at(x) as u8]));
    let paint = RgbImage::from_fn(SIDE, SIDE, |x, y| {
        if x < SIDE / 2 && y < SIDE / 4 {
            Rgb([200, 40, 40])
        } else {
            Rgb([40, 60, 200])
        }
    });
    let irr = GrayImage::from_fn(SIDE, SIDE, |x, _| Luma([(x * 2) as u8]));
    Rc::new(BTreeMap::from([
        ("square.glb".to_owned(), square_glb([0.0; 3])),
        ("paint.png".to_owned(), png(paint)),
        ("irr.png".to_owned(), png(irr)),
        ("regions/front.png".to_owned(), png(labels)),
    ]))
}

fn open_text(text: &str, files: &Files) -> Desk {
    let files = Rc::clone(files);
    let read = move |path: &str| {
        files
            .get(path)
            .cloned()
            .ok_or_else(|| "the file is not there".to_owned())
    };
    Desk::open(text.as_bytes(), Box::new(read)).expect("opens")
}

fn open() -> Desk {
    open_text(&document().to_string(), &files())
}

fn steps(value: Value) -> Vec<Step> {
    serde_json::from_value(value).expect("steps")
}

fn draw(desk: &mut Desk, operation: &str, values: Value) -> Outcome {
    let drawing: Drawing = serde_json::from_value(values).expect("a drawing");
    desk.draw(operation, &drawing).expect("drawn")
}

/// The map as it would be saved, decoded by the image library; as it was where nothing differs.
fn map_of(desk: &mut Desk) -> Vec<u16> {
    let maps = desk.to_save().expect("ready").maps;
    let Some(map) = maps.first() else {
        return (0..SIDE * SIDE).map(|i| region_at(i % SIDE)).collect();
    };
    let image = image::load_from_memory(&map.bytes).expect("a PNG");
    image
        .into_luma16()
        .into_raw()
        .into_iter()
        .map(|n| n / 257)
        .collect()
}

/// Centre of a texel in the plane, metres.
fn place(x: u32, y: u32) -> [f64; 2] {
    let at = |n: u32| (f64::from(n) + 0.5) / f64::from(SIDE);
    [at(x) - 0.5, 0.5 - at(y)]
}

fn stroke(number: u16, over: Value) -> Value {
    json!({"points": [{"position": [-0.2, 0.1, 0], "normal": [0, 0, 1]}, {"position": [0.2, 0.1, 0], "normal": [0, 0, 1]}],
           "radius_mm": 52.1, "number": number, "over": over, "label": "A stroke"})
}

#[test]
fn a_stroke_paints_what_lies_within_its_radius_and_is_taken_back() {
    let mut desk = open();
    let before = map_of(&mut desk);
    let outcome = draw(&mut desk, "stroke", stroke(2, json!("all")));
    assert_eq!(
        (outcome.undo.as_deref(), outcome.saved, outcome.text),
        (Some("A stroke"), false, None)
    );
    // Brute force over all texels: distance of each centre from the line.
    let wanted: Vec<u16> = (0..SIDE * SIDE)
        .map(|i| {
            let [x, y] = place(i % SIDE, i / SIDE);
            let along = x.clamp(-0.2, 0.2);
            let near = (x - along).hypot(y - 0.1) <= 0.0521;
            if near { 2 } else { region_at(i % SIDE) }
        })
        .collect();
    assert!(map_of(&mut desk) == wanted);
    let part = &outcome.parts[0];
    assert_eq!((part.map_px, part.sheet.as_str()), ([SIDE, SIDE], "front"));
    for (i, number) in part.texels.iter().enumerate() {
        let (x, y) = (
            part.rect.x + i as u32 % part.rect.width,
            part.rect.y + i as u32 / part.rect.width,
        );
        assert_eq!(*number, wanted[(y * SIDE + x) as usize]);
    }
    // A second stroke that goes on is taken back with the first.
    let mut more = stroke(3, json!([1]));
    more["continues"] = true.into();
    assert_eq!(draw(&mut desk, "stroke", more).revision, 1);
    let undone = desk.undo();
    assert_eq!(
        (undone.redo.as_deref(), undone.saved),
        (Some("A stroke"), true)
    );
    assert!(map_of(&mut desk) == before);
    assert_eq!(desk.redo().parts.len(), 1);
}

#[test]
fn every_operation_does_what_its_numbers_say() {
    let mut desk = open();
    // Colour: the red part of the paint only, where it belongs to the columns asked for.
    let anchor = json!({"sheet": "front", "uv": [0.1, 0.1]});
    draw(
        &mut desk,
        "fill",
        json!({"anchor": anchor, "by": "colour", "layer": "paint", "tolerance_delta_e_2000": 5, "number": 6, "over": [1, 3], "connected": true}),
    );
    let red = |i: u32| i % SIDE < SIDE / 2 && i / SIDE < SIDE / 4 && region_at(i % SIDE) != 2;
    let wanted: Vec<u16> = (0..SIDE * SIDE)
        .map(|i| if red(i) { 6 } else { region_at(i % SIDE) })
        .collect();
    assert!(map_of(&mut desk) == wanted);
    desk.undo();
    // Band: the layer's unit is told by its range 0 to 50 % over 255 codes; code 2x.
    draw(
        &mut desk,
        "fill",
        json!({"anchor": anchor, "by": "band", "layer": "irr", "from": 10, "to": 20, "number": 5, "over": "all", "connected": false}),
    );
    let within = |x: u32| (10.0..=20.0).contains(&(f64::from(2 * x) / 255.0 * 50.0));
    let wanted: Vec<u16> = (0..SIDE * SIDE)
        .map(|i| {
            if within(i % SIDE) {
                5
            } else {
                region_at(i % SIDE)
            }
        })
        .collect();
    assert!(map_of(&mut desk) == wanted);
    desk.undo();
    // Growing column 2 by 50 mm: six texels of 1/120 m on each side.
    draw(
        &mut desk,
        "grow",
        json!({"number": 2, "mm": 50.1, "over": "all"}),
    );
    let wanted: Vec<u16> = (0..SIDE * SIDE)
        .map(|i| {
            if (14..46).contains(&(i % SIDE)) {
                2
            } else {
                region_at(i % SIDE)
            }
        })
        .collect();
    assert!(map_of(&mut desk) == wanted);
    desk.undo();
    draw(&mut desk, "shrink", json!({"number": 2, "mm": 50.1}));
    let wanted: Vec<u16> = (0..SIDE * SIDE)
        .map(|i| match i % SIDE {
            20..26 | 34..40 => 0,
            x => region_at(x),
        })
        .collect();
    assert!(map_of(&mut desk) == wanted);
    desk.undo();
    draw(&mut desk, "assign", json!({"from": 4, "to": 0}));
    assert_eq!(
        map_of(&mut desk).iter().filter(|n| **n == 0).count() as u32,
        SIDE * SIDE / COLUMNS
    );
    let areas = desk.areas().expect("measured");
    let columns = areas["regions"].as_array().expect("a list");
    let sum: f64 = columns.iter().filter_map(|r| r["area_m2"].as_f64()).sum();
    // A square of one metre, a sixth of it free.
    assert!((sum - 5.0 / 6.0).abs() < 1e-6, "{areas}");
    assert!(
        (areas["unassigned_m2"].as_f64().expect("a number") - 1.0 / 6.0).abs() < 1e-6,
        "{areas}"
    );
    desk.undo();
    // A lasso of the left upper quarter, seen straight from the front at a distance of 2 m: the square
    // fills half of a picture that is 2 m wide there.
    let far_to_clip = |c: f64| json!([c, 0, 0, 0, 0, c, 0, 0, 0, 0, -1, -1, 0, 0, 2, 2]);
    let projection =
        json!({"view_projection": far_to_clip(2.0), "eye": [0, 0, 2], "width": 400, "height": 400});
    draw(
        &mut desk,
        "lasso",
        json!({"polygon": [[50, 50], [200, 50], [200, 200], [50, 200]], "projection": projection, "number": 1, "over": "all"}),
    );
    let inside = |i: u32| i % SIDE < SIDE / 2 && i / SIDE < SIDE / 2;
    let wanted: Vec<u16> = (0..SIDE * SIDE)
        .map(|i| if inside(i) { 1 } else { region_at(i % SIDE) })
        .collect();
    assert!(map_of(&mut desk) == wanted);
}

#[test]
fn a_save_names_new_files_and_a_draft_survives_it() {
    let files = files();
    let text = document().to_string();
    let mut desk = open_text(&text, &files);
    draw(&mut desk, "stroke", stroke(2, json!("all")));
    desk.apply(
        &steps(json!([{"op": "set", "path": "/title", "value": "Another"}])),
        "title",
    )
    .expect("taken");
    let ready = desk.to_save().expect("ready");
    assert_eq!(
        (
            ready.revision,
            ready.maps.len(),
            ready.maps[0].path.as_str()
        ),
        (8, 1, "regions/front-r8.png")
    );
    let saved: Value = serde_json::from_str(&ready.text).expect("JSON");
    let mut wanted = document();
    wanted["title"] = "Another".into();
    wanted["revision"] = 8.into();
    wanted["region_map"]["images"][0]["file"] = "regions/front-r8.png".into();
    assert_eq!(saved, wanted);
    let order = |value: &Value| {
        value
            .as_object()
            .expect("an object")
            .keys()
            .cloned()
            .collect::<Vec<_>>()
    };
    assert_eq!(order(&saved), order(&wanted));
    // The name was taken at the server.
    let text_again = desk
        .renamed("front", "regions/front-r8-2.png")
        .expect("renamed");
    assert!(text_again.contains("regions/front-r8-2.png") && !text_again.contains("front-r8.png"));
    // A change made while the save was under way is not part of it.
    desk.apply(
        &steps(json!([{"op": "set", "path": "/notice", "value": "Late"}])),
        "notice",
    )
    .expect("taken");
    let kept = desk.keep(ready.mark, 8).expect("kept");
    assert!(!kept.saved);
    assert!(desk.undo().saved);
    desk.redo();
    assert!(
        desk.keep(ready.mark, 9).is_err(),
        "nothing is being saved now"
    );
    // The next map does not go over the file before.
    draw(&mut desk, "assign", json!({"from": 2, "to": 0}));
    let next = desk.to_save().expect("ready");
    assert_eq!(next.maps[0].path, "regions/front-r9.png");

    // What was saved is opened by another; the draft of this desk goes over it.
    let mut there = (*files).clone();
    there.insert(
        "regions/front-r8-2.png".to_owned(),
        ready.maps[0].bytes.clone(),
    );
    let drawn = map_of(&mut desk);
    let (draft, maps) = desk.draft().expect("a draft");
    let mut other = open_text(&text_again, &Rc::new(there));
    let restored = other.restore(&draft, &maps, "Draft").expect("restored");
    assert_eq!(
        (restored.undo.as_deref(), restored.revision),
        (Some("Draft"), 1)
    );
    assert_eq!(other.document().notice, "Late".to_owned().into());
    assert!(map_of(&mut other) == drawn);
    let back = other.undo();
    assert!(back.saved && other.to_save().expect("ready").maps.is_empty());
    let reopened: Value = serde_json::from_str(&back.text.expect("changed")).expect("JSON");
    assert_eq!(
        reopened,
        serde_json::from_str::<Value>(&text_again).expect("JSON")
    );
}

#[test]
fn a_first_map_is_made_in_the_size_of_the_images_and_named_in_the_document() {
    let mut bare = document();
    bare.as_object_mut()
        .expect("an object")
        .shift_remove("region_map");
    let mut desk = open_text(&bare.to_string(), &files());
    assert!(desk.to_save().expect("ready").maps.is_empty());
    draw(&mut desk, "stroke", stroke(2, json!("free")));
    let ready = desk.to_save().expect("ready");
    assert_eq!(ready.maps[0].path, "regions/front-r8.png");
    let saved: Value = serde_json::from_str(&ready.text).expect("JSON");
    assert_eq!(
        saved["region_map"]["images"],
        json!([{"sheet": "front", "file": "regions/front-r8.png", "width_px": SIDE, "height_px": SIDE}])
    );
    desk.undo();
    assert!(desk.to_save().expect("ready").maps.is_empty());
}

#[test]
fn the_audit_follows_what_is_drawn_and_said() {
    let mut desk = open();
    let rules = |desk: &mut Desk| -> Vec<String> {
        let findings = &desk.audit().findings;
        findings
            .iter()
            .map(|f| format!("{} {}", f.rule, f.about))
            .collect()
    };
    let opened = rules(&mut desk);
    // The observation of column 4 then lies in no region.
    draw(&mut desk, "assign", json!({"from": 4, "to": 0}));
    let drawn = rules(&mut desk);
    assert_ne!(opened, drawn);
    desk.undo();
    assert_eq!(rules(&mut desk), opened);
    let partings = desk.compare("shown", "bare").expect("compared");
    assert_eq!(partings[0]["region"], "column-4");
    // Measured by samples about a texel wide: of a column of 1 m, half a texel along each side.
    let area = partings[0]["area_cm2"].as_f64().expect("measured");
    assert!(
        (area - 1e4 / 6.0).abs() < 1e4 / f64::from(SIDE),
        "{area} cm²"
    );
    assert!(desk.compare("shown", "nowhere").is_err());
    assert!(
        desk.hints("xrf-1").expect("there")["sentence"]
            .as_str()
            .is_some_and(|s| s.contains("azurite"))
    );
    assert!(desk.hints("xrf-9").is_err());
}

#[test]
fn without_its_files_the_desk_examines_what_it_has_and_says_what_not() {
    let none = Rc::new(BTreeMap::new());
    let mut desk = open_text(&document().to_string(), &none);
    assert!(!desk.audit().not_examined.is_empty());
    let drawing: Drawing = serde_json::from_value(stroke(2, json!("all"))).expect("a drawing");
    let refused = desk.draw("stroke", &drawing).expect_err("no surface");
    assert!(refused.message.contains("square.glb"), "{refused}");
    assert!(
        desk.apply(
            &steps(json!([{"op": "set", "path": "/title", "value": "T"}])),
            "title"
        )
        .is_ok()
    );
    let nonsense: Drawing = serde_json::from_value(json!({"radius_mm": "wide"})).expect("read");
    assert!(open().draw("stroke", &nonsense).is_err() && open().draw("smudge", &drawing).is_err());
}

#[test]
fn the_files_that_a_call_reads_are_told_before_it_runs() {
    let desk = open();
    let surface_and_map = ["regions/front.png", "square.glb"];
    assert_eq!(desk.needs("stroke", None), surface_and_map);
    assert_eq!(
        desk.needs("audit", None),
        ["paint.png", "regions/front.png", "square.glb"]
    );
    assert_eq!(
        desk.needs("fill", Some("irr")),
        ["irr.png", "regions/front.png", "square.glb"]
    );
    assert!(desk.needs("apply", None).is_empty());
    assert_eq!(desk.needs("files", None), ["square.glb"]);
    assert_eq!(
        desk.file_names(),
        ["irr.png", "paint.png", "regions/front.png", "square.glb"]
    );
}

#[test]
fn annotations_come_in_as_one_step_and_leave_unknown_fields() {
    let mut desk = open();
    let mut annotations = desk.annotations();
    let items = annotations["first"]["items"].as_array_mut();
    let items = items.expect("a list of annotations");
    let pin = items.iter_mut().find(|item| {
        let bodies = item["body"].as_array();
        bodies.is_some_and(|bodies| bodies.iter().any(|body| body["value"] == "Here"))
    });
    let pin = pin.expect("the pin");
    let body = pin["body"].as_array_mut().expect("bodies").iter_mut();
    for body in body.filter(|body| body["purpose"] == "commenting") {
        body["value"] = "Copper and lead.".into();
    }
    let (outcome, report) = desk
        .merge_annotations(&annotations.to_string(), "Annotations")
        .expect("merged");
    assert_eq!(
        (report["changed"][0]["pin"].as_str(), outcome.revision),
        (Some("p-1"), 1),
        "{report}"
    );
    let text: Value = serde_json::from_str(&outcome.text.expect("changed")).expect("JSON");
    let mut wanted = document();
    wanted["pins"][0]["text"] = "Copper and lead.".into();
    assert_eq!(text, wanted);
    assert!(desk.merge_annotations("{", "Annotations").is_err());
    assert!(desk.undo().saved);
}

#[test]
fn a_touch_of_the_brush_is_a_disc_about_its_point() {
    let touches = [[0.019, -0.0001], [0.0, 0.0], [-0.31, 0.22], [0.2, -0.2]];
    for [px, py] in touches {
        let mut desk = open();
        let point = json!({"position": [px, py, 0], "normal": [0, 0, 1]});
        let values = json!({"points": [point], "radius_mm": 60.3, "number": 9, "over": "all"});
        draw(&mut desk, "stroke", values);
        let wanted: Vec<u16> = (0..SIDE * SIDE)
            .map(|i| {
                let [x, y] = place(i % SIDE, i / SIDE);
                let near = (x - px).hypot(y - py) <= 0.0603;
                if near { 9 } else { region_at(i % SIDE) }
            })
            .collect();
        assert!(map_of(&mut desk) == wanted, "at {px}, {py}");
    }
}

/// Three texels wide in a map of which a triangle has 1,920 along a side.
#[test]
fn a_region_of_a_few_texels_is_found_on_a_large_triangle() {
    const WIDE: u32 = 1920;
    let (column, row) = (700, 1300);
    let within = |at: u32, first: u32| (first..first + 3).contains(&at);
    let labels = GrayImage::from_fn(WIDE, WIDE, |x, y| {
        Luma([if within(x, column) && within(y, row) {
            2
        } else {
            1
        }])
    });
    let mut all = (*files()).clone();
    all.insert("regions/front.png".to_owned(), png(labels));
    let mut document = document();
    let image = &mut document["region_map"]["images"][0];
    image["width_px"] = json!(WIDE);
    image["height_px"] = json!(WIDE);
    let mut desk = open_text(&document.to_string(), &Rc::new(all));
    let spot = desk.spot(2).expect("the map is here");
    // The square is a metre wide around the origin, v = 0 at its upper edge; the middle of the region.
    let share = |texel: u32| (f64::from(texel) + 1.5) / f64::from(WIDE);
    let wanted = [share(column) - 0.5, 0.5 - share(row), 0.0];
    for (axis, wanted) in wanted.into_iter().enumerate() {
        let found = spot["middle_m"][axis].as_f64().expect("a place");
        assert!((found - wanted).abs() < 1.0 / f64::from(WIDE), "{spot}");
    }
    assert!(desk.spot(3).expect("the map is here").is_null());
}
