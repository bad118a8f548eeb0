//! Pages say everything of the audit in each of their languages.

#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use std::collections::BTreeSet;
use std::path::Path;

use ganosis_audit::tables::tables;
use ganosis_audit::told::sentences;
use serde_json::{Map, Value};

/// Languages of the page: a file each.
fn languages() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../web/messages");
    let files = std::fs::read_dir(folder).unwrap();
    let names = files.map(|file| file.unwrap().path());
    let languages: Vec<String> = names
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    assert!(languages.len() >= 4, "{languages:?}");
    languages
}

fn messages(language: &str) -> Map<String, Value> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../web/messages");
    let text = std::fs::read_to_string(folder.join(format!("{language}.json"))).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// The forms of a message: one, or one per plural category.
fn forms(message: &Value) -> Vec<&str> {
    match message {
        Value::Object(forms) => forms.values().filter_map(Value::as_str).collect(),
        one => one.as_str().into_iter().collect(),
    }
}

/// Names in braces.
fn places(text: &str) -> BTreeSet<&str> {
    let opened = text.split('{').skip(1);
    opened
        .filter_map(|rest| Some(rest.split_once('}')?.0))
        .collect()
}

#[test]
fn every_sentence_is_there_in_every_language_with_all_its_values() {
    assert!(sentences::ALL.len() > 60);
    let mut wrong = Vec::new();
    for language in languages() {
        let messages = messages(&language);
        for sentence in sentences::ALL {
            let key = format!("finding.{}", sentence.key);
            let forms = messages.get(&key).map(forms).unwrap_or_default();
            if forms.is_empty() {
                wrong.push(format!("{language}: no {key}"));
            }
            let wanted = places(sentence.english);
            for form in forms.iter().filter(|form| places(form) != wanted) {
                wrong.push(format!("{language}: {key} lacks one of {wanted:?}: {form}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_rule_has_a_name_and_what_settles_it_in_every_language() {
    for language in languages() {
        let messages = messages(&language);
        for rule in &tables().rules {
            for kind in ["rule", "settles"] {
                let key = format!("{kind}.{}", rule.id);
                let said = messages.get(&key).and_then(Value::as_str);
                assert!(
                    said.is_some_and(|said| !said.is_empty()),
                    "{language}: {key}"
                );
            }
        }
    }
}

#[test]
fn english_pages_say_what_the_audit_says() {
    let messages = messages("en");
    for sentence in sentences::ALL {
        let message = &messages[&format!("finding.{}", sentence.key)];
        match sentence.one {
            Some(one) => {
                assert_eq!(message["one"], one);
                assert_eq!(message["other"], sentence.english);
            }
            None => assert_eq!(message, sentence.english),
        }
    }
    for rule in &tables().rules {
        assert_eq!(
            messages[&format!("settles.{}", rule.id)],
            rule.settles.as_str()
        );
    }
}

#[test]
fn pages_have_no_sentence_that_the_audit_does_not_say() {
    // Those by which the page itself joins what is said.
    let of_the_page = ["named", "id", "apart"];
    let said: BTreeSet<&str> = sentences::ALL.iter().map(|s| s.key).collect();
    assert_eq!(said.len(), sentences::ALL.len(), "two sentences of one key");
    for key in messages("en").keys() {
        if let Some(key) = key.strip_prefix("finding.") {
            assert!(said.contains(key) || of_the_page.contains(&key), "{key}");
        }
    }
}
