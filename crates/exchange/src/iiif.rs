//! A dossier as a manifest of the IIIF Presentation API 4.0, as far as its
//! published draft goes for things with three dimensions.
//!
//! The draft (preview of 2025) has a `Scene` as container, a `Model` painted
//! into it, and comments that target points of it by a `PointSelector`. It has
//! no states, claims, certainties or palettes: a state is a choice of models
//! here, and the dossier itself hangs on the manifest by `seeAlso`. The draft
//! may change before it is final; the manifest says which it follows.

use std::collections::BTreeMap;

use ganosis_dossier::document::{Anchor, Pin};
use ganosis_dossier::{Dossier, Text};
use serde_json::{Map, Value, json};

use crate::error::ImportError;
use crate::names::{address_of, encoded};
use crate::site::licence_address;
use crate::solid::Solid;

/// The context of the draft.
const CONTEXT: &str = "http://iiif.io/api/presentation/4/context.json";

/// What is said of the draft, in the manifest itself.
const DRAFT: &str =
    "This manifest follows a draft of the IIIF Presentation API 4.0, which may still change.";

/// The manifest. `address` is that of the published site and ends with `/`;
/// `model` is the address of a binary glTF from there.
#[must_use]
pub fn manifest(document: &Dossier, solid: &Solid, address: &str, model: &str) -> Value {
    let id = format!("{address}manifest.json");
    let scene = format!("{address}scene");
    let model_body = json!({
        "id": format!("{address}{}", address_of(model)),
        "type": "Model",
        "format": "model/gltf-binary",
        "label": label(&document.title),
    });
    let painting = json!({
        "id": format!("{scene}/painting/1/model"),
        "type": "Annotation",
        "motivation": ["painting"],
        "body": model_body,
        "target": {"id": scene, "type": "Scene"},
    });
    let mut comments: Vec<Value> = Vec::new();
    for pin in &document.pins {
        let Some(place) = solid.places.get(&("pin", pin.id.clone())) else {
            continue;
        };
        comments.push(json!({
            "id": format!("{scene}/pins/{}", encoded(&pin.id, b"-._~")),
            "type": "Annotation",
            "motivation": ["commenting"],
            "label": label(&pin.title),
            "body": bodies(&pin.text),
            "target": {
                "type": "SpecificResource",
                "source": {"id": scene, "type": "Scene"},
                "selector": [{"type": "PointSelector", "x": place.x, "y": place.y, "z": place.z}],
            },
        }));
    }
    let mut manifest = json!({
        "@context": CONTEXT,
        "id": id,
        "type": "Manifest",
        "label": label(&document.title),
        "items": [{
            "id": scene,
            "type": "Scene",
            "label": label(&document.title),
            "items": [{"id": format!("{scene}/painting/1"), "type": "AnnotationPage", "items": [painting]}],
        }],
        "seeAlso": [{
            "id": format!("{address}dossier/dossier.json"),
            "type": "Dataset",
            "format": "application/json",
            "label": {"en": ["The dossier: states, claims, evidence, palette"]},
        }],
        "homepage": [{"id": address, "type": "Text", "format": "text/html", "label": label(&document.title)}],
    });
    if !comments.is_empty() {
        manifest["items"][0]["annotations"] = json!([
            {"id": format!("{scene}/pins"), "type": "AnnotationPage", "items": comments}
        ]);
    }
    if !document.description.is_empty() {
        manifest["summary"] = label(&document.description);
    }
    let mut metadata = Vec::new();
    let object = &document.object;
    for (name, text) in [
        ("Inventory number", &object.identifier),
        ("Date", &object.date),
        ("Material", &object.material),
        ("Place", &object.place),
        ("Dimensions", &object.dimensions),
    ] {
        if !text.is_empty() {
            metadata.push(json!({"label": {"en": [name]}, "value": label(text)}));
        }
    }
    metadata.push(json!({"label": {"en": ["About this manifest"]}, "value": {"en": [DRAFT]}}));
    manifest["metadata"] = metadata.into();
    if let Some(rights) = &document.rights {
        let licence = licence_address(&rights.licence);
        if !licence.is_empty() {
            manifest["rights"] = licence.into();
        }
        if !rights.credit.is_empty() {
            manifest["requiredStatement"] =
                json!({"label": {"en": ["Credit"]}, "value": label(&rights.credit)});
        }
    }
    manifest
}

