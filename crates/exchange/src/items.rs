//! Annotations out of a file, whatever it is that holds them.

use serde_json::Value;

use crate::CONTEXT;

/// Most annotations of one file. A choice of ours.
const MOST_ITEMS: usize = 100_000;

/// Why no annotation could be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// The bytes are not JSON (RFC 8259).
    #[error(
        "line {line}, column {column}: this is not valid JSON ({reason}). Export the annotations again as JSON-LD."
    )]
    Syntax {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What was expected.
        reason: String,
    },
    /// The JSON holds no annotation.
    #[error(
        "there are no Web Annotations in it: {reason}. Choose a file with an Annotation, an AnnotationPage or an AnnotationCollection."
    )]
    NoAnnotations {
        /// What is there instead.
        reason: String,
    },
    /// More than one file should hold.
    #[error("it holds more than {MOST_ITEMS} annotations. Split it.")]
    TooMany,
}

fn none(reason: impl Into<String>) -> ReadError {
    let reason = reason.into();
    ReadError::NoAnnotations { reason }
}

/// The annotations of a file: one, a list, a page, or a collection with its
/// pages within.
pub(crate) fn items(bytes: &[u8]) -> Result<Vec<Value>, ReadError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let value: Value = serde_json::from_slice(bytes).map_err(|error| ReadError::Syntax {
        line: error.line(),
        column: error.column(),
        reason: without_position(&error.to_string()),
    })?;
    let mut found = Vec::new();
    gather(value, &mut found)?;
    if found.len() > MOST_ITEMS {
        return Err(ReadError::TooMany);
    }
    Ok(found)
}

/// `serde_json` ends its messages with " at line L column C".
fn without_position(message: &str) -> String {
    let end = message.rfind(" at line ").unwrap_or(message.len());
    message[..end].to_owned()
}

fn gather(value: Value, found: &mut Vec<Value>) -> Result<(), ReadError> {
    match value {
        Value::Array(list) => list.into_iter().try_for_each(|item| gather(item, found)),
        Value::Object(_) if has_type(&value, "Annotation") => {
            found.push(value);
            Ok(())
        }
        Value::Object(_) => gather_from(value, found),
        _ => Err(none("a value that is no object")),
    }
}

fn gather_from(mut value: Value, found: &mut Vec<Value>) -> Result<(), ReadError> {
    let elsewhere = "its annotations are at another address; save that page as a file";
    if has_type(&value, "AnnotationPage") {
        let items = value["items"].take();
        let next = value["next"].take();
        gather(items, found)?;
        return match next {
            Value::Null => Ok(()),
            Value::Object(_) => gather(next, found),
            _ => Err(none(elsewhere)),
        };
    }
    if has_type(&value, "AnnotationCollection") {
        return match value["first"].take() {
            Value::Null => Ok(()),
            first @ Value::Object(_) => gather(first, found),
            _ => Err(none(elsewhere)),
        };
    }
    let has_context = value.get("@context").is_some();
    match value.get_mut("@graph") {
        Some(graph) => gather(graph.take(), found),
        None if !has_context => Err(none(format!(
            "it has neither a type nor the context {CONTEXT}"
        ))),
        None => Err(none("its type is another one")),
    }
}

/// True if `type` is a class or holds it.
pub(crate) fn has_type(value: &Value, class: &str) -> bool {
    list(value.get("type")).any(|found| found == class)
}

/// A value that may be one or a list of several (section 2.2 of the model).
pub(crate) fn list(value: Option<&Value>) -> impl Iterator<Item = &Value> {
    let several = match value {
        Some(Value::Array(list)) => list.as_slice(),
        Some(Value::Null) | None => &[],
        Some(one) => std::slice::from_ref(one),
    };
    several.iter()
}
