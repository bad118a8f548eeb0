//! The JSON Schema of `dossier.json`, made from the types.

use serde_json::Value;

use crate::document::clearance::CLEARED_TYPES;
use crate::document::{CLEARANCE_FIELD, Dossier, FORMAT, NARRATION_FIELD};

/// The schema in JSON Schema 2020-12.
#[must_use]
pub fn schema() -> Value {
    let mut schema = schemars::schema_for!(Dossier).to_value();
    without_defaults(&mut schema);
    schema["$id"] = "ganosis-dossier-1.schema.json".into();
    schema["properties"]["format"]["const"] = FORMAT.into();
    let clearance = serde_json::json!({
        "description": "False: left out of every copy made for the public. Absent means true.",
        "type": "boolean"
    });
    for name in CLEARED_TYPES {
        schema["$defs"][*name]["properties"][CLEARANCE_FIELD] = clearance.clone();
    }
    schema["properties"][CLEARANCE_FIELD] = clearance;
    schema["$defs"]["SavedView"]["properties"][NARRATION_FIELD] = serde_json::json!({
        "description": "What is said at this stop of the tour, by BCP 47 tag: sound, and captions in WebVTT, as files beside the document.",
        "type": "object",
        "additionalProperties": {
            "type": "object",
            "properties": { "audio": { "type": "string" }, "captions": { "type": "string" } }
        }
    });
    schema
}

/// Defaults are how absent fields read in Rust; they say nothing of the format.
fn without_defaults(schema: &mut Value) {
    match schema {
        Value::Object(fields) => {
            fields.shift_remove("default");
            fields.values_mut().for_each(without_defaults);
        }
        Value::Array(list) => list.iter_mut().for_each(without_defaults),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KEPT: &str = "schema/ganosis-dossier-1.schema.json";

    /// Accept a wanted change with `GANOSIS_ACCEPT=1 cargo test -p ganosis-dossier --all-features`.
    #[test]
    fn the_schema_that_is_kept_is_the_schema_of_the_types() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(KEPT);
        let wanted = format!("{}\n", serde_json::to_string_pretty(&schema()).unwrap());
        if std::env::var_os("GANOSIS_ACCEPT").is_some() {
            std::fs::write(&path, &wanted).unwrap();
        }
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(
            kept == wanted,
            "{KEPT} is out of date; run this test with GANOSIS_ACCEPT=1"
        );
    }

    #[test]
    fn an_outside_validator_takes_a_good_document_and_refuses_bad_ones() {
        let validator = jsonschema::validator_for(&schema()).unwrap();
        let good = serde_json::json!({"format": FORMAT, "id": "boss", "revision": 1, "title": {"en": "Boss"},
            "surface": {"file": "s.glb"}, "later": 1,
            "views": [{"id": "v", "view": {}, "narration": {"en": {"audio": "v.ogg", "captions": "v.vtt"}}}],
            "claims": [{"id": "c", "states": ["a"], "certainty": "measured", "public": false}]});
        assert!(
            validator.is_valid(&good),
            "{:?}",
            validator.iter_errors(&good).next()
        );
        for (pointer, value) in [
            ("/claims/0/certainty", "sure".into()),
            ("/title", 5.into()),
            ("/format", "other".into()),
            ("/revision", Value::from(-1)),
            ("/claims/0/public", "no".into()),
            ("/views/0/narration/en/audio", 5.into()),
            ("/views/0/narration/en", "v.ogg".into()),
        ] {
            let mut bad = good.clone();
            *bad.pointer_mut(pointer).unwrap() = value;
            assert!(!validator.is_valid(&bad), "{pointer}");
        }
    }
}
