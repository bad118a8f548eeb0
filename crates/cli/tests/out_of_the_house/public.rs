//! The public copy: nothing withheld in any byte, and what is left still holds together.

use ganosis_dossier::check::check;
use ganosis_dossier::store::FolderStore;
use ganosis_dossier::{Dossier, Severity, Store, document_from_bytes};
use ganosis_exchange::public::{PublicError, PublicStore, public_copy};
use serde_json::{Value, json};

use crate::common::ganosis;
use crate::{copy_folder, copy_of_demo, demo, document_in, holds, write_document};

/// A word that stands nowhere but where a test puts it.
const CANARY: &str = "KESTREL-7413-UNSAID";

/// Lists whose entries can be withheld.
const LISTS: [&str; 9] = [
    "people", "layers", "states", "regions", "palette", "evidence", "claims", "pins", "views",
];

fn read(document: &Value) -> Dossier {
    let bytes = serde_json::to_vec(document).unwrap();
    document_from_bytes(&bytes).unwrap().document
}

fn bytes_of(copy: &PublicStore) -> Vec<(String, Vec<u8>)> {
    let files = copy.list().unwrap();
    files
        .into_iter()
        .map(|file| (file.clone(), copy.read(&file).unwrap()))
        .collect()
}

/// Every entry of the demonstration withheld, one at a time: what is left has no error that was not
/// there, says nothing of the entry's own words, and names it nowhere that a machine would follow.
#[test]
fn each_entry_alone_can_be_withheld_and_the_rest_holds_together() {
    let store = FolderStore::open(&demo()).unwrap();
    let whole = document_in(&demo());
    let mut tried = 0;
    for list in LISTS {
        for i in 0..whole[list].as_array().unwrap().len() {
            let mut document = whole.clone();
            let entry = &mut document[list][i];
            entry["public"] = false.into();
            entry["notes"] = json!({"within": [CANARY]});
            let id = entry["id"].as_str().unwrap().to_owned();
            let copy = PublicStore::new(&read(&document), &store).unwrap();
            let about = format!("{list} {id}");
            for finding in check(&copy).unwrap().findings {
                assert!(finding.severity < Severity::Error, "{about}: {finding}");
            }
            let json = copy.read("dossier.json").unwrap();
            assert!(!holds(&json, CANARY), "{about}");
            let public: Value = serde_json::from_slice(&json).unwrap();
            let still = public[list].as_array().into_iter().flatten();
            assert!(
                still.into_iter().all(|other| other["id"] != id.as_str()),
                "{about}"
            );
            assert!(
                copy.left_out()
                    .iter()
                    .any(|absent| absent.what.ends_with(&format!(":{id}"))),
                "{about}"
            );
            // Taken as any string of the document, the id is gone or is reported.
            let strings = strings_of(&public);
            let others: Vec<&String> = strings.iter().filter(|text| **text == id).collect();
            let known = LISTS.iter().chain(&["surface"]).any(|other| {
                serde_json::to_string(&public[*other])
                    .unwrap()
                    .contains(&format!("\"id\":\"{id}\""))
            });
            // Words of the format that are ids of something here too.
            let word_of_the_format =
                ["uvl", "irr", "vis", "irfc", "as-found"].contains(&id.as_str());
            assert!(
                others.is_empty() || known || word_of_the_format,
                "{about} is still named"
            );
            tried += 1;
        }
    }
    assert!(tried > 100, "only {tried} entries were tried");
}

fn strings_of(value: &Value) -> Vec<String> {
    match value {
        Value::String(text) => vec![text.clone()],
        Value::Array(list) => list.iter().flat_map(strings_of).collect(),
        Value::Object(fields) => fields.values().flat_map(strings_of).collect(),
        _ => Vec::new(),
    }
}

