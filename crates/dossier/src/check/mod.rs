//! The whole check of a dossier: every rule that can be tested without
//! judging the argument. Nothing here changes anything.

mod clearance;
mod files;
mod ids;
mod language;
mod references;
mod values;

use std::collections::HashMap;

use serde_json::Value;

use crate::document::{Dossier, FILE_NAME};
use crate::finding::{Finding, Severity};
use crate::gltf_json;
use crate::read::{ReadError, document_from_bytes};
use crate::store::{Store, StoreError};

pub use language::{is_known_language, is_well_formed};

/// What the check found.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// The document; `None` for a single glTF file.
    pub document: Option<Dossier>,
    /// What is wrong, in the order of the file.
    pub findings: Vec<Finding>,
}

/// Why nothing could be checked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CheckError {
    /// `dossier.json` could not be fetched.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// `dossier.json` is not a dossier.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The file is no glTF.
    #[error("{file} is not a glTF 2.0 file. Export it again from the program that made it.")]
    NotGltf {
        /// The file.
        file: String,
    },
}

/// Checks the dossier in a store, files included.
///
/// # Errors
/// [`CheckError`] if there is no document to check.
pub fn check(store: &dyn Store) -> Result<Report, CheckError> {
    let reading = document_from_bytes(&store.read(FILE_NAME)?)?;
    let mut found = Findings(reading.findings);
    let document = reading.document;
    check_document(&document, &mut found);
    files::check(&document, store, &mut found);
    Ok(Report {
        document: Some(document),
        findings: found.0,
    })
}

/// Checks a single glTF file: that it is one, and that the files it names are there.
///
/// # Errors
/// [`CheckError`] if it cannot be read as glTF.
pub fn check_model(store: &dyn Store, file: &str) -> Result<Report, CheckError> {
    let gltf = gltf_json::json_of(&store.read(file)?).ok_or_else(|| CheckError::NotGltf {
        file: file.to_owned(),
    })?;
    let mut found = Findings(Vec::new());
    files::check_outside_files(&gltf, file, "", store, &mut found);
    Ok(Report {
        document: None,
        findings: found.0,
    })
}

/// The errors that a changed document would bring in: those of the document
/// alone that `before` did not have, and files that only `after` names and
/// that are not there. Errors that were there already do not count: a dossier
/// with errors can be mended bit by bit. No image is opened.
#[must_use]
pub fn new_errors(before: &Dossier, after: &Dossier, store: &dyn Store) -> Vec<Finding> {
    let errors = |document: &Dossier| {
        let mut found = Findings(Vec::new());
        check_document(document, &mut found);
        let mut errors = found.0;
        errors.retain(|finding| finding.severity == Severity::Error);
        errors
    };
    // Places move when something is put in before them; rule and message stay.
    let mut known: HashMap<(&str, String), usize> = HashMap::new();
    for finding in errors(before) {
        *known.entry((finding.rule, finding.message)).or_default() += 1;
    }
    let mut found = Findings(errors(after));
    found.0.retain(|finding| {
        let left = known.get_mut(&(finding.rule, finding.message.clone()));
        match left {
            Some(left) if *left > 0 => {
                *left -= 1;
                false
            }
            _ => true,
        }
    });
    files::check_new(before, after, store, &mut found);
    found.0
}

/// Every file that a document names, in its order. What a surface of several
/// files names is not among them.
#[must_use]
pub fn named_files(document: &Dossier) -> Vec<&str> {
    let named = document.named_files();
    named.into_iter().map(|(_, file)| file).collect()
}

fn check_document(document: &Dossier, found: &mut Findings) {
    ids::check(document, found);
    references::check(document, found);
    values::check(document, found);
    language::check(document, found);
    clearance::check(document, found);
}

/// Findings being gathered.
struct Findings(Vec<Finding>);

impl Findings {
    fn error(
        &mut self,
        rule: &'static str,
        path: impl Into<String>,
        message: String,
        advice: &str,
    ) {
        self.add(rule, Severity::Error, FILE_NAME, path, message, advice);
    }

    fn warning(
        &mut self,
        rule: &'static str,
        path: impl Into<String>,
        message: String,
        advice: &str,
    ) {
        self.add(rule, Severity::Warning, FILE_NAME, path, message, advice);
    }

    fn add(
        &mut self,
        rule: &'static str,
        severity: Severity,
        file: &str,
        path: impl Into<String>,
        message: String,
        advice: &str,
    ) {
        self.0.push(Finding {
            rule,
            severity,
            file: file.to_owned(),
            path: path.into(),
            message,
            advice: advice.to_owned(),
        });
    }
}

/// Visits every object of a JSON value with its JSONPath.
fn walk(value: &Value, path: &str, visit: &mut dyn FnMut(&str, &serde_json::Map<String, Value>)) {
    match value {
        Value::Object(fields) => {
            visit(path, fields);
            for (name, value) in fields {
                walk(value, &crate::finding::member_path(path, name), visit);
            }
        }
        Value::Array(list) => {
            for (index, value) in list.iter().enumerate() {
                walk(value, &format!("{path}[{index}]"), visit);
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests;
