//! Archives: valid by an outside program, and no damage goes unseen.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use serde_json::Value;

use crate::common::ganosis;
use crate::exports::{SUBJECTS, exported, imported};
use crate::{copy_folder, demo, document_in, files_below, outside};

/// A bag of the demonstration, made once.
static BAG: LazyLock<tempfile::TempDir> = LazyLock::new(|| {
    let out = tempfile::tempdir().unwrap();
    let path = demo();
    let arguments = [
        "export",
        path.to_str().unwrap(),
        "--as",
        "bag",
        "-o",
        "bag",
        "--without-pictures",
    ];
    let (code, _, errors) = ganosis(out.path(), &arguments);
    assert_eq!(code, 0, "{errors}");
    out
});

fn bag() -> PathBuf {
    BAG.path().join("bag")
}

#[test]
fn a_bag_is_valid_and_holds_what_explains_it() {
    assert_eq!(outside::bagit(&bag()), None);
    let (code, said, errors) = ganosis(BAG.path(), &["check", "bag"]);
    assert_eq!(code, 0, "{said}{errors}");
    let files = files_below(&bag());
    for file in [
        "bagit.txt",
        "bag-info.txt",
        "manifest-sha256.txt",
        "manifest-sha512.txt",
        "tagmanifest-sha256.txt",
        "tagmanifest-sha512.txt",
        "data/dossier/dossier.json",
        "data/report.html",
        "data/README.txt",
        "data/schema/ganosis-dossier-1.schema.json",
        "data/ro-crate-metadata.json",
        "data/claims.csv",
        "data/annotations.jsonld",
    ] {
        assert!(files.iter().any(|f| f == file), "{file} is missing");
    }
    // Everything of the dossier is in there, to the byte.
    for file in files_below(&demo()) {
        let kept = fs::read(bag().join("data/dossier").join(&file)).unwrap();
        assert_eq!(kept, fs::read(demo().join(&file)).unwrap(), "{file}");
    }
    // RO-Crate 1.1: a descriptor, a root with name, description, date and licence, and every file of
    // the payload described and part of it.
    let text = fs::read(bag().join("data/ro-crate-metadata.json")).unwrap();
    let crate_file: Value = serde_json::from_slice(&text).unwrap();
    let graph = crate_file["@graph"].as_array().unwrap();
    let entity = |id: &str| {
        graph
            .iter()
            .find(|e| e["@id"] == id)
            .unwrap_or_else(|| panic!("{id} is not described"))
    };
    assert_eq!(entity("ro-crate-metadata.json")["about"]["@id"], "./");
    let root = entity("./");
    for field in ["name", "description", "datePublished", "license"] {
        assert!(!root[field].is_null(), "{field}");
    }
    let parts: Vec<&str> = root["hasPart"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["@id"].as_str().unwrap())
        .collect();
    for file in files.iter().filter_map(|f| f.strip_prefix("data/")) {
        if file != "ro-crate-metadata.json" {
            assert!(parts.contains(&file), "{file} is not part of it");
            let length = fs::metadata(bag().join("data").join(file)).unwrap().len();
            assert_eq!(entity(file)["contentSize"], length.to_string());
        }
    }
    let readme = fs::read_to_string(bag().join("data/README.txt")).unwrap();
    assert!(readme.contains("sha256sum --check") && readme.contains("The Sallowmere boss"));
}

#[test]
fn a_bag_opens_audits_and_comes_back_whole() {
    let out = tempfile::tempdir().unwrap();
    let told = bag();
    let told = told.to_str().unwrap();
    let (code, _, errors) = ganosis(out.path(), &["import", told, "--to", "back"]);
    assert_eq!(code, 0, "{errors}");
    let back = out.path().join("back");
    assert_eq!(files_below(&back), files_below(&demo()));
    assert_eq!(document_in(&back), document_in(&demo()));
    let (code, ..) = ganosis(out.path(), &["annotations", told, "-o", "a.jsonld"]);
    assert_eq!(code, 0);
    // An archive is read, never changed.
    let (code, _, errors) = ganosis(out.path(), &["import", "a.jsonld", "--into", told]);
    assert!(code == 2 && errors.contains("archived"), "{errors}");
    assert_eq!(outside::bagit(&bag()), None);
}

