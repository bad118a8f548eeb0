//! Out and in again: nothing changes; from elsewhere: pins, the same each time.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use ganosis_dossier::{Dossier, document_from_bytes};
use ganosis_exchange::{PLACE_SYNTAX, ReadError, collection, merge, problems};
use serde_json::{Value, json};

fn dossier() -> Dossier {
    let json = json!({"format": "ganosis-dossier/1", "id": "sallowmere-boss", "revision": 3,
        "title": {"en": "The Sallowmere boss"}, "languages": ["en", "cy"],
        "rights": {"licence": "https://creativecommons.org/publicdomain/zero/1.0/"},
        "people": [{"id": "ek", "name": "E. K."}],
        "surface": {"file": "mesh/the boss.glb", "sheets": [{"id": "crown", "material": "crown"}]},
        "states": [{"id": "found", "kind": "as-found"}],
        "evidence": [
            {"id": "xrf-03", "technique": "xrf", "title": {"en": "Bill, spot 3"}, "result": {"en": "Hg, Pb", "cy": "Hg, Pb"},
             "date": "2025-03-14", "operator": "ek", "anchor": {"sheet": "crown", "uv": [0.4, 0.6]},
             "attachments": [{"file": "evidence/xrf 03.csv", "media_type": "text/csv"}, {"file": "a.png", "media_type": "image/png"}]},
            {"id": "doc-01", "technique": "document", "result": "Bill of 1792", "date": "1792"}],
        "claims": [{"id": "c-07", "states": ["found"], "certainty": "measured"}],
        "pins": [
            {"id": "p-bill", "title": {"en": "The lost bill", "cy": "Y pig"}, "text": {"en": "As dirty\n\nas the cheek.", "cy": "…"},
             "anchor": {"sheet": "crown", "uv": [0.1, 0.2], "position_m": [0.01, -0.2, 0.123_456_789], "normal": [0, 0, 1]},
             "evidence": ["xrf-03", "doc-01"], "claims": ["c-07"], "states": ["found"], "later": 1},
            {"id": "p 2/é", "text": "<script>alert(1)</script> \u{202e} & \"q\"", "anchor": {"sheet": "crown", "uv": [0, 1]}}]});
    document_from_bytes(json.to_string().as_bytes())
        .unwrap()
        .document
}

fn bytes(value: &Value) -> Vec<u8> {
    serde_json::to_vec(value).unwrap()
}

#[test]
fn what_goes_out_keeps_to_the_model_and_comes_back_unchanged() {
    let document = dossier();
    let out = collection(&document);
    assert_eq!(problems(&out, false), Vec::<String>::new());
    assert_eq!(out["total"], 4);
    let merged = merge(&document, &bytes(&out)).unwrap();
    assert_eq!(
        (merged.added.len(), merged.changed.len(), merged.unchanged),
        (0, 0, 4)
    );
    assert_eq!((&merged.left_out, &merged.notes), (&vec![], &vec![]));
    assert_eq!(merged.document, document);
    // The same bytes each time.
    assert_eq!(bytes(&out), bytes(&collection(&merged.document)));
}

/// A dossier that has lost its pins gets them all back, with the names that
/// the annotations had; what a pin shows is there again.
#[test]
fn pins_that_are_gone_come_back_from_their_annotations() {
    let document = dossier();
    let out = collection(&document);
    let mut empty = document.clone();
    empty.pins.clear();
    let merged = merge(&empty, &bytes(&out)).unwrap();
    assert_eq!((merged.added.len(), merged.unchanged), (2, 2));
    for (pin, before) in merged.document.pins.iter().zip(&document.pins) {
        assert_eq!(
            (&pin.title, &pin.text, &pin.anchor),
            (&before.title, &before.text, &before.anchor)
        );
        assert_eq!(
            (&pin.evidence, &pin.claims, &pin.states),
            (&before.evidence, &before.claims, &before.states)
        );
    }
    assert_eq!(
        merged.document.pins[0].text.get("en"),
        "As dirty\n\nas the cheek."
    );
    // And out again: the same annotations.
    assert_eq!(
        collection(&merged.document)["first"]["items"][0]["id"],
        out["first"]["items"][0]["id"]
    );
}

fn foreign(id: &str) -> Value {
    json!({"@context": "http://www.w3.org/ns/anno.jsonld", "id": id, "type": "Annotation",
        "created": "2025-06-01T10:00:00Z", "creator": {"type": "Person", "name": "T. V."},
        "body": [{"type": "TextualBody", "value": "A seam, not a crack.", "language": "en"},
                 {"type": "TextualBody", "value": "seam", "purpose": "tagging", "language": "en"},
                 {"type": "SpecificResource", "purpose": "linking", "source": "http://h/x/dossier.json#claim:c-07"},
                 {"type": "SpecificResource", "purpose": "linking", "source": "dossier.json#claim:c-99"}],
        "target": {"type": "SpecificResource", "source": "http://h/x/mesh/the%20boss.glb",
            "selector": {"type": "FragmentSelector", "conformsTo": PLACE_SYNTAX, "value": "sheet=crown&uv=0.25,0.75"}}})
}

