//! Steps, undo and redo over a document with fields that nobody knows.

use ganosis_editing::journal::{Journal, Refused, Step};
use ganosis_editing::regions::{Changes, Over, RegionMap, RegionMaps, Selection};
use serde_json::{Value, json};

/// Fields in an order of their own, unknown ones among them, and a number with more digits than an f64.
const DOCUMENT: &str = r#"{
  "zz_house_number": 12345678901234567,
  "format": "ganosis-dossier/1", "id": "boss", "revision": 7,
  "title": {"en": "The boss", "de": "Der Schlussstein"},
  "surface": {"file": "surface.glb", "sheets": [{"id": "crown", "material": "crown"}], "x_scan": {"by": "T. R.", "passes": [1, 2.50]}},
  "people": [{"id": "ek", "name": "E. K.", "x_desk": null}],
  "states": [{"id": "found", "kind": "as-found", "title": "As found"}, {"id": "shown", "kind": "evidence-based", "title": "Shown"}],
  "regions": [{"number": 1, "id": "leaf", "title": "Leaf", "a_b/c~d": true}, {"id": "bill", "number": 2, "title": "Bill"}],
  "palette": [{"id": "azurite", "title": "Azurite", "lab_d50": [38, -3, -33], "readings": 3}],
  "evidence": [{"id": "xrf-1", "technique": "xrf", "title": "Spot", "date": "2025-03-14", "operator": "ek", "elements": ["Cu"], "region": "leaf"}],
  "claims": [{"id": "c-1", "regions": ["leaf"], "states": ["shown"], "pigment": "azurite", "certainty": "measured", "evidence": ["xrf-1"], "author": "ek", "x_note": [[]]}],
  "aa_last": {"q": [{"r": {}}]}
}"#;

fn journal() -> Journal {
    Journal::open(DOCUMENT.as_bytes()).expect("reads")
}

fn step(op: &str, path: &str, value: Value) -> Step {
    serde_json::from_value(json!({"op": op, "path": path, "value": value})).expect("a step")
}

/// Order of fields counts, so texts are compared.
fn text(journal: &Journal) -> String {
    journal.value().to_string()
}

/// xorshift64 (G. Marsaglia, "Xorshift RNGs", J. Stat. Softw. 8(14), 2003).
struct Random(u64);

impl Random {
    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % end.max(1) as u64) as usize
    }
}

fn escaped(key: &str) -> String {
    key.replace('~', "~0").replace('/', "~1")
}

/// Every place of a value as a pointer, with whether it lies in a list.
fn places(value: &Value, path: &str, in_list: bool, all: &mut Vec<(String, bool)>) {
    all.push((path.to_owned(), in_list));
    match value {
        Value::Object(fields) => fields.iter().for_each(|(key, value)| {
            places(value, &format!("{path}/{}", escaped(key)), false, all)
        }),
        Value::Array(list) => list
            .iter()
            .enumerate()
            .for_each(|(i, value)| places(value, &format!("{path}/{i}"), true, all)),
        _ => {}
    }
}

fn random_step(random: &mut Random, value: &Value) -> Step {
    let mut all = Vec::new();
    places(value, "", false, &mut all);
    let (path, in_list) = &all[random.below(all.len())];
    let new = match random.below(6) {
        0 => json!({"id": format!("n-{}", random.below(1000)), "title": "New"}),
        1 => json!(random.below(100)),
        2 => json!("text"),
        3 => json!([]),
        4 => json!({"en": "A", "de": "B"}),
        _ => Value::Null,
    };
    match random.below(4) {
        0 => step("remove", path, Value::Null),
        1 if *in_list => step("insert", path, new),
        1 => step("set", &format!("{path}/x_{}", random.below(5)), new),
        2 => step("insert", &format!("{path}/-"), new),
        _ => step("set", path, new),
    }
}

#[test]
fn undoing_all_gives_the_document_as_it_was_and_redoing_all_the_edited_one() {
    let mut taken = 0;
    let mut refused = 0;
    for seed in 1..=40_u64 {
        let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        let (mut journal, mut maps) = (journal(), RegionMaps::default());
        let opened = text(&journal);
        let mut stood = vec![opened.clone()];
        for round in 0..60 {
            let before = text(&journal);
            let steps: Vec<Step> = (0..=random.below(3))
                .map(|_| random_step(&mut random, journal.value()))
                .collect();
            match journal.apply(&steps, &format!("step {round}")) {
                Ok(()) => {
                    taken += 1;
                    stood.push(text(&journal));
                }
                Err(_) => {
                    refused += 1;
                    assert_eq!(text(&journal), before, "a refused step has changed nothing");
                }
            }
        }
        let edited = (text(&journal), journal.document().clone());
        for wanted in stood.iter().rev().skip(1) {
            assert!(journal.undo(&mut maps).is_some());
            assert_eq!(&text(&journal), wanted);
        }
        assert!(journal.undo(&mut maps).is_none());
        assert_eq!((text(&journal), journal.mark()), (opened, 0));
        while journal.redo(&mut maps).is_some() {}
        assert_eq!((text(&journal), journal.document().clone()), edited);
    }
    assert!(
        taken > 200 && refused > 200,
        "{taken} taken, {refused} refused"
    );
}

