use super::*;
use crate::document::{Certainty, Technique, Text};

fn read(json: &str) -> Reading {
    document_from_bytes(json.as_bytes()).unwrap()
}

#[test]
fn a_syntax_error_is_told_by_line_and_column() {
    // RFC 8259 section 5 has no trailing comma in arrays.
    let error =
        document_from_bytes(b"{\n  \"format\": \"ganosis-dossier/1\",\n  \"states\": [1,]\n}");
    let Err(ReadError::Syntax { line, column, .. }) = error else {
        panic!("{error:?}")
    };
    assert_eq!((line, column), (3, 16));
}

#[test]
fn other_json_and_other_versions_are_refused_by_name() {
    for (json, wanted) in [
        ("{}", "missing"),
        ("[]", "missing"),
        (r#"{"format": 7}"#, "is 7"),
        (r#"{"format": "ganosis-dossier/2"}"#, "ganosis-dossier/2"),
    ] {
        let message = document_from_bytes(json.as_bytes())
            .unwrap_err()
            .to_string();
        assert!(message.contains(wanted), "{json}: {message}");
    }
}

#[test]
fn a_byte_order_mark_is_passed_over() {
    assert!(document_from_bytes(b"\xef\xbb\xbf{\"format\": \"ganosis-dossier/1\"}").is_ok());
}

#[test]
fn unknown_words_are_kept_as_written() {
    let reading = read(
        r#"{"format": "ganosis-dossier/1",
            "claims": [{"id": "c", "certainty": "sure"}],
            "evidence": [{"id": "e", "technique": "xrf"}]}"#,
    );
    assert_eq!(reading.findings, []);
    let document = reading.document;
    assert_eq!(
        document.claims[0].certainty,
        Certainty::Other("sure".into())
    );
    assert_eq!(document.evidence[0].technique, Technique::Xrf);
    assert_eq!(document.to_value()["claims"][0]["certainty"], "sure");
}

#[test]
fn values_of_the_wrong_type_are_left_out_and_the_rest_is_read() {
    let reading = read(
        r#"{"format": "ganosis-dossier/1", "title": 5, "revision": -1,
            "states": [{"id": "a"}, 7, {"id": "b", "layers": ["x", 3, "z"]}],
            "pins": [{"id": "p", "anchor": {"sheet": "s", "normal": [0, "up", 1], "uv": [0.5]}}],
            "layers": [{"id": "l", "range": [0, null]}, {"id": "m", "images": [{"sheet": "s", "width_px": "wide"}]}],
            "rights": {"credit": ["x"]}}"#,
    );
    let paths: Vec<&str> = reading.findings.iter().map(|f| f.path.as_str()).collect();
    for wanted in [
        "$.title",
        "$.revision",
        "$.states[1]",
        "$.states[2].layers[1]",
        "$.pins[0].anchor.normal[1]",
        "$.pins[0].anchor.uv",
        "$.layers[0].range[1]",
        "$.layers[1].images[0].width_px",
        "$.rights.credit",
    ] {
        assert!(paths.contains(&wanted), "{wanted} missing from {paths:?}");
    }
    assert_eq!(paths.len(), 9, "{paths:?}");
    assert_eq!(reading.document.left_out.len(), 9);
    assert_eq!(reading.document.states[2].id, "b");
    assert_eq!(reading.document.states[2].layers, ["x", "", "z"]);
    assert_eq!(reading.document.pins[0].anchor.as_ref().unwrap().sheet, "s");
    assert_eq!(reading.document.title, Text::default());
}

#[test]
fn a_file_of_wrong_types_is_refused() {
    let rows = vec!["1"; 300].join(",");
    let json = format!(r#"{{"format": "ganosis-dossier/1", "states": [{rows}]}}"#);
    let error = document_from_bytes(json.as_bytes()).unwrap_err();
    assert_eq!(
        error,
        ReadError::TooMuchWrong {
            first: "$.states[0]".into()
        }
    );
}

#[test]
fn unknown_fields_survive_at_every_level() {
    let json = r#"{"format": "ganosis-dossier/1", "later": {"deep": [1, {"x": null}]},
        "layers": [{"id": "l", "images": [{"sheet": "s", "file": "f", "grain": 4}]}],
        "pins": [{"id": "p", "anchor": {"sheet": "s", "rock": true}}],
        "views": [{"id": "v", "view": {"mood": 1, "camera": {"roll_deg": 2.5}}}]}"#;
    let out = read(json).document.to_value();
    assert_eq!(out["later"]["deep"][1]["x"], Value::Null);
    assert!(
        out["later"]["deep"][1]
            .as_object()
            .unwrap()
            .contains_key("x")
    );
    assert_eq!(out["layers"][0]["images"][0]["grain"], 4);
    assert_eq!(out["pins"][0]["anchor"]["rock"], true);
    assert_eq!(out["views"][0]["view"]["mood"], 1);
    assert_eq!(out["views"][0]["view"]["camera"]["roll_deg"], 2.5);
}

#[test]
fn random_bytes_never_panic() {
    // A plain linear congruential generator (Knuth, MMIX constants, from memory).
    let mut seed = 1u64;
    let base = br#"{"format": "ganosis-dossier/1", "title": {"en": "x"}, "states": [{"id": "a"}]}"#;
    for _ in 0..2000 {
        let mut bytes = base.to_vec();
        for _ in 0..3 {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let at = (seed >> 33) as usize % bytes.len();
            bytes[at] = (seed >> 25) as u8;
        }
        let _ = document_from_bytes(&bytes);
    }
}
