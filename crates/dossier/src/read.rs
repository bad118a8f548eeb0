//! Bytes of `dossier.json` to document and findings.

use serde::Deserialize as _;
use serde_json::Value;

use crate::document::{Dossier, FILE_NAME, FORMAT};
use crate::finding::{Finding, Severity};

mod mend;

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
    let mut document = match Dossier::deserialize(&value) {
        Ok(document) => document,
        Err(_) => {
            mend::leave_out_wrong_types(&mut value, &mut findings)?;
            Dossier::deserialize(&value).map_err(|_| too_much_wrong(&findings))?
        }
    };
    document.left_out = findings.iter().map(|f| f.path.clone()).collect();
    Ok(Reading { document, findings })
}

fn too_much_wrong(findings: &[Finding]) -> ReadError {
    let first = findings.first().map_or("$", |f| f.path.as_str());
    ReadError::TooMuchWrong {
        first: first.to_owned(),
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
