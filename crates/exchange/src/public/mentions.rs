//! What is public and still names something that is not.

use std::collections::BTreeSet;

use serde_json::Value;

/// A place that names something withheld.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mention {
    /// The file, relative to the dossier.
    pub file: String,
    /// Place in the document as a JSONPath; empty in another file.
    pub path: String,
    /// What is named: an id, a name or a file.
    pub word: String,
}

/// Words shorter than this are looked for in the document only: in the bytes
/// of a picture they turn up by chance. Four given bytes do so once in 4 GiB.
const SHORTEST_IN_FILES: usize = 4;

/// Fields whose strings are words of the format or ids of other things, whose references are taken out
/// by themselves; `[]` stands for any entry.
const NOT_TEXT: &[&str] = &[
    "format",
    "id",
    "languages[]",
    "rights.licence",
    "people[].id",
    "surface.sheets[].id",
    "surface.sheets[].material",
    "surface.parts[].id",
    "surface.parts[].node",
    "layers[].id",
    "layers[].kind",
    "layers[].band",
    "layers[].colour_space",
    "layers[].unit",
    "layers[].images[].sheet",
    "states[].id",
    "states[].kind",
    "states[].layers[]",
    "states[].parts[]",
    "states[].proposed_by[]",
    "states[].based_on[]",
    "region_map.images[].sheet",
    "regions[].id",
    "palette[].id",
    "palette[].elements[]",
    "evidence[].id",
    "evidence[].technique",
    "evidence[].region",
    "evidence[].operator",
    "evidence[].date",
    "evidence[].elements[]",
    "evidence[].identified[]",
    "evidence[].response",
    "evidence[].anchor.sheet",
    "evidence[].attachments[].media_type",
    "claims[].id",
    "claims[].regions[]",
    "claims[].parts[]",
    "claims[].states[]",
    "claims[].pigment",
    "claims[].mixture[].pigment",
    "claims[].over",
    "claims[].finish",
    "claims[].certainty",
    "claims[].evidence[]",
    "claims[].author",
    "claims[].date",
    "claims[].reviews[].verdict",
    "claims[].reviews[].by",
    "claims[].reviews[].date",
    "claims[].reviews[].answer.by",
    "set_aside[].rule",
    "set_aside[].by",
    "pins[].id",
    "pins[].anchor.sheet",
    "pins[].evidence[]",
    "pins[].claims[]",
    "pins[].states[]",
    "views[].id",
    "views[].view.left",
    "views[].view.right",
    "views[].view.compare",
    "views[].view.light.mode",
    "views[].view.pin",
    "views[].view.region",
    "views[].view.language",
];

/// Places in a document that name one of `words`.
pub(super) fn in_document(document: &Value, file: &str, words: &BTreeSet<String>) -> Vec<Mention> {
    let mut found = Vec::new();
    if !words.is_empty() {
        look(document, "$", "", &mut |path, text| {
            for word in words.iter().filter(|word| names(text, word)) {
                found.push(Mention {
                    file: file.to_owned(),
                    path: path.to_owned(),
                    word: word.clone(),
                });
            }
        });
    }
    found
}

/// Words that the bytes of a file hold.
pub(super) fn in_bytes(bytes: &[u8], file: &str, words: &BTreeSet<String>) -> Vec<Mention> {
    let long = words.iter().filter(|word| word.len() >= SHORTEST_IN_FILES);
    long.filter(|word| holds(bytes, word.as_bytes()))
        .map(|word| Mention {
            file: file.to_owned(),
            path: String::new(),
            word: word.clone(),
        })
        .collect()
}

fn look(value: &Value, path: &str, kind: &str, visit: &mut dyn FnMut(&str, &str)) {
    if NOT_TEXT.contains(&kind) && !value.is_object() {
        return;
    }
    match value {
        Value::String(text) => visit(path, text),
        Value::Array(list) => {
            for (i, value) in list.iter().enumerate() {
                look(value, &format!("{path}[{i}]"), &format!("{kind}[]"), visit);
            }
        }
        Value::Object(fields) => {
            for (name, value) in fields {
                let at = ganosis_dossier::finding::member_path(path, name);
                visit(&at, name);
                let kind = if kind.is_empty() {
                    name.clone()
                } else {
                    format!("{kind}.{name}")
                };
                look(value, &at, &kind, visit);
            }
        }
        _ => {}
    }
}

/// True if `text` has `word` as a word of its own.
fn names(text: &str, word: &str) -> bool {
    text.match_indices(word).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + word.len()..].chars().next();
        let joins =
            |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '-' || c == '_');
        !joins(before) && !joins(after)
    })
}

/// The same in bytes, where a letter is one of ASCII.
fn holds(bytes: &[u8], word: &[u8]) -> bool {
    let Some((&first, _)) = word.split_first() else {
        return false;
    };
    let joins = |byte: Option<&u8>| {
        byte.is_some_and(|b| b.is_ascii_alphanumeric() || *b == b'-' || *b == b'_')
    };
    let mut from = 0;
    while let Some(step) = bytes[from..].iter().position(|byte| *byte == first) {
        let at = from + step;
        if bytes[at..].starts_with(word) {
            let before = at.checked_sub(1).and_then(|i| bytes.get(i));
            if !joins(before) && !joins(bytes.get(at + word.len())) {
                return true;
            }
        }
        from = at + 1;
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_is_found_by_itself_and_not_within_another() {
        for text in ["see xrf-07.", "xrf-07", "(xrf-07)", "a/xrf-07/b"] {
            assert!(
                names(text, "xrf-07") && holds(text.as_bytes(), b"xrf-07"),
                "{text}"
            );
        }
        for text in ["xrf-071", "mxrf-07", "xrf-07-b", "xrf"] {
            assert!(
                !names(text, "xrf-07") && !holds(text.as_bytes(), b"xrf-07"),
                "{text}"
            );
        }
        assert!(names("von E. K. gemessen", "E. K."));
    }

    #[test]
    fn words_of_the_format_and_ids_of_other_things_are_no_mention() {
        let words = BTreeSet::from(["uvl".to_owned()]);
        let document = serde_json::json!({"evidence": [{"id": "uvl", "technique": "uvl", "later": {"technique": "uvl"}}],
            "views": [{"title": "in uvl", "view": {"uvl": 1}}]});
        let found = in_document(&document, "dossier.json", &words);
        let paths: Vec<&str> = found.iter().map(|m| m.path.as_str()).collect();
        assert_eq!(
            paths,
            [
                "$.evidence[0].later.technique",
                "$.views[0].title",
                "$.views[0].view.uvl"
            ]
        );
    }
}
