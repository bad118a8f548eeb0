//! Sites: whole, relative, put in place at once, and others' files left alone.

use std::path::Path;

use serde_json::Value;

use crate::common::ganosis;
use crate::{copy_of_demo, demo, document_in, files_below, holds, write_document};

/// Stands in for the built viewer.
fn viewer() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (file, text) in [
        ("index.html", "<!doctype html>"),
        ("embed.html", "<!doctype html>"),
        ("ganosis-view.js", "export {};"),
        ("internal/page.js", "export {};"),
        ("styles/page.css", "main {}"),
        (
            "files.json",
            r#"{"files": {"index.html": "0", "embed.html": "0", "ganosis-view.js": "1", "internal/page.js": "2", "styles/page.css": "3"}}"#,
        ),
    ] {
        let path = folder.path().join(file);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    folder
}

fn publish(folder: &Path, more: &[&str]) -> (i32, String, String) {
    let viewer = viewer();
    let mut arguments = vec!["publish"];
    arguments.extend(more);
    let told = viewer.path().to_str().unwrap().to_owned();
    arguments.extend(["--viewer", &told]);
    ganosis(folder, &arguments)
}

#[test]
fn a_site_has_what_it_needs_and_nothing_withheld() {
    let dossier = copy_of_demo();
    let mut document = document_in(dossier.path());
    let hidden = document["layers"]
        .as_array()
        .unwrap()
        .iter()
        .position(|l| l["id"] == "irr")
        .unwrap();
    document["layers"][hidden]["public"] = false.into();
    document["layers"][hidden]["note"] = "KESTREL-7413-UNSAID".into();
    document["title"] = serde_json::json!({"en": "The </script><b>\"boss\" & co"});
    write_document(dossier.path(), &document);
    let out = tempfile::tempdir().unwrap();
    let path = dossier.path().to_str().unwrap();
    let (code, said, errors) = publish(
        out.path(),
        &[
            path,
            "--to",
            "site",
            "--address",
            "https://museum.example/boss",
            "--without-pictures",
            "--despite-mentions",
        ],
    );
    assert_eq!(code, 0, "{errors}");
    assert!(said.contains("left out: layer:irr: not cleared"), "{said}");
    assert!(
        said.contains("left out: file layers/irr/crown.png"),
        "{said}"
    );
    let site = out.path().join("site");
    let files = files_below(&site);
    for file in [
        "index.html",
        "embed.html",
        "report.html",
        "sitemap.xml",
        "oembed.json",
        "published.json",
        "ganosis-view.js",
        "internal/page.js",
        "dossier/dossier.json",
        "dossier/surface.glb",
    ] {
        assert!(
            files.iter().any(|f| f == file),
            "{file} is missing: {files:?}"
        );
    }
    for file in &files {
        let bytes = std::fs::read(site.join(file)).unwrap();
        assert!(
            !holds(&bytes, "KESTREL-7413-UNSAID") && !file.contains("irr"),
            "{file}"
        );
    }
    let page = std::fs::read_to_string(site.join("index.html")).unwrap();
    let data = page.split("application/ld+json\">").nth(1).unwrap();
    let data: Value = serde_json::from_str(data.split("</script>").next().unwrap()).unwrap();
    assert_eq!(data["@type"], "3DModel");
    assert_eq!(data["name"], "The </script><b>\"boss\" & co");
    assert_eq!(
        data["contentUrl"],
        "https://museum.example/boss/dossier/surface.glb"
    );
    assert_eq!(data["license"], document["rights"]["licence"]);
    assert_eq!(data["creditText"], document["rights"]["credit"]["en"]);
    assert_eq!(data["about"]["dateCreated"], "1330/1350");
    assert!(!page.contains("<b>"), "a title became markup");
    let sitemap = std::fs::read_to_string(site.join("sitemap.xml")).unwrap();
    assert!(
        sitemap.contains("<loc>https://museum.example/boss/</loc>"),
        "{sitemap}"
    );
    let offer: Value =
        serde_json::from_slice(&std::fs::read(site.join("oembed.json")).unwrap()).unwrap();
    assert_eq!(
        (&offer["version"], &offer["type"]),
        (&"1.0".into(), &"rich".into())
    );
    // The list by which tablets keep files agrees with the pages that were written.
    let list: Value =
        serde_json::from_slice(&std::fs::read(site.join("files.json")).unwrap()).unwrap();
    let published: Value =
        serde_json::from_slice(&std::fs::read(site.join("published.json")).unwrap()).unwrap();
    assert_eq!(
        list["files"]["index.html"],
        published["files"]["index.html"]
    );
    assert_eq!(list["files"]["ganosis-view.js"], "1");
    // Everything it wrote is on its list, and nothing is left beside it.
    let listed = published["files"].as_object().unwrap();
    assert!(
        files
            .iter()
            .all(|file| file == "published.json" || listed.contains_key(file))
    );
    assert_eq!(std::fs::read_dir(out.path()).unwrap().count(), 1);
}

