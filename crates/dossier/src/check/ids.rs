//! Ids: given, unique, and fit for addresses.

use std::collections::HashMap;

use super::Findings;
use crate::document::Dossier;

pub(super) fn check(document: &Dossier, found: &mut Findings) {
    macro_rules! ids {
        ($($list:expr => $path:literal),+) => {
            $(unique(&mut HashMap::new(), $path, $list.iter().map(|item| item.id.as_str()), found);)+
        };
    }
    one("$.id", &document.id, found);
    ids!(document.people => "$.people", document.surface.sheets => "$.surface.sheets",
        document.surface.parts => "$.surface.parts", document.regions => "$.regions",
        document.palette => "$.palette", document.evidence => "$.evidence",
        document.claims => "$.claims", document.pins => "$.pins", document.views => "$.views");
    // A view names a state or a layer by id alone, so they share their ids.
    let mut seen = HashMap::new();
    unique(
        &mut seen,
        "$.layers",
        document.layers.iter().map(|l| l.id.as_str()),
        found,
    );
    unique(
        &mut seen,
        "$.states",
        document.states.iter().map(|s| s.id.as_str()),
        found,
    );
}

fn unique<'a>(
    seen: &mut HashMap<&'a str, String>,
    list: &str,
    ids: impl Iterator<Item = &'a str>,
    found: &mut Findings,
) {
    for (index, id) in ids.enumerate() {
        let path = format!("{list}[{index}].id");
        one(&path, id, found);
        if id.is_empty() {
            continue;
        }
        if let Some(first) = seen.get(id) {
            let message = format!("the id \"{id}\" is used twice, first at {first}");
            found.error(
                "duplicate-id",
                path,
                message,
                "Give one of them another id, and correct what refers to it.",
            );
        } else {
            seen.insert(id, path);
        }
    }
}

fn one(path: &str, id: &str, found: &mut Findings) {
    if id.is_empty() {
        found.error(
            "missing-id",
            path,
            "there is no id".to_owned(),
            "Give it a short id that will never change.",
        );
    } else if id.chars().any(|c| c.is_whitespace() || c.is_control()) {
        let message = format!(
            "the id \"{}\" contains a space or control character",
            id.escape_debug()
        );
        found.error(
            "illegal-id",
            path,
            message,
            "Use letters, digits and hyphens.",
        );
    }
}