#[test]
fn an_annotation_from_elsewhere_becomes_one_pin_however_often_it_is_read() {
    let document = dossier();
    let note = foreign("http://example.org/notes/1");
    let first = merge(&document, &bytes(&note)).unwrap();
    assert_eq!((first.added.len(), first.left_out.len()), (1, 1));
    assert!(first.left_out[0].reason.contains("claim c-99"));
    let pin = first.document.pins.last().unwrap();
    assert_eq!(
        (pin.title.get("en"), pin.text.get("en")),
        ("seam", "A seam, not a crack.")
    );
    assert_eq!(pin.claims, ["c-07"]);
    // Again: nothing new. Changed there: changed here, and its links stay.
    let again = merge(&first.document, &bytes(&note)).unwrap();
    assert_eq!(
        (again.added.len(), again.changed.len(), again.unchanged),
        (0, 0, 1)
    );
    assert_eq!(again.document, first.document);
    let mut edited = note.clone();
    edited["body"] =
        json!([{"type": "TextualBody", "value": "A crack after all.", "language": "en"}]);
    let changed = merge(&first.document, &bytes(&edited)).unwrap();
    assert_eq!(changed.changed[0].what, ["title", "text"]);
    assert_eq!(changed.document.pins.last().unwrap().claims, ["c-07"]);
    // Out: under its own name, with who made it and when.
    let out = collection(&first.document);
    let ours = &out["first"]["items"][2];
    for field in ["id", "creator", "created"] {
        assert_eq!(ours[field], note[field]);
    }
    assert_eq!(problems(&out, false), Vec::<String>::new());
}

#[test]
fn observations_are_not_changed_from_annotations() {
    let document = dossier();
    let mut out = collection(&document);
    let item = &mut out["first"]["items"][2];
    item["body"][1] = json!({"type": "TextualBody", "value": "Au", "purpose": "describing"});
    let merged = merge(&document, &bytes(&out)).unwrap();
    assert_eq!(merged.document, document);
    assert!(merged.left_out[0].reason.contains("xrf-03"));
}

#[test]
fn what_cannot_be_placed_is_left_out_and_told() {
    let document = dossier();
    let with = |change: &dyn Fn(&mut Value)| {
        let mut note = foreign("http://example.org/1");
        change(&mut note);
        note
    };
    for (words, note) in [
        (
            "not mesh/the boss.glb",
            with(&|n| n["target"]["source"] = "other.glb".into()),
        ),
        (
            "not mesh/the boss.glb",
            with(&|n| n["target"] = "http://example.org/page".into()),
        ),
        (
            "no place",
            with(&|n| n["target"]["selector"]["value"] = "t=1,2".into()),
        ),
        (
            "no place",
            with(&|n| {
                n["target"]["selector"]["conformsTo"] = "http://www.w3.org/TR/media-frags/".into()
            }),
        ),
        (
            "no place",
            with(&|n| n["target"] = "mesh/the%20boss.glb".into()),
        ),
        (
            "no sheet \"base\"",
            with(&|n| n["target"]["selector"]["value"] = "sheet=base&uv=0,0".into()),
        ),
        ("no id", with(&|n| n["id"] = Value::Null)),
    ] {
        let merged = merge(&document, &bytes(&note)).unwrap();
        assert_eq!(merged.document, document, "{words}");
        let reasons: Vec<_> = merged
            .left_out
            .iter()
            .map(|out| out.reason.as_str())
            .collect();
        assert!(reasons[0].contains(words), "{words}: {reasons:?}");
    }
    // A place in the address itself will do.
    let short = with(&|n| n["target"] = "mesh/the%20boss.glb#sheet=crown&uv=0,0".into());
    assert_eq!(merge(&document, &bytes(&short)).unwrap().added.len(), 1);
    let twice = json!([
        foreign("http://example.org/1"),
        foreign("http://example.org/1")
    ]);
    let merged = merge(&document, &bytes(&twice)).unwrap();
    assert_eq!(merged.added.len(), 1);
    assert!(
        merged
            .left_out
            .iter()
            .any(|out| out.reason.contains("twice"))
    );
}

#[test]
fn files_without_annotations_are_refused_with_words() {
    let document = dossier();
    for text in [
        "",
        "{",
        "3",
        "[1]",
        "{}",
        r#"{"type": "Person"}"#,
        r#"{"@context": "http://www.w3.org/ns/anno.jsonld", "type": "AnnotationCollection", "first": "http://example.org/p1"}"#,
    ] {
        let error = merge(&document, text.as_bytes()).unwrap_err();
        assert!(error.to_string().len() > 40, "{text}: {error}");
        if text == "{" {
            assert!(matches!(error, ReadError::Syntax { line: 1, .. }));
        }
    }
    let nested = "[".repeat(100_000);
    assert!(merge(&document, nested.as_bytes()).is_err());
    let empty = r#"{"@context": "http://www.w3.org/ns/anno.jsonld", "id": "c", "type": "AnnotationCollection", "total": 0}"#;
    assert_eq!(
        merge(&document, empty.as_bytes()).unwrap().document,
        document
    );
}