#[test]
fn what_names_something_withheld_is_not_published_unless_said() {
    let dossier = copy_of_demo();
    let mut document = document_in(dossier.path());
    document["evidence"][0]["public"] = false.into();
    document["evidence"][0]["id"] = "xrf-private".into();
    document["pins"][0]["text"] = "as xrf-private shows".into();
    let before = document["claims"]
        .to_string()
        .replace("\"xrf-01\"", "\"xrf-private\"");
    document["claims"] = serde_json::from_str(&before).unwrap();
    let pins = document["pins"]
        .to_string()
        .replace("\"xrf-01\"", "\"xrf-private\"");
    document["pins"] = serde_json::from_str(&pins).unwrap();
    write_document(dossier.path(), &document);
    let out = tempfile::tempdir().unwrap();
    let path = dossier.path().to_str().unwrap();
    let arguments = [path, "--to", "site", "--without-pictures"];
    let (code, _, errors) = publish(out.path(), &arguments);
    assert_eq!(code, 2);
    assert!(
        errors.contains("$.pins[0].text") && errors.contains("--despite-mentions"),
        "{errors}"
    );
    assert!(!out.path().join("site").exists());
    let (code, ..) = publish(
        out.path(),
        &[&arguments[..], &["--despite-mentions"]].concat(),
    );
    assert_eq!(code, 0);
}

#[test]
fn publishing_again_replaces_its_own_files_and_no_others() {
    let out = tempfile::tempdir().unwrap();
    let site = out.path().join("site");
    let path = demo();
    let path = path.to_str().unwrap();
    let arguments = [path, "--to", "site", "--without-pictures"];
    assert_eq!(publish(out.path(), &arguments).0, 0);
    std::fs::create_dir(site.join("ours")).unwrap();
    std::fs::write(site.join("ours/.htaccess"), "x").unwrap();
    std::fs::write(site.join("robots.txt"), "y").unwrap();
    assert_eq!(
        publish(
            out.path(),
            &[&arguments[..], &["--address", "https://a.example"]].concat()
        )
        .0,
        0
    );
    assert!(site.join("sitemap.xml").is_file() && site.join("oembed.json").is_file());
    assert_eq!(
        std::fs::read_to_string(site.join("ours/.htaccess")).unwrap(),
        "x"
    );
    assert_eq!(publish(out.path(), &arguments).0, 0);
    assert!(
        !site.join("sitemap.xml").exists(),
        "a file of the run before stayed"
    );
    assert_eq!(
        std::fs::read_to_string(site.join("robots.txt")).unwrap(),
        "y"
    );
    let (code, said, errors) = ganosis(out.path(), &["check", "site"]);
    assert_eq!(code, 0, "{said}{errors}");
    // A file that somebody changed is not written over.
    std::fs::write(site.join("index.html"), "mine").unwrap();
    let (code, said, _) = ganosis(out.path(), &["check", "site"]);
    assert!(code == 1 && said.contains("index.html"), "{said}");
    let (code, _, errors) = publish(out.path(), &arguments);
    assert!(code == 2 && errors.contains("index.html"), "{errors}");
    assert_eq!(
        std::fs::read_to_string(site.join("index.html")).unwrap(),
        "mine"
    );
    // Nor is a folder that is somebody else's.
    let other = out.path().join("other");
    std::fs::create_dir(&other).unwrap();
    std::fs::write(other.join("thesis.txt"), "z").unwrap();
    let (code, _, errors) = publish(out.path(), &[path, "--to", "other", "--without-pictures"]);
    assert!(code == 2 && errors.contains("did not write"), "{errors}");
    assert_eq!(files_below(&other), ["thesis.txt"]);
}