/// Whatever is withheld, its own files and the texels of its region are in no byte.
#[test]
fn files_and_texels_of_what_is_withheld_are_gone() {
    let folder = copy_of_demo();
    let mut document = document_in(folder.path());
    let at = |list: &str, id: &str| {
        let entries = document_in(folder.path())[list].as_array().unwrap().clone();
        entries.iter().position(|entry| entry["id"] == id).unwrap()
    };
    let with_file = document["evidence"]
        .as_array()
        .unwrap()
        .iter()
        .position(|item| item["attachments"][0]["file"].is_string())
        .unwrap();
    document["evidence"][with_file]["public"] = false.into();
    let csv = document["evidence"][with_file]["attachments"][0]["file"]
        .as_str()
        .unwrap()
        .to_owned();
    std::fs::write(folder.path().join(&csv), CANARY).unwrap();
    let uvl = at("layers", "uvl");
    document["layers"][uvl]["public"] = "soon".into();
    let image = document["layers"][uvl]["images"][0]["file"]
        .as_str()
        .unwrap()
        .to_owned();
    let region = at("regions", "heron-body");
    document["regions"][region]["public"] = false.into();
    let number = document["regions"][region]["number"].as_u64().unwrap();
    // A file that nothing names stays at home, whatever its name.
    std::fs::write(folder.path().join("notes.txt"), CANARY).unwrap();
    write_document(folder.path(), &document);

    let store = FolderStore::open(folder.path()).unwrap();
    let copy = PublicStore::new(&read(&document), &store).unwrap();
    for (file, bytes) in bytes_of(&copy) {
        assert!(!holds(&bytes, CANARY), "{file}");
        assert!(
            file != csv && file != image && file != "notes.txt",
            "{file}"
        );
    }
    for file in [&csv, &image, "notes.txt"] {
        assert!(copy.read(file).is_err() && copy.size(file).is_err());
    }
    let mut seen = 0;
    for map in document["region_map"]["images"].as_array().unwrap() {
        let file = map["file"].as_str().unwrap();
        let before = image::load_from_memory(&store.read(file).unwrap())
            .unwrap()
            .into_luma16();
        let after = image::load_from_memory(&copy.read(file).unwrap())
            .unwrap()
            .into_luma16();
        // Eight bits come as 257 times the code.
        let eight = before.as_raw().iter().all(|v| v % 257 == 0);
        let code = |value: u16| u64::from(if eight { value / 257 } else { value });
        for (old, new) in before.pixels().zip(after.pixels()) {
            if code(old[0]) == number {
                seen += 1;
                assert_eq!(new[0], 0);
            } else {
                assert_eq!(new[0], old[0]);
            }
        }
    }
    assert!(seen > 100, "the region has only {seen} texels");
}

#[test]
fn texts_that_name_what_is_withheld_are_reported() {
    let folder = copy_of_demo();
    let mut document = document_in(folder.path());
    document["people"][0]["public"] = false.into();
    let name = "E. K.";
    assert_eq!(document["people"][0]["name"], name);
    let evidence = document["evidence"][0]["id"].as_str().unwrap().to_owned();
    document["evidence"][0]["public"] = false.into();
    document["pins"][0]["text"] = json!({"en": format!("As {name} saw it")});
    document["later"] = json!({"see": [format!("compare {evidence}, please")]});
    let csv = document["palette"][0]["spectrum"]
        .as_str()
        .unwrap()
        .to_owned();
    std::fs::write(folder.path().join(&csv), format!("# read by {name}\n1,2\n")).unwrap();
    let store = FolderStore::open(folder.path()).unwrap();
    let copy = PublicStore::new(&read(&document), &store).unwrap();
    let found: Vec<(String, String)> = copy
        .mentions()
        .unwrap()
        .into_iter()
        .map(|mention| (format!("{}{}", mention.file, mention.path), mention.word))
        .collect();
    for wanted in [
        ("dossier.json$.pins[0].text.en".to_owned(), name.to_owned()),
        ("dossier.json$.later.see[0]".to_owned(), evidence),
        (csv, name.to_owned()),
    ] {
        assert!(found.contains(&wanted), "{wanted:?} is not among {found:?}");
    }
}

#[test]
fn where_it_is_not_certain_what_is_cleared_there_is_no_copy() {
    let whole = document_in(&demo());
    let mut document = whole.clone();
    document["public"] = false.into();
    assert_eq!(public_copy(&read(&document)), Err(PublicError::Nothing));
    let mut document = whole.clone();
    document["surface"]["parts"][0]["public"] = false.into();
    assert!(matches!(
        public_copy(&read(&document)),
        Err(PublicError::Misplaced { path }) if path == "$.surface.parts[0].public"
    ));
    let mut document = whole;
    document["layers"][0]["images"] = "none".into();
    assert!(matches!(
        public_copy(&read(&document)),
        Err(PublicError::Unclear { .. })
    ));
}

/// A region map in tiles goes out as one file, in which every texel of what is withheld has become none.
#[test]
fn regions_are_taken_out_of_a_map_in_tiles() {
    let folder = tempfile::tempdir().unwrap();
    copy_folder(&demo(), &folder.path().join("from"));
    let from = folder.path().join("from");
    let number = |x: u32, y: u32| ((x / 130 + y / 90) % 5) as u16;
    let map = image::ImageBuffer::from_fn(1100, 700, |x, y| image::Luma([number(x, y)]));
    let mut document = document_in(&from);
    let image = &mut document["region_map"]["images"][0];
    map.save(from.join(image["file"].as_str().unwrap()))
        .unwrap();
    (image["width_px"], image["height_px"]) = (1100.into(), 700.into());
    let region = document["regions"].as_array_mut().unwrap();
    let withheld = region.iter_mut().find(|r| r["number"] == 3).unwrap();
    withheld["public"] = false.into();
    write_document(&from, &document);
    let (code, _, errors) = ganosis(folder.path(), &["pack", "from", "-o", "packed"]);
    assert_eq!(code, 0, "{errors}");
    let packed = folder.path().join("packed");
    let document = read(&document_in(&packed));
    assert!(
        document.region_map.as_ref().unwrap().images[0]
            .tiles
            .is_some()
    );
    let store = FolderStore::open(&packed).unwrap();
    let copy = PublicStore::new(&document, &store).unwrap();
    let image = &copy.document().region_map.as_ref().unwrap().images[0];
    assert!(image.tiles.is_none());
    let whole = image::load_from_memory(&copy.read(&image.file).unwrap())
        .unwrap()
        .into_luma16();
    assert_eq!(whole.dimensions(), (1100, 700));
    for (x, y, texel) in whole.enumerate_pixels() {
        let wanted = if number(x, y) == 3 { 0 } else { number(x, y) };
        assert_eq!(texel[0], wanted, "{x} {y}");
    }
    // Of the tiles of the map, which still have it, none goes out.
    let index = &document.region_map.as_ref().unwrap().images[0]
        .tiles
        .as_ref()
        .unwrap()
        .index;
    let list: Value = serde_json::from_slice(&store.read(index).unwrap()).unwrap();
    let names = list["levels"][0]["names"].as_str().unwrap();
    let files = copy.list().unwrap();
    assert!(!files.contains(index));
    for name in names.as_bytes().chunks(16) {
        let name = std::str::from_utf8(name).unwrap();
        assert!(files.iter().all(|file| !file.contains(name)), "{name}");
    }
}