#[test]
fn bags_of_meshes_that_others_made_are_valid_and_come_back_to_the_byte() {
    for subject in SUBJECTS.iter().filter(|s| s.name != "demonstration") {
        let out = tempfile::tempdir().unwrap();
        let more = ["--as", "bag", "--without-pictures"];
        let path = exported(&subject.folder, out.path(), "bag", &more);
        assert_eq!(outside::bagit(&path), None, "{}", subject.name);
        let (back, _) = imported(&path, out.path());
        let files = files_below(&subject.folder);
        assert_eq!(files_below(&back), files, "{}", subject.name);
        for file in files {
            let (before, after) = (subject.folder.join(&file), back.join(&file));
            assert_eq!(
                fs::read(before).unwrap(),
                fs::read(after).unwrap(),
                "{}: {file}",
                subject.name
            );
        }
    }
}

type Damage = (String, Box<dyn Fn(&Path)>);

fn edit(file: &'static str, change: impl Fn(String) -> String + 'static) -> Damage {
    let name = format!("edit {file}");
    (
        name,
        Box::new(move |bag| {
            let path = bag.join(file);
            let text = fs::read_to_string(&path).unwrap();
            let changed = change(text.clone());
            assert_ne!(text, changed, "{file} was not damaged");
            fs::write(path, changed).unwrap();
        }),
    )
}

fn remove(file: &'static str) -> Damage {
    (
        format!("remove {file}"),
        Box::new(move |bag| fs::remove_file(bag.join(file)).unwrap()),
    )
}

fn add(file: &'static str) -> Damage {
    (
        format!("add {file}"),
        Box::new(move |bag| {
            let path = bag.join(file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, "x").unwrap();
        }),
    )
}

fn bytes(
    file: &'static str,
    what: &'static str,
    change: impl Fn(&mut Vec<u8>) + 'static,
) -> Damage {
    (
        format!("{what} {file}"),
        Box::new(move |bag| {
            let path = bag.join(file);
            let mut content = fs::read(&path).unwrap();
            change(&mut content);
            fs::write(path, content).unwrap();
        }),
    )
}