/// A run that was killed between the two renames is taken back by the next.
#[test]
fn an_interrupted_exchange_is_taken_back() {
    let out = tempfile::tempdir().unwrap();
    let path = demo();
    let arguments = [path.to_str().unwrap(), "--to", "site", "--without-pictures"];
    assert_eq!(publish(out.path(), &arguments).0, 0);
    std::fs::write(out.path().join("site/robots.txt"), "y").unwrap();
    std::fs::rename(
        out.path().join("site"),
        out.path().join(".site.before-publishing"),
    )
    .unwrap();
    assert_eq!(publish(out.path(), &arguments).0, 0);
    assert_eq!(
        std::fs::read_to_string(out.path().join("site/robots.txt")).unwrap(),
        "y"
    );
    assert!(!out.path().join(".site.before-publishing").exists());
}

#[test]
fn several_make_a_catalogue() {
    let other = copy_of_demo();
    let mut document = document_in(other.path());
    document["id"] = "second".into();
    document["title"] = "Zweites".into();
    document["languages"] = serde_json::json!(["de", "en"]);
    write_document(other.path(), &document);
    let out = tempfile::tempdir().unwrap();
    let first = demo();
    let (first, second) = (first.to_str().unwrap(), other.path().to_str().unwrap());
    let (code, _, errors) = publish(
        out.path(),
        &[
            first,
            second,
            "--to",
            "site",
            "--without-pictures",
            "--title",
            "All <bosses>",
            "--address",
            "https://a.example/",
        ],
    );
    assert_eq!(code, 0, "{errors}");
    let page = std::fs::read_to_string(out.path().join("site/index.html")).unwrap();
    assert!(page.contains("All &lt;bosses&gt;") && page.contains("objects/second/index.html"));
    let own = std::fs::read_to_string(out.path().join("site/objects/second/index.html")).unwrap();
    assert!(
        own.contains("src=\"../../internal/page.js\"") && own.contains("lang=\"de\""),
        "{own}"
    );
    let (code, _, errors) = publish(
        out.path(),
        &[first, first, "--to", "twice", "--without-pictures"],
    );
    assert!(code == 2 && errors.contains("same id"), "{errors}");
}

/// Drawn without a window: as found left of the line, the other state right of it.
#[test]
fn a_preview_shows_two_states() {
    let dossier =
        crate::exports::around("texture-transform", "TextureTransformTest.gltf", "Offset U");
    let out = tempfile::tempdir().unwrap();
    let viewer = viewer();
    let (code, _, errors) = ganosis(
        out.path(),
        &[
            "publish",
            dossier.path().to_str().unwrap(),
            "--to",
            "site",
            "--viewer",
            viewer.path().to_str().unwrap(),
        ],
    );
    assert_eq!(code, 0, "{errors}");
    let picture = image::open(out.path().join("site/preview.png"))
        .unwrap()
        .into_rgb8();
    assert_eq!(picture.dimensions(), (1200, 630));
    for y in [0, 315, 629] {
        assert_eq!(picture.get_pixel(601, y).0, [119; 3]);
    }
    // Something is drawn, and the ground behind it is one grey in both halves.
    assert_eq!(picture.get_pixel(2, 2), picture.get_pixel(1197, 2));
    let ground = *picture.get_pixel(2, 2);
    let drawn = picture.pixels().filter(|pixel| **pixel != ground).count();
    assert!(drawn > 20_000, "only {drawn} pixels are not ground");
    let page = std::fs::read_to_string(out.path().join("site/index.html")).unwrap();
    assert!(
        page.contains("og:image\" content=\"preview.png\""),
        "{page}"
    );
}
