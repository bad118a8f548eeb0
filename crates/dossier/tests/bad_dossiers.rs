//! Every file in `tests/bad/dossiers` gets a message; none breaks the reader.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use ganosis_dossier::document_from_bytes;

#[test]
fn every_bad_dossier_gets_a_message() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/bad/dossiers");
    let mut count = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "json") {
            continue;
        }
        count += 1;
        match document_from_bytes(&std::fs::read(&path).unwrap()) {
            Err(error) => {
                let message = error.to_string();
                assert!(
                    message.contains("dossier.json"),
                    "{}: {message}",
                    path.display()
                );
            }
            Ok(reading) => {
                assert!(
                    !reading.findings.is_empty(),
                    "{} was taken as good",
                    path.display()
                );
                assert!(reading.findings.iter().all(|f| f.path.starts_with("$.")));
            }
        }
    }
    assert!(count >= 9, "only {count} files were found in {folder}");
}
