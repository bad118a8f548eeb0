use super::*;
use crate::read::document_from_bytes;

const BEFORE: &str = r#"{
  "later": {"kept": [1, 2.5]},
  "id": "boss",
  "format": "ganosis-dossier/1",
  "revision": 4,
  "layers": [
    {"range": [0, 1], "kind": "band", "id": "uvl", "tiles": true, "wavelength_nm": null},
    {"id": "vis", "kind": "colour", "images": []}
  ]
}"#;

fn load(folder: &Path) -> Dossier {
    let bytes = std::fs::read(folder.join(FILE_NAME)).unwrap();
    document_from_bytes(&bytes).unwrap().document
}

#[test]
fn a_save_changes_only_what_was_changed() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join(FILE_NAME), BEFORE).unwrap();
    let mut document = load(dir.path());
    document.layers[1].band = Some("VIS".into());
    assert_eq!(save(dir.path(), &document).unwrap(), 5);
    let after = std::fs::read_to_string(dir.path().join(FILE_NAME)).unwrap();
    let mut wanted: Value = serde_json::from_str(BEFORE).unwrap();
    wanted["revision"] = 5.into();
    wanted["layers"][1]["band"] = "VIS".into();
    // Compared as text: the order of the fields and `1` for 1 count.
    let wanted = format!("{}\n", serde_json::to_string_pretty(&wanted).unwrap());
    assert_eq!(after, wanted);
    let names: Vec<_> = std::fs::read_dir(dir.path()).unwrap().collect();
    assert_eq!(names.len(), 1, "a temporary file was left");
}

#[test]
fn a_save_from_an_older_revision_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join(FILE_NAME), BEFORE).unwrap();
    let document = load(dir.path());
    save(dir.path(), &document).unwrap();
    let error = save(dir.path(), &document).unwrap_err();
    assert!(
        matches!(
            error,
            WriteError::Revision {
                expected: 4,
                found: 5
            }
        ),
        "{error}"
    );
    assert_eq!(load(dir.path()).revision, 5);
}

#[test]
fn what_was_read_in_part_is_not_written() {
    let dir = tempfile::tempdir().unwrap();
    let json = r#"{"format": "ganosis-dossier/1", "title": 7}"#;
    std::fs::write(dir.path().join(FILE_NAME), json).unwrap();
    let error = save(dir.path(), &load(dir.path())).unwrap_err();
    assert!(error.to_string().contains("$.title"), "{error}");
    assert_eq!(
        std::fs::read_to_string(dir.path().join(FILE_NAME)).unwrap(),
        json
    );
}

#[test]
fn an_edit_keeps_the_document_before_it_and_leftovers_are_cleared() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join(FILE_NAME), BEFORE).unwrap();
    std::fs::write(dir.path().join(".saving-a1"), "half").unwrap();
    clear_leftovers(dir.path());
    assert!(!dir.path().join(".saving-a1").exists());
    let mut document = load(dir.path());
    document.layers.clear();
    assert_eq!(save_keeping_previous(dir.path(), &document).unwrap(), 5);
    let previous = std::fs::read_to_string(dir.path().join(PREVIOUS_NAME)).unwrap();
    assert_eq!(previous, BEFORE);
    // A refused save changes neither of them.
    assert!(save_keeping_previous(dir.path(), &document).is_err());
    let previous = std::fs::read_to_string(dir.path().join(PREVIOUS_NAME)).unwrap();
    assert_eq!((previous.as_str(), load(dir.path()).revision), (BEFORE, 5));
}
