//! A dossier's pins and observations as a collection of annotations.

use ganosis_dossier::Dossier;
use ganosis_dossier::document::{Anchor, Evidence, FILE_NAME, OtherFields, Pin};
use serde_json::{Value, json};

use crate::names::{Kind, address_of, encoded, name_of, name_of_pin};
use crate::place::{PLACE_SYNTAX, place_of};
use crate::words::body_of;
use crate::{CONTEXT, FROM};

/// All pins and observations as one `AnnotationCollection` with its only page
/// within (sections 5.1 and 5.2 of the model).
#[must_use]
pub fn collection(document: &Dossier) -> Value {
    let name = name_of(&document.id, Kind::Collection, "");
    let pins = document.pins.iter().map(|pin| of_pin(document, pin));
    let evidence = document
        .evidence
        .iter()
        .map(|item| of_evidence(document, item));
    let items: Vec<Value> = pins.chain(evidence).collect();
    let language = document.language();
    let mut collection = json!({
        "@context": CONTEXT,
        "id": name,
        "type": "AnnotationCollection",
        "label": document.title.get(language),
        "total": items.len(),
        "first": {
            "id": name_of(&document.id, Kind::Page, "1"),
            "type": "AnnotationPage",
            "partOf": name,
            "startIndex": 0,
            "items": items,
        },
    });
    if let Some(licence) = rights(document) {
        collection["rights"] = licence.into();
    }
    collection
}

fn of_pin(document: &Dossier, pin: &Pin) -> Value {
    let mut bodies: Vec<Value> = [
        body_of(&pin.title, "tagging"),
        body_of(&pin.text, "commenting"),
    ]
    .into_iter()
    .flatten()
    .collect();
    let shown = [
        ("evidence", &pin.evidence),
        ("claim", &pin.claims),
        ("state", &pin.states),
    ];
    for (kind, ids) in shown {
        bodies.extend(ids.iter().map(|id| link(kind, id)));
    }
    let mut annotation = annotation(document, name_of_pin(document, pin), "commenting", bodies);
    annotation["target"] = target(document, pin.anchor.as_ref());
    let none = OtherFields::new();
    let from = pin
        .other
        .get(FROM)
        .and_then(Value::as_object)
        .unwrap_or(&none);
    for field in ["creator", "created"] {
        if let Some(value) = from.get(field) {
            annotation[field] = value.clone();
        }
    }
    annotation
}

fn of_evidence(document: &Dossier, item: &Evidence) -> Value {
    let mut bodies: Vec<Value> = [
        body_of(&item.title, "tagging"),
        body_of(&item.result, "describing"),
    ]
    .into_iter()
    .flatten()
    .collect();
    let technique = item.technique.as_str();
    if !technique.is_empty() {
        bodies.push(json!({"type": "TextualBody", "value": technique, "purpose": "classifying"}));
    }
    for attachment in &item.attachments {
        let mut body = json!({"id": address_of(&attachment.file)});
        // Section 3.2.2 has the classes.
        if attachment.media_type.starts_with("image/") {
            body["type"] = "Image".into();
        } else if attachment.media_type == "text/csv" {
            body["type"] = "Dataset".into();
        }
        if !attachment.media_type.is_empty() {
            body["format"] = attachment.media_type.as_str().into();
        }
        bodies.push(body);
    }
    let name = name_of(&document.id, Kind::Evidence, &item.id);
    let mut annotation = annotation(document, name, "describing", bodies);
    annotation["target"] = target(document, item.anchor.as_ref());
    if let Some(person) = item.operator.as_ref() {
        let known = document.people.iter().find(|known| known.id == *person);
        let name = known.map_or("", |known| known.name.get("en"));
        let name = if name.is_empty() { person } else { name };
        annotation["creator"] = json!({"type": "Person", "name": name, "nickname": person});
    }
    if let Some(created) = item.date.as_deref().and_then(instant) {
        annotation["created"] = created.into();
    }
    annotation
}

fn annotation(document: &Dossier, name: String, motivation: &str, bodies: Vec<Value>) -> Value {
    let mut annotation = json!({"id": name, "type": "Annotation", "motivation": motivation});
    if !bodies.is_empty() {
        annotation["body"] = bodies.into();
    }
    if let Some(licence) = rights(document) {
        annotation["rights"] = licence.into();
    }
    annotation
}

/// Section 3.3.7: an IRI; a licence that is named otherwise is left out.
fn rights(document: &Dossier) -> Option<&str> {
    let licence = document.rights.as_ref()?.licence.as_str();
    (licence.starts_with("https://") || licence.starts_with("http://")).then_some(licence)
}

fn link(kind: &str, id: &str) -> Value {
    let source = format!("{FILE_NAME}#{kind}:{}", encoded(id, b"-._~"));
    json!({"type": "SpecificResource", "source": source, "purpose": "linking"})
}

fn target(document: &Dossier, anchor: Option<&Anchor>) -> Value {
    let source = address_of(&document.surface.file);
    let mut target = json!({"type": "SpecificResource", "source": source});
    if let Some(anchor) = anchor {
        target["selector"] = json!({
            "type": "FragmentSelector",
            "conformsTo": PLACE_SYNTAX,
            "value": place_of(anchor),
        });
    }
    target
}

/// Section 3.3.1 knows instants only (xsd:dateTime in UTC): a day, month or
/// year is told by its first moment.
fn instant(date: &str) -> Option<String> {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if !date.split('-').all(digits) {
        return None;
    }
    match date.len() {
        4 => Some(format!("{date}-01-01T00:00:00Z")),
        7 => Some(format!("{date}-01T00:00:00Z")),
        10 => Some(format!("{date}T00:00:00Z")),
        _ => None,
    }
}
