//! What explains a bag.

use ganosis_dossier::Dossier;
use serde_json::{Value, json};

use crate::names::{address_of, titled};
use crate::site::licence_address;

/// RO-Crate Metadata Specification 1.1, sections "Root Data Entity" and "Data
/// Entities": metadata of the payload, whose top is `data/`. `files` are paths
/// from there with their length in bytes; `date` is the day, ISO 8601.
#[must_use]
pub fn ro_crate(document: &Dossier, files: &[(String, u64)], date: &str) -> Value {
    let language = document.language();
    let person = |id: &str| format!("#person-{}", address_of(id));
    let mut root = json!({
        "@id": "./",
        "@type": "Dataset",
        "name": document.title.get(language),
        "description": document.description.get(language),
        "identifier": document.id,
        "version": document.revision.to_string(),
        "datePublished": date,
        "hasPart": files.iter().map(|(path, _)| json!({"@id": address_of(path)})).collect::<Vec<_>>(),
        "author": document.people.iter().map(|p| json!({"@id": person(&p.id)})).collect::<Vec<_>>(),
    });
    if root["description"] == "" {
        // The specification asks for one.
        root["description"] = root["name"].clone();
    }
    let mut graph = vec![json!({
        "@id": "ro-crate-metadata.json",
        "@type": "CreativeWork",
        "about": {"@id": "./"},
        "conformsTo": {"@id": "https://w3id.org/ro/crate/1.1"},
    })];
    if let Some(rights) = &document.rights {
        let licence = licence_address(&rights.licence);
        if !licence.is_empty() {
            root["license"] = json!({"@id": licence});
            graph.push(json!({"@id": licence, "@type": "CreativeWork", "name": rights.licence}));
        }
        let credit = rights.credit.get(language);
        if !credit.is_empty() {
            root["creditText"] = credit.into();
        }
    }
    graph.insert(1, root);
    for p in &document.people {
        let mut entry =
            json!({"@id": person(&p.id), "@type": "Person", "name": p.name.get(language)});
        let role = p.role.get(language);
        if !role.is_empty() {
            entry["description"] = role.into();
        }
        graph.push(entry);
    }
    for (path, length) in files {
        graph.push(json!({
            "@id": address_of(path),
            "@type": "File",
            "name": what_is(document, path),
            "contentSize": length.to_string(),
            "encodingFormat": media_type(path),
        }));
    }
    json!({"@context": "https://w3id.org/ro/crate/1.1/context", "@graph": graph})
}

/// What a file is, in words.
fn what_is(document: &Dossier, path: &str) -> String {
    let language = document.language();
    let inside = path.strip_prefix("dossier/").unwrap_or("");
    if inside == document.surface.file {
        return "Surface of the object (mesh)".to_owned();
    }
    for layer in &document.layers {
        if let Some(image) = layer.images.iter().find(|image| image.file == inside) {
            return format!(
                "Layer: {} ({})",
                titled(&layer.title, &layer.id, language),
                image.sheet
            );
        }
    }
    for item in &document.evidence {
        if item.attachments.iter().any(|a| a.file == inside) {
            return format!("Evidence: {}", titled(&item.title, &item.id, language));
        }
    }
    for entry in &document.palette {
        if entry.spectrum.as_deref() == Some(inside) {
            return format!(
                "Reflectance spectrum: {}",
                titled(&entry.title, &entry.id, language)
            );
        }
    }
    let maps = document.region_map.iter().flat_map(|map| &map.images);
    if maps.into_iter().any(|image| image.file == inside) {
        return "Region map".to_owned();
    }
    match path {
        "dossier/dossier.json" => {
            "The dossier: states, regions, claims, evidence, palette".to_owned()
        }
        "report.html" => "Report for reading".to_owned(),
        "README.txt" => "What this archive holds".to_owned(),
        "annotations.jsonld" => "Pins and observations as Web Annotations".to_owned(),
        "claims.csv" => "Claims as a table".to_owned(),
        "evidence.csv" => "Observations as a table".to_owned(),
        _ => path.rsplit('/').next().unwrap_or(path).to_owned(),
    }
}