/// The tiles of what is public go out, by the list that names them; those of what is withheld do not.
#[test]
fn tiles_go_out_with_their_layer() {
    let folder = copy_of_demo();
    let mut document = document_in(folder.path());
    let names = ["00aa00aa00aa00aa", "01bb01bb01bb01bb", "02cc02cc02cc02cc"];
    for (layer, names) in [(0, &names[..2]), (1, &names[1..])] {
        let list = json!({"ending": "webp", "levels": [{"names": names.concat()}]});
        std::fs::create_dir_all(folder.path().join("tiles")).unwrap();
        let index = format!("tiles/{layer}.json");
        std::fs::write(folder.path().join(&index), list.to_string()).unwrap();
        for name in names {
            let of_two = folder.path().join("tiles").join(&name[..2]);
            std::fs::create_dir_all(&of_two).unwrap();
            std::fs::write(of_two.join(format!("{name}.webp")), name).unwrap();
        }
        document["layers"][layer]["images"][0]["tiles"] = json!({"index": index, "keep": "exact"});
    }
    document["layers"][1]["public"] = false.into();
    write_document(folder.path(), &document);
    let store = FolderStore::open(folder.path()).unwrap();
    let copy = PublicStore::new(&read(&document), &store).unwrap();
    let files: Vec<String> = copy.list().unwrap();
    let tiles: Vec<&str> = files
        .iter()
        .filter(|file| file.starts_with("tiles/"))
        .map(String::as_str)
        .collect();
    assert_eq!(
        tiles,
        [
            "tiles/0.json",
            "tiles/00/00aa00aa00aa00aa.webp",
            "tiles/01/01bb01bb01bb01bb.webp"
        ]
    );
}

/// What rests on something withheld is a finding of the check, at its place.
#[test]
fn contradictions_are_found() {
    let whole = document_in(&demo());
    let claim = whole["claims"]
        .as_array()
        .unwrap()
        .iter()
        .position(|claim| claim["evidence"].as_array().is_some_and(|e| !e.is_empty()))
        .unwrap();
    let layer = whole["states"][0]["layers"][0].as_str().unwrap();
    let index = |list: &str, id: &str| {
        let entries = whole[list].as_array().unwrap();
        entries.iter().position(|entry| entry["id"] == id).unwrap()
    };
    let evidence = index(
        "evidence",
        whole["claims"][claim]["evidence"][0].as_str().unwrap(),
    );
    let rows = [
        (
            format!("/evidence/{evidence}/public"),
            json!(false),
            "public-claim-on-withheld",
        ),
        (
            format!("/layers/{}/public", index("layers", layer)),
            json!(false),
            "public-state-of-withheld-layer",
        ),
        (
            "/palette/0/public".to_owned(),
            json!(false),
            "public-claim-of-withheld-pigment",
        ),
        (
            "/states/1/public".to_owned(),
            json!(false),
            "public-view-of-withheld",
        ),
        ("/people/0/public".to_owned(), json!("yes"), "bad-clearance"),
        (
            "/people/0/confidential".to_owned(),
            json!(true),
            "clearance-misspelt",
        ),
        (
            "/people/0/Public".to_owned(),
            json!(false),
            "clearance-misspelt",
        ),
        (
            "/object/public".to_owned(),
            json!(false),
            "clearance-without-effect",
        ),
    ];
    let folder = copy_of_demo();
    for (pointer, value, rule) in rows {
        let mut document = whole.clone();
        let (parent, name) = pointer.rsplit_once('/').unwrap();
        document.pointer_mut(parent).unwrap()[name] = value;
        write_document(folder.path(), &document);
        let store = FolderStore::open(folder.path()).unwrap();
        let findings = check(&store).unwrap().findings;
        assert!(
            findings.iter().any(|finding| finding.rule == rule),
            "{pointer}: {rule} is not among {findings:?}"
        );
    }
}