/// Ways in which an archive is damaged: bits that turn, disks that fill, hands that help.
fn damages() -> Vec<Damage> {
    let mut all: Vec<Damage> = Vec::new();
    for file in [
        "data/dossier/dossier.json",
        "data/dossier/surface.glb",
        "data/dossier/regions/crown.png",
        "data/report.html",
        "data/README.txt",
        "data/claims.csv",
        "bag-info.txt",
    ] {
        all.push(bytes(file, "turn the first bit of", |c| c[0] ^= 1));
        all.push(bytes(file, "turn the last bit of", |c| {
            *c.last_mut().unwrap() ^= 0x80
        }));
        all.push(bytes(file, "cut off", |c| c.truncate(c.len() / 2)));
        all.push(bytes(file, "append to", |c| c.push(b'\n')));
        all.push(remove(file));
    }
    all.push(bytes("data/dossier/surface.glb", "empty", Vec::clear));
    all.push(bytes(
        "data/dossier/layers/vis/crown.png",
        "swap two bytes of",
        |c| {
            let middle = c.len() / 2;
            let other = (middle + 1..c.len()).find(|i| c[*i] != c[middle]).unwrap();
            c.swap(middle, other);
        },
    ));
    for file in [
        "bagit.txt",
        "manifest-sha256.txt",
        "manifest-sha512.txt",
        "tagmanifest-sha256.txt",
        "tagmanifest-sha512.txt",
    ] {
        all.push(remove(file));
        all.push(bytes(file, "empty", Vec::clear));
    }
    for file in [
        "data/extra.txt",
        "data/.hidden",
        "data/dossier/.dossier.previous.json",
        "notes.txt",
        "data/deep/er/file",
    ] {
        all.push(add(file));
    }
    all.push(edit("bagit.txt", |t| t.replace("1.0", "0.97")));
    all.push(edit("bagit.txt", |t| t.replace("UTF-8", "UTF-16")));
    all.push(edit("bag-info.txt", |t| {
        t.replace("Payload-Oxum: ", "Payload-Oxum: 1")
    }));
    all.push(edit("manifest-sha256.txt", |t| {
        t.lines().skip(1).map(|l| format!("{l}\n")).collect()
    }));
    all.push(edit("manifest-sha512.txt", |t| {
        t.lines().skip(1).map(|l| format!("{l}\n")).collect()
    }));
    all.push(edit("manifest-sha256.txt", |t| {
        t.replacen("data/", "data/../data/", 1)
    }));
    all.push(edit("manifest-sha256.txt", |t| {
        format!("{}  ../outside.txt\n{t}", "0".repeat(64))
    }));
    all.push(edit("manifest-sha256.txt", |t| {
        format!("{}  /etc/passwd\n{t}", "0".repeat(64))
    }));
    all.push(edit("manifest-sha256.txt", |t| {
        format!("{t}{}\n", t.lines().next().unwrap())
    }));
    all.push(edit("manifest-sha256.txt", |t| {
        format!("{}  data/gone.txt\n{t}", "0".repeat(64))
    }));
    all.push(edit("manifest-sha256.txt", |t| {
        let first = if t.starts_with('0') { "1" } else { "0" };
        format!("{first}{}", &t[1..])
    }));
    all.push(edit("tagmanifest-sha512.txt", |t| {
        let first = if t.starts_with('0') { "1" } else { "0" };
        format!("{first}{}", &t[1..])
    }));
    all.push((
        "rename a file".to_owned(),
        Box::new(|bag| {
            let from = bag.join("data/dossier/regions/crown.png");
            fs::rename(from, bag.join("data/dossier/regions/Crown.png")).unwrap();
        }),
    ));
    all.push((
        "exchange two files".to_owned(),
        Box::new(|bag| {
            let [a, b] =
                ["crown", "flank"].map(|n| bag.join(format!("data/dossier/regions/{n}.png")));
            let (x, y) = (fs::read(&a).unwrap(), fs::read(&b).unwrap());
            fs::write(&a, y).unwrap();
            fs::write(&b, x).unwrap();
        }),
    ));
    all.push((
        "lose a folder".to_owned(),
        Box::new(|bag| fs::remove_dir_all(bag.join("data/dossier/palette")).unwrap()),
    ));
    #[cfg(unix)]
    all.push((
        "put a link for a file".to_owned(),
        Box::new(|bag| {
            let file = bag.join("data/README.txt");
            fs::rename(&file, bag.parent().unwrap().join("elsewhere.txt")).unwrap();
            std::os::unix::fs::symlink(bag.parent().unwrap().join("elsewhere.txt"), &file).unwrap();
        }),
    ));
    all
}

#[test]
fn every_damage_is_found() {
    let damages = damages();
    assert!(damages.len() >= 50, "only {}", damages.len());
    let mut unseen_by_others = Vec::new();
    for (name, damage) in &damages {
        let out = tempfile::tempdir().unwrap();
        let copy = out.path().join("bag");
        copy_folder(&bag(), &copy);
        damage(&copy);
        let (code, said, errors) = ganosis(out.path(), &["check", "bag"]);
        assert_eq!(code, 1, "{name}: {said}{errors}");
        assert!(
            said.contains("bag-") && said.contains("do:"),
            "{name}: {said}"
        );
        let (code, ..) = ganosis(out.path(), &["import", "bag", "--to", "back"]);
        assert_eq!(code, 2, "{name} was imported");
        if outside::bagit(&copy).is_none() {
            unseen_by_others.push(name.as_str());
        }
    }
    // `bagit` does not see what RFC 8493 leaves open: tag manifests may be missing or incomplete, other
    // tag files may lie about, a link is followed, a path written twice counts once.
    for name in unseen_by_others {
        assert!(
            [
                "tagmanifest",
                "notes.txt",
                "link",
                "edit manifest-sha256.txt",
                "bagit.txt"
            ]
            .iter()
            .any(|part| name.contains(part)),
            "{name}: bagit takes this bag as valid; is the damage none?"
        );
    }
}
