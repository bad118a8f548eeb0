//! Bytes of `dossier.json` to document and findings.

use std::collections::HashMap;

use serde_json::Value;
use serde_path_to_error::Segment;

use crate::document::{Dossier, FILE_NAME, FORMAT};
use crate::finding::{Finding, Severity, member_path};

/// Values of the wrong type that are left out before reading gives up: with
/// more than this the file is something else. A choice of ours.
const MOST_LEFT_OUT: usize = 200;

/// What reading gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The document, without the values of the wrong type.
    pub document: Dossier,
    /// The values of the wrong type.
    pub findings: Vec<Finding>,
}

/// Why nothing could be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// The bytes are not JSON (RFC 8259).
    #[error(
        "{FILE_NAME}, line {line}, column {column}: this is not valid JSON ({reason}). Correct this place, or restore the file from a copy."
    )]
    Syntax {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What was expected.
        reason: String,
    },
    /// The JSON is something else.
    #[error(
        "{FILE_NAME} is not a dossier: its \"format\" is {found}, and should be \"{FORMAT}\". Choose the dossier.json of a dossier."
    )]
    NotADossier {
        /// What stands at `format`.
        found: String,
    },
    /// A version of the format that came later.
    #[error(
        "{FILE_NAME} is of the format \"{found}\"; this version reads \"{FORMAT}\". Use a version of the program that reads it."
    )]
    OtherVersion {
        /// What stands at `format`.
        found: String,
    },
    /// So much is of the wrong type that it cannot be meant.
    #[error(
        "{FILE_NAME}: more than {MOST_LEFT_OUT} values are of the wrong type, the first at {first}. Compare the file with the published schema."
    )]
    TooMuchWrong {
        /// JSONPath of the first.
        first: String,
    },
}

/// Reads `dossier.json`.
///
/// # Errors
/// [`ReadError`] if `bytes` are not JSON or not a dossier of format 1. A
/// value of the wrong type is no error: it is left out and reported.
pub fn document_from_bytes(bytes: &[u8]) -> Result<Reading, ReadError> {
    document_from_value(value_from_bytes(bytes)?)
}

/// Parses JSON; a byte order mark is passed over (RFC 8259 section 8.1).
pub(crate) fn value_from_bytes(bytes: &[u8]) -> Result<Value, ReadError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    serde_json::from_slice(bytes).map_err(|error| ReadError::Syntax {
        line: error.line(),
        column: error.column(),
        reason: without_position(&error.to_string()),
    })
}

/// `serde_json` ends its messages with " at line L column C".
fn without_position(message: &str) -> String {
    let end = message.rfind(" at line ").unwrap_or(message.len());
    message[..end].to_owned()
}

/// Reads a document from JSON that is parsed already.
///
/// # Errors
/// As [`document_from_bytes`].
pub fn document_from_value(mut value: Value) -> Result<Reading, ReadError> {
    expect_format(&value)?;
    let mut findings: Vec<Finding> = Vec::new();
    let mut tries: HashMap<String, usize> = HashMap::new();
    loop {
        let error = match serde_path_to_error::deserialize::<_, Dossier>(&value) {
            Ok(mut document) => {
                document.left_out = findings.iter().map(|f| f.path.clone()).collect();
                return Ok(Reading { document, findings });
            }
            Err(error) => error,
        };
        let place: Vec<Segment> = error.path().iter().cloned().collect();
        let path = json_path(&place);
        let tried = tries.entry(path.clone()).or_default();
        if *tried == 0 {
            findings.push(wrong_type(path, &error.inner().to_string()));
        }
        let done = leave_out(&mut value, &place, *tried);
        *tried += 1;
        if !done || findings.len() > MOST_LEFT_OUT {
            let first = findings.swap_remove(0).path;
            return Err(ReadError::TooMuchWrong { first });
        }
    }
}

fn expect_format(value: &Value) -> Result<(), ReadError> {
    match value.get("format") {
        Some(Value::String(format)) if format == FORMAT => Ok(()),
        Some(Value::String(found)) if found.starts_with("ganosis-dossier/") => {
            Err(ReadError::OtherVersion {
                found: found.clone(),
            })
        }
        Some(found) => Err(ReadError::NotADossier {
            found: found.to_string().chars().take(60).collect(),
        }),
        None => Err(ReadError::NotADossier {
            found: "missing".to_owned(),
        }),
    }
}

fn wrong_type(path: String, reason: &str) -> Finding {
    Finding {
        rule: "wrong-type",
        severity: Severity::Error,
        file: FILE_NAME.to_owned(),
        path,
        message: format!("a value is of the wrong type and was left out: {reason}"),
        advice: "Correct the value as the published schema has it. Until then this dossier \
                 can be read but not saved, so that the value is not lost."
            .to_owned(),
    }
}

fn json_path(place: &[Segment]) -> String {
    place.iter().fold("$".to_owned(), |path, part| match part {
        Segment::Seq { index } => format!("{path}[{index}]"),
        Segment::Map { key } => member_path(&path, key),
        Segment::Enum { variant } => member_path(&path, variant),
        Segment::Unknown => format!("{path}[?]"),
    })
}

/// Takes the value at `place` out. An element of a list is first replaced by
/// an empty object, then by an empty string, so that the places of the others
/// stay; if neither fits (`tried` counts), the list as a whole goes.
fn leave_out(value: &mut Value, place: &[Segment], tried: usize) -> bool {
    let Some((last, parents)) = place.split_last() else {
        return false;
    };
    let Some(parent) = parents.iter().try_fold(&mut *value, |at, part| match part {
        Segment::Seq { index } => at.get_mut(*index),
        Segment::Map { key } => at.get_mut(key.as_str()),
        Segment::Enum { .. } | Segment::Unknown => None,
    }) else {
        return leave_out(value, parents, 0);
    };
    match (last, parent) {
        (Segment::Map { key }, Value::Object(fields)) => fields.shift_remove(key).is_some(),
        (Segment::Seq { index }, Value::Array(list)) if tried < 2 && *index < list.len() => {
            list[*index] = match tried {
                0 => Value::Object(serde_json::Map::new()),
                _ => Value::String(String::new()),
            };
            true
        }
        _ => leave_out(value, parents, 0),
    }
}

impl Dossier {
    /// The document as JSON, in the order of the format's fields.
    #[must_use]
    pub fn to_value(&self) -> Value {
        // Serialising plain data with string keys cannot fail.
        serde_json::to_value(self).unwrap_or_default()
    }

    /// A document from JSON; see [`document_from_value`].
    ///
    /// # Errors
    /// As [`document_from_bytes`].
    pub fn from_value(value: Value) -> Result<Reading, ReadError> {
        document_from_value(value)
    }
}

#[cfg(test)]
mod tests;