fn media_type(path: &str) -> &'static str {
    let end = path.rsplit('.').next().unwrap_or("").to_ascii_lowercase();
    match end.as_str() {
        "json" => "application/json",
        "jsonld" => "application/ld+json",
        "csv" => "text/csv",
        "txt" | "md" => "text/plain",
        "html" => "text/html",
        "png" => "image/png",
        "jpg" | "jpeg" => "image/jpeg",
        "webp" => "image/webp",
        "tif" | "tiff" => "image/tiff",
        "glb" => "model/gltf-binary",
        "gltf" => "model/gltf+json",
        "vtt" => "text/vtt",
        "pdf" => "application/pdf",
        _ => "application/octet-stream",
    }
}

/// A text for somebody who has this archive and nothing else.
#[must_use]
pub fn readme(document: &Dossier, date: &str) -> String {
    let language = document.language();
    let title = document.title.get(language);
    let rights = document.rights.as_ref();
    let credit = rights.map_or("", |rights| rights.credit.get(language));
    let licence = rights.map_or("not stated", |rights| rights.licence.as_str());
    let notice = document.notice.get(language);
    let notice = if notice.is_empty() {
        String::new()
    } else {
        format!("\nNOTICE. {notice}\n")
    };
    let people: String = document
        .people
        .iter()
        .map(|p| {
            let (name, role) = (p.name.get(language), p.role.get(language));
            let comma = if role.is_empty() { "" } else { ", " };
            format!("  {}: {name}{comma}{role}\n", p.id)
        })
        .collect();
    let states: String = document
        .states
        .iter()
        .map(|s| format!("  {} ({}): {}\n", s.id, s.kind, s.title.get(language)))
        .collect();
    format!(
        "{title}
An archive made on {date}. Credit: {credit} Licence: {licence}
{notice}
{description}

HOW TO READ THIS WITHOUT ANY PROGRAM OF OURS

1. report.html opens in any web browser. It has everything that is said of the
   object: states, claims, the evidence for each, palette, pictures, rights.
2. claims.csv and evidence.csv open in any spreadsheet (text, UTF-8, commas).
3. dossier/ holds the originals. The mesh is a glTF 2.0 file (ISO/IEC 12113),
   images are PNG, JPEG, WebP or TIFF, spectra and measurements are CSV.
   dossier/dossier.json is plain text (JSON, RFC 8259) and ties them together.
4. schema/ganosis-dossier-1.schema.json says what each field of it means (JSON
   Schema 2020-12).
5. annotations.jsonld has pins and observations as W3C Web Annotations.

HOW dossier.json IS BUILT

  surface      the mesh; \"sheets\" are its texture pages, one a glTF material,
               \"parts\" are glTF nodes that only some states show
  layers       images over the surface, one a sheet. \"colour\": encoded colour,
               sRGB unless \"colour_space\" says otherwise. \"band\": one number a
               texel; \"range\" gives the values of the smallest and largest code
               in \"unit\"
  states       what the object looked like: as found, evidence-based,
               hypothetical. \"layers\" are laid over one another, first lowest
  region_map   greyscale PNGs whose codes are the \"number\" of a region
  regions      areas of the surface
  palette      paints; \"lab_d50\" is CIELAB, illuminant D50, 2 degree observer
  evidence     observations: technique, place, result, who, when, with what
  claims       \"in these states this region had this pigment\"; \"certainty\" is
               measured > observed > continued > comparative > conjectural,
               and \"evidence\" are the observations it rests on
  pins, views  markers with text; saved views in the order of a tour

Positions are metres in the coordinates of the mesh. Texture coordinates are
those of glTF: 0,0 is the top left corner of an image.

States in this dossier:
{states}
People:
{people}
WHETHER IT IS STILL WHOLE

This is a bag by RFC 8493 (BagIt 1.0). manifest-sha256.txt and
manifest-sha512.txt, one folder up, have a digest of every file here: with
common tools, in the folder of the bag,

  sha256sum --check manifest-sha256.txt
  sha512sum --check manifest-sha512.txt

Light, ultraviolet lamps, X-ray sources and old pigments can do harm: what is
described here is a record, not an instruction. Local rules, conservators and
licensed practice come first.
",
        description = document.description.get(language),
    )
}
