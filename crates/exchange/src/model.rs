//! What the model requires: every MUST of the Recommendation (23 February
//! 2017) that concerns the classes we write or read, by its section.

use serde_json::Value;

use crate::CONTEXT;
use crate::items::{has_type, list};

/// Purposes and motivations of section 3.3.5.
const MOTIVATIONS: &[&str] = &[
    "assessing",
    "bookmarking",
    "classifying",
    "commenting",
    "describing",
    "editing",
    "highlighting",
    "identifying",
    "linking",
    "moderating",
    "questioning",
    "replying",
    "reviewing",
    "tagging",
];

/// What `value`, an annotation, page or collection, lacks of what the model
/// requires: one sentence each, with the place. `within`: it stands in a page
/// or collection, which has the context for it.
#[must_use]
pub fn problems(value: &Value, within: bool) -> Vec<String> {
    let mut found = Found(Vec::new());
    if !within && !list(value.get("@context")).any(|context| context == CONTEXT) {
        found.add("@context", "must have the context of the model (3.1)");
    }
    if has_type(value, "AnnotationCollection") {
        found.collection(value);
    } else if has_type(value, "AnnotationPage") {
        found.page("", value);
    } else {
        found.annotation("", value);
    }
    found.0
}

struct Found(Vec<String>);

impl Found {
    fn add(&mut self, place: &str, what: &str) {
        self.0.push(format!("{place}: {what}"));
    }

    /// One non-empty string.
    fn one(&mut self, at: &str, value: &Value, name: &str, section: &str) {
        if value[name].as_str().is_none_or(str::is_empty) {
            let what = format!("there must be exactly one, a text ({section})");
            self.add(&format!("{at}{name}"), &what);
        }
    }

    fn collection(&mut self, value: &Value) {
        self.one("", value, "id", "5.1");
        let first = &value["first"];
        if first.is_object() {
            self.page("first.", first);
        } else if !first.is_string() && value["total"].as_u64() != Some(0) {
            self.add(
                "first",
                "a collection that is not empty must have a first page (5.1)",
            );
        }
        let total = &value["total"];
        if !total.is_null() && !total.is_u64() {
            self.add("total", "must be a whole number, 0 or more (5.1)");
        }
    }

    fn page(&mut self, at: &str, value: &Value) {
        if !has_type(value, "AnnotationPage") {
            self.add(&format!("{at}type"), "must be AnnotationPage (5.2)");
        }
        self.one(at, value, "id", "5.2");
        let start = &value["startIndex"];
        if !start.is_null() && !start.is_u64() {
            self.add(
                &format!("{at}startIndex"),
                "must be a whole number, 0 or more (5.2)",
            );
        }
        let Some(items) = value["items"].as_array() else {
            self.add(
                &format!("{at}items"),
                "must be the list of annotations (5.2)",
            );
            return;
        };
        for (i, item) in items.iter().enumerate() {
            self.annotation(&format!("{at}items[{i}]."), item);
        }
    }

    fn annotation(&mut self, at: &str, value: &Value) {
        if !has_type(value, "Annotation") {
            self.add(&format!("{at}type"), "must be or hold Annotation (3.1)");
        }
        self.one(at, value, "id", "3.1");
        if list(value.get("target")).next().is_none() {
            self.add(&format!("{at}target"), "there must be at least one (3.1)");
        }
        for (i, target) in list(value.get("target")).enumerate() {
            self.resource(&format!("{at}target[{i}]."), target);
        }
        let text = &value["bodyValue"];
        let alone = text.is_string() && value["body"].is_null();
        if !text.is_null() && !alone {
            let what = "must be one text, and then there must be no body (3.2.5)";
            self.add(&format!("{at}bodyValue"), what);
        }
        for (i, body) in list(value.get("body")).enumerate() {
            self.resource(&format!("{at}body[{i}]."), body);
        }
        for (field, section) in [
            ("created", "3.3.1"),
            ("modified", "3.3.1"),
            ("generated", "3.3.1"),
        ] {
            let instant = &value[field];
            if !instant.is_null() && !instant.as_str().is_some_and(is_instant) {
                let what = format!("must be one instant such as 2025-03-14T09:30:00Z ({section})");
                self.add(&format!("{at}{field}"), &what);
            }
        }
        self.words(at, value, "motivation");
    }

