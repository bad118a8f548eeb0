//! A dossier in the words of schema.org.

use serde_json::{Map, Value, json};

use super::{DOSSIER_FOLDER, Object, PICTURE_NAME, REPORT_NAME};
use crate::names::address_of;

/// The object as a `3DModel` (schema.org), as JSON-LD. `address` is that of
/// the site; without it addresses stay relative to the page.
#[must_use]
pub fn about_object(object: &Object, address: Option<&str>) -> Value {
    let document = object.document;
    let language = object.language();
    let here = address.map_or(String::new(), |address| object.at(address));
    let mut about = Map::new();
    let mut say = |name: &str, value: Value| {
        let empty = match &value {
            Value::Null => true,
            Value::String(text) => text.is_empty(),
            Value::Array(list) => list.is_empty(),
            Value::Object(fields) => fields.is_empty(),
            _ => false,
        };
        if !empty {
            about.insert(name.to_owned(), value);
        }
    };
    say("@context", "https://schema.org".into());
    say("@type", "3DModel".into());
    say("name", object.title().into());
    say("description", object.description().into());
    say("identifier", document.id.as_str().into());
    say("version", document.revision.to_string().into());
    say("inLanguage", document.languages.clone().into());
    say("url", here.as_str().into());
    if object.picture {
        let picture = format!("{here}{PICTURE_NAME}");
        say("image", picture.as_str().into());
        say("thumbnailUrl", picture.into());
    }
    let surface = &document.surface.file;
    if !surface.is_empty() {
        let address = format!("{here}{DOSSIER_FOLDER}{}", address_of(surface));
        say("contentUrl", address.into());
        let media_type = if surface.to_ascii_lowercase().ends_with(".gltf") {
            "model/gltf+json"
        } else {
            "model/gltf-binary"
        };
        say("encodingFormat", media_type.into());
    }
    if object.report {
        say(
            "subjectOf",
            json!({"@type": "Report", "url": format!("{here}{REPORT_NAME}")}),
        );
    }
    if let Some(rights) = &document.rights {
        say("license", licence_address(&rights.licence).into());
        say("creditText", rights.credit.get(language).into());
    }
    let people = document.people.iter().map(|person| {
        let mut value = json!({"@type": "Person", "name": person.name.get(language)});
        let role = person.role.get(language);
        if !role.is_empty() {
            value["description"] = role.into();
        }
        value
    });
    say("creator", people.collect());
    say("about", depicted(object, language));
    Value::Object(about)
}

/// The thing itself.
fn depicted(object: &Object, language: &str) -> Value {
    let record = &object.document.object;
    let mut thing = json!({"@type": "VisualArtwork", "name": object.title()});
    for (name, text) in [
        ("identifier", &record.identifier),
        ("artMedium", &record.material),
        ("size", &record.dimensions),
    ] {
        let text = text.get(language);
        if !text.is_empty() {
            thing[name] = text.into();
        }
    }
    // An interval of ISO 8601-1, 5.5; years before 1 as ISO 8601 counts them (0 is 1 BC).
    let year = |year: i32| {
        if (0..=9999).contains(&year) {
            format!("{year:04}")
        } else {
            format!("{year:+05}")
        }
    };
    match (record.earliest_year, record.latest_year) {
        (Some(first), Some(last)) if first == last => thing["dateCreated"] = year(first).into(),
        (Some(first), Some(last)) => {
            thing["dateCreated"] = format!("{}/{}", year(first), year(last)).into();
        }
        _ => {
            let date = record.date.get(language);
            if !date.is_empty() {
                thing["dateCreated"] = date.into();
            }
        }
    }
    thing
}

/// The address of a licence; an SPDX identifier has a page of its own.
pub(crate) fn licence_address(licence: &str) -> String {
    if licence.is_empty() || licence.starts_with("https://") || licence.starts_with("http://") {
        licence.to_owned()
    } else {
        format!("https://spdx.org/licenses/{licence}.html")
    }
}
