//! Finds the values of the wrong type, one by one, and leaves them out.
//!
//! Reading with a path kept for every value would more than double the code that a visitor's
//! browser loads; so a document is read plainly, and only one that cannot be read is searched here.

use serde::Deserialize as _;
use serde_json::{Map, Value};

use super::{MOST_LEFT_OUT, ReadError, too_much_wrong, wrong_type};
use crate::document::Dossier;
use crate::finding::{Finding, member_path};

/// One step of a place in a document.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Step {
    Key(String),
    Index(usize),
}

/// Takes every value of the wrong type out of `value` and reports it.
///
/// # Errors
/// [`ReadError::TooMuchWrong`].
pub(super) fn leave_out_wrong_types(
    value: &mut Value,
    findings: &mut Vec<Finding>,
) -> Result<(), ReadError> {
    let Some(fields) = value.as_object_mut() else {
        return Err(too_much_wrong(findings));
    };
    let keys: Vec<String> = fields.keys().cloned().collect();
    for key in keys {
        let Some(field) = fields.get_mut(&key) else {
            continue;
        };
        // Entries of a list are tried each for itself, so that a long list is gone through once.
        let keep = match field {
            Value::Array(list) => {
                let mut keep = true;
                for (index, entry) in list.iter_mut().enumerate() {
                    let alone = Value::Array(vec![entry.take()]);
                    match mended(&key, alone, Some(index), findings)? {
                        Some(Value::Array(mut one)) if one.len() == 1 => *entry = one.remove(0),
                        _ => {
                            keep = false;
                            break;
                        }
                    }
                }
                keep
            }
            other => match mended(&key, other.take(), None, findings)? {
                Some(good) => {
                    *other = good;
                    true
                }
                None => false,
            },
        };
        if !keep {
            fields.shift_remove(&key);
        }
    }
    Ok(())
}

/// The field `key` with what is wrong in it left out; `index` is the number of its only entry.
fn mended(
    key: &str,
    field: Value,
    index: Option<usize>,
    findings: &mut Vec<Finding>,
) -> Result<Option<Value>, ReadError> {
    let mut probe = Value::Object(Map::from_iter([(key.to_owned(), field)]));
    let mut last: Option<(Vec<Step>, usize)> = None;
    while let Some(message) = failure(&probe) {
        let place = locate(&mut probe, &message);
        let tried = match &last {
            Some((before, tried)) if *before == place => tried + 1,
            _ => 0,
        };
        if tried == 0 {
            findings.push(wrong_type(json_path(&place, index), &message));
        }
        if findings.len() > MOST_LEFT_OUT || !leave_out(&mut probe, &place, tried) {
            return Err(too_much_wrong(findings));
        }
        last = Some((place, tried));
    }
    Ok(probe.as_object_mut().and_then(|o| o.shift_remove(key)))
}

fn failure(probe: &Value) -> Option<String> {
    Dossier::deserialize(probe).err().map(|e| e.to_string())
}

/// Where reading stopped with `message`. Values are read in their order, up to the first that does
/// not fit: another value in a place after that one changes nothing, in the place itself it changes
/// the message.
fn locate(probe: &mut Value, message: &str) -> Vec<Step> {
    let mut place: Vec<Step> = Vec::new();
    // A list of the wrong length is wrong as a whole (the words are those of `serde`).
    let whole = message.starts_with("invalid length");
    loop {
        let children = match at(probe, &place) {
            Some(Value::Object(fields)) => fields.keys().cloned().map(Step::Key).collect(),
            Some(Value::Array(list)) => (0..list.len()).map(Step::Index).collect(),
            _ => Vec::new(),
        };
        let matters = |step: &Step, probe: &mut Value| {
            let mut there = place.clone();
            there.push(step.clone());
            let Some(slot) = at(probe, &there) else {
                return false;
            };
            // Neither a number, nor a text, nor a list is ever read from one of these.
            let strange = match slot {
                Value::Null => Value::Bool(true),
                _ => Value::Null,
            };
            let kept = std::mem::replace(slot, strange);
            let changed = failure(probe).as_deref() != Some(message);
            if let Some(slot) = at(probe, &there) {
                *slot = kept;
            }
            changed
        };
        let next = children.iter().rev().find(|step| matters(step, probe));
        match next {
            Some(step) if !whole || is_container(at(probe, &place), step) => {
                place.push(step.clone());
            }
            _ => return place,
        }
    }
}

/// Whether the child at `step` has children of its own.
fn is_container(parent: Option<&mut Value>, step: &Step) -> bool {
    let child = match (parent, step) {
        (Some(Value::Object(fields)), Step::Key(key)) => fields.get(key),
        (Some(Value::Array(list)), Step::Index(index)) => list.get(*index),
        _ => None,
    };
    matches!(child, Some(Value::Object(_) | Value::Array(_)))
}

fn at<'a>(value: &'a mut Value, place: &[Step]) -> Option<&'a mut Value> {
    place.iter().try_fold(value, |at, step| match step {
        Step::Key(key) => at.get_mut(key.as_str()),
        Step::Index(index) => at.get_mut(*index),
    })
}

/// JSONPath (RFC 9535); the entry that was tried alone has the number `index` in its list.
fn json_path(place: &[Step], index: Option<usize>) -> String {
    place
        .iter()
        .enumerate()
        .fold("$".to_owned(), |path, (depth, step)| match step {
            Step::Key(key) => member_path(&path, key),
            Step::Index(own) if depth == 1 => format!("{path}[{}]", index.unwrap_or(*own)),
            Step::Index(own) => format!("{path}[{own}]"),
        })
}

/// Takes the value at `place` out. An element of a list is first replaced by an empty object, then
/// by an empty string, so that the places of the others stay; if neither fits (`tried` counts), the
/// list as a whole goes.
fn leave_out(value: &mut Value, place: &[Step], tried: usize) -> bool {
    let Some((last, parents)) = place.split_last() else {
        return false;
    };
    match (last, at(value, parents)) {
        (Step::Key(key), Some(Value::Object(fields))) => fields.shift_remove(key).is_some(),
        (Step::Index(index), Some(Value::Array(list))) if tried < 2 && *index < list.len() => {
            list[*index] = match tried {
                0 => Value::Object(Map::new()),
                _ => Value::String(String::new()),
            };
            true
        }
        _ => leave_out(value, parents, 0),
    }
}