    /// A body or target.
    fn resource(&mut self, at: &str, value: &Value) {
        if value.is_string() {
            return;
        }
        if !value.is_object() {
            self.add(at, "must be an address or an object (3.2)");
            return;
        }
        self.words(at, value, "purpose");
        if has_type(value, "TextualBody") || value["value"].is_string() {
            if !value["value"].is_string() {
                self.add(
                    &format!("{at}value"),
                    "a TextualBody must have exactly one (3.2.4)",
                );
            }
            if !value["id"].is_null() && !value["id"].is_string() {
                self.add(&format!("{at}id"), "must be one address (3.2.4)");
            }
        } else if has_type(value, "Choice") {
            match value["items"].as_array() {
                Some(items) => {
                    for (i, item) in items.iter().enumerate() {
                        self.resource(&format!("{at}items[{i}]."), item);
                    }
                }
                None => self.add(
                    &format!("{at}items"),
                    "a Choice must have a list of them (3.2.7)",
                ),
            }
        } else if has_type(value, "SpecificResource") || !value["source"].is_null() {
            let source = &value["source"];
            if !source.is_string() && !source["id"].is_string() {
                self.add(&format!("{at}source"), "there must be exactly one (4)");
            }
            for (i, selector) in list(value.get("selector")).enumerate() {
                self.selector(&format!("{at}selector[{i}]."), selector);
            }
        } else {
            self.one(at, value, "id", "3.2.1");
        }
    }

    fn selector(&mut self, at: &str, value: &Value) {
        if value.is_string() {
            return;
        }
        if list(value.get("type")).next().is_none() {
            self.add(&format!("{at}type"), "a selector must have one (4.2)");
        }
        if has_type(value, "FragmentSelector") {
            self.one(at, value, "value", "4.2.1");
            let syntax = &value["conformsTo"];
            if !syntax.is_null() && !syntax.is_string() {
                self.add(&format!("{at}conformsTo"), "must be one address (4.2.1)");
            }
        }
    }

    /// Words of the model, or addresses of words from elsewhere.
    fn words(&mut self, at: &str, value: &Value, field: &str) {
        let known = |word: &Value| {
            word.as_str()
                .is_some_and(|word| MOTIVATIONS.contains(&word) || word.contains(':'))
        };
        if !list(value.get(field)).all(known) {
            self.add(
                &format!("{at}{field}"),
                "must be a motivation of the model (3.3.5)",
            );
        }
    }
}

/// xsd:dateTime with a time zone (W3C XML Schema 1.1 part 2, section 3.3.7).
fn is_instant(text: &str) -> bool {
    let bytes = text.as_bytes();
    let digits = |range: std::ops::Range<usize>| {
        bytes
            .get(range)
            .is_some_and(|part| part.iter().all(u8::is_ascii_digit))
    };
    let marks = [(4, b'-'), (7, b'-'), (10, b'T'), (13, b':'), (16, b':')];
    let number = |range: std::ops::Range<usize>| text.get(range).and_then(|t| t.parse::<u8>().ok());
    let within =
        |range, low: u8, high: u8| number(range).is_some_and(|n| (low..=high).contains(&n));
    let zone = |zone: &str| {
        zone == "Z" || (zone.len() == 6 && zone.starts_with(['+', '-']) && &zone[3..4] == ":")
    };
    let rest = text.get(19..).unwrap_or("");
    let rest = rest.strip_prefix('.').map_or(rest, |fraction| {
        fraction.trim_start_matches(|c: char| c.is_ascii_digit())
    });
    text.is_ascii()
        && marks.iter().all(|(at, mark)| bytes.get(*at) == Some(mark))
        && [0..4, 5..7, 8..10, 11..13, 14..16, 17..19]
            .into_iter()
            .all(digits)
        && within(5..7, 1, 12)
        && within(8..10, 1, 31)
        && within(11..13, 0, 23)
        && within(14..16, 0, 59)
        && within(17..19, 0, 59)
        && zone(rest)
}