#[test]
fn a_list_that_is_not_there_is_made_and_taken_away_again() {
    let mut journal = journal();
    let opened = text(&journal);
    let anchor =
        json!({"sheet": "crown", "uv": [0.5, 0.5], "position_m": [0, 0, 0], "normal": [0, 0, 1]});
    let pin = json!({"id": "p-1", "title": "Here", "anchor": anchor});
    journal
        .apply(&[step("insert", "/pins/-", pin.clone())], "pin")
        .expect("taken");
    assert_eq!(journal.value()["pins"], json!([pin]));
    assert_eq!(
        (journal.undo_label(), journal.document().pins.len()),
        (Some("pin"), 1)
    );
    journal.undo(&mut RegionMaps::default());
    assert_eq!(text(&journal), opened);
    assert_eq!(
        (journal.undo_label(), journal.redo_label()),
        (None, Some("pin"))
    );
}

#[test]
fn a_step_that_brings_an_error_is_refused_with_the_finding() {
    let mut journal = journal();
    let opened = text(&journal);
    let unknown = journal.apply(
        &[
            step("set", "/claims/0/argument", json!("Copper.")),
            step("insert", "/claims/0/evidence/-", json!("xrf-9")),
        ],
        "claim",
    );
    let Err(Refused::Errors { findings }) = unknown else {
        panic!("an unknown id is an error: {unknown:?}")
    };
    assert!(findings[0].message.contains("xrf-9"), "{findings:?}");
    let wrong_type = journal.apply(&[step("set", "/regions/0/number", json!("one"))], "region");
    assert_eq!(
        wrong_type.expect_err("refused").findings()[0].rule,
        "wrong-type"
    );
    let format = journal.apply(&[step("remove", "/format", Value::Null)], "format");
    assert!(matches!(format, Err(Refused::Unreadable(_))));
    for (path, op) in [
        ("/claims/7/argument", "set"),
        ("claims", "set"),
        ("/claims/01", "remove"),
        ("/id/x", "set"),
        ("/regions/-", "remove"),
        ("", "remove"),
    ] {
        let place = journal.apply(&[step(op, path, Value::Null)], "place");
        assert!(
            matches!(place, Err(Refused::Place { .. })),
            "{op} {path}: {place:?}"
        );
    }
    assert_eq!((text(&journal), journal.len()), (opened, 0));
}

#[test]
fn what_is_left_out_when_reading_cannot_be_edited_around() {
    let wrong = DOCUMENT.replace("\"number\": 2", "\"number\": \"two\"");
    let mut journal = Journal::open(wrong.as_bytes()).expect("opens");
    let refused = journal.apply(&[step("set", "/title", json!("T"))], "title");
    assert!(matches!(refused, Err(Refused::Incomplete { .. })));
}

/// A step that changes both goes back and forth as one; a stroke that goes on is one step.
#[test]
fn drawing_is_taken_back_texel_by_texel() {
    let size = 40_usize;
    let mut maps = RegionMaps {
        maps: vec![RegionMap {
            sheet: "crown".to_owned(),
            width_px: size as u32,
            height_px: size as u32,
            labels: (0..size * size).map(|i| (i / 7 % 3) as u16).collect(),
        }],
    };
    let opened = maps.clone();
    let mut journal = journal();
    let mut random = Random(99);
    let mut paint = |maps: &mut RegionMaps| -> Changes {
        let (x, y) = (random.below(size - 9), random.below(size - 9));
        let texels = (0..64)
            .filter(|i| i % 5 != 0)
            .map(|i| ((y + i / 8) * size + x + i % 8) as u32);
        let number = random.below(4) as u16;
        maps.paint(&Selection::new(texels.collect()), number, &Over::All)
    };
    let mut stood = vec![maps.clone()];
    for n in 0..30 {
        let changes = something(&mut maps, &mut paint);
        journal.draw(changes, "stroke", false);
        let first_mark = journal.mark();
        let more = something(&mut maps, &mut paint);
        journal.draw(more, "stroke", true);
        assert!(journal.mark() > first_mark, "what goes on is not what was");
        assert_eq!(journal.len(), n + 1);
        stood.push(maps.clone());
    }
    for wanted in stood.iter().rev().skip(1) {
        let moved = journal.undo(&mut maps).expect("there is one");
        assert_eq!(
            (&maps, moved.document, moved.rects.len()),
            (wanted, false, 1)
        );
    }
    assert_eq!(maps, opened);
    while journal.redo(&mut maps).is_some() {}
    assert_eq!(Some(&maps), stood.last());
    // Another step of drawing after an undo is no continuation of what stands.
    journal.undo(&mut maps);
    let changes = something(&mut maps, &mut paint);
    journal.draw(changes, "stroke", true);
    assert_eq!((journal.len(), journal.redo_label()), (30, None));
}

/// Paints until something has changed: a brush over its own colour changes nothing, and is no step.
fn something(maps: &mut RegionMaps, paint: &mut dyn FnMut(&mut RegionMaps) -> Changes) -> Changes {
    loop {
        let changes = paint(maps);
        if !changes.is_empty() {
            return changes;
        }
    }
}