/// A language map: values are lists, and text without a language is under `none`.
fn label(text: &Text) -> Value {
    match text {
        Text::Plain(text) => json!({"none": [text]}),
        Text::Languages(map) => {
            let map: Map<String, Value> = map
                .iter()
                .map(|(tag, text)| (tag.clone(), json!([text])))
                .collect();
            map.into()
        }
    }
}

fn text(label: &Value) -> Text {
    let Some(map) = label.as_object() else {
        return Text::default();
    };
    let first = |value: &Value| {
        value
            .get(0)
            .and_then(Value::as_str)
            .unwrap_or("")
            .to_owned()
    };
    if let (1, Some(plain)) = (map.len(), map.get("none")) {
        return Text::Plain(first(plain));
    }
    let map: BTreeMap<String, String> =
        map.iter().map(|(tag, v)| (tag.clone(), first(v))).collect();
    Text::Languages(map)
}

fn bodies(text: &Text) -> Vec<Value> {
    match text {
        Text::Plain(text) => vec![json!({"type": "TextualBody", "value": text, "format": "text/plain"})],
        Text::Languages(map) => map
            .iter()
            .map(|(tag, text)| json!({"type": "TextualBody", "value": text, "language": tag, "format": "text/plain"}))
            .collect(),
    }
}

/// The pins of a manifest: title, text and place. What is on the surface there
/// is found again by the place.
///
/// # Errors
/// [`ImportError`] if it is no manifest with a scene.
pub fn pins(manifest: &[u8]) -> Result<Vec<Pin>, ImportError> {
    let value: Value = serde_json::from_slice(manifest)
        .map_err(|error| ImportError::Unreadable(format!("this is not valid JSON: {error}")))?;
    let scenes: Vec<&Value> = value["items"]
        .as_array()
        .into_iter()
        .flatten()
        .filter(|item| item["type"] == "Scene")
        .collect();
    if value["type"] != "Manifest" || scenes.is_empty() {
        return Err(ImportError::Unreadable(
            "this is no IIIF manifest with a scene".to_owned(),
        ));
    }
    let pages = scenes
        .iter()
        .flat_map(|scene| scene["annotations"].as_array().into_iter().flatten());
    let items = pages.flat_map(|page| page["items"].as_array().into_iter().flatten());
    let mut pins = Vec::new();
    for item in items {
        let selectors = &item["target"]["selector"];
        let selector = selectors.get(0).unwrap_or(selectors);
        let number = |name: &str| selector[name].as_f64().filter(|x| x.is_finite());
        let (Some(x), Some(y), Some(z)) = (number("x"), number("y"), number("z")) else {
            continue;
        };
        let id = item["id"].as_str().and_then(|id| id.rsplit('/').next());
        let id = ganosis_dossier::gltf_json::percent_decoded(id.unwrap_or_default());
        let mut languages = BTreeMap::new();
        let mut plain = None;
        for body in item["body"].as_array().into_iter().flatten() {
            let said = body["value"].as_str().unwrap_or("").to_owned();
            match body["language"].as_str() {
                Some(tag) => {
                    languages.insert(tag.to_owned(), said);
                }
                None => plain = Some(said),
            }
        }
        pins.push(Pin {
            id,
            title: text(&item["label"]),
            text: match plain {
                Some(plain) if languages.is_empty() => Text::Plain(plain),
                _ => Text::Languages(languages),
            },
            anchor: Some(Anchor {
                position_m: Some([x, y, z]),
                ..Anchor::default()
            }),
            ..Pin::default()
        });
    }
    Ok(pins)
}
