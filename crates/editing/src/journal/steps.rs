//! Steps over a JSON document, and what takes them back.

use serde::Deserialize;
use serde_json::{Map, Value};

use super::Refused;
use super::pointer::{index, parts};

/// What a step does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Operation {
    /// Puts a value in the place of another; a field that is not there is made.
    Set,
    /// Puts a value into a list, before the one that is there; `-` is the list's end. A list that is
    /// not there is made.
    Insert,
    /// Takes a value out.
    Remove,
}

/// One change of a document.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Step {
    /// What to do.
    pub op: Operation,
    /// Where, as a JSON Pointer (RFC 6901).
    pub path: String,
    /// The value; not looked at by `remove`.
    #[serde(default)]
    pub value: Value,
}

/// A step that was done.
#[derive(Debug, Clone)]
pub(super) struct Applied {
    /// Of the list or object in which it was done.
    parent: Vec<String>,
    change: Change,
}

#[derive(Debug, Clone)]
struct Change {
    slot: Slot,
    /// None: it was not there.
    before: Option<Value>,
    /// None: it is there no more.
    after: Option<Value>,
}

#[derive(Debug, Clone)]
enum Slot {
    /// The whole document.
    Root,
    /// A field, with its place among the others.
    Member { key: String, at: usize },
    /// A place in a list.
    Item { at: usize },
}

/// Does one step; everything that it did goes to `applied`, so that it can be taken back.
pub(super) fn apply(
    root: &mut Value,
    step: &Step,
    applied: &mut Vec<Applied>,
) -> Result<(), Refused> {
    let refused = |reason| Refused::Place {
        path: step.path.clone(),
        reason,
    };
    let place = parts(&step.path).ok_or_else(|| refused("this is no JSON Pointer"))?;
    let Some((last, parent)) = place.split_last() else {
        if step.op != Operation::Set {
            return Err(refused("the whole document can only be set"));
        }
        let change = Change {
            slot: Slot::Root,
            before: Some(root.clone()),
            after: Some(step.value.clone()),
        };
        put(root, &[], change, applied);
        return Ok(());
    };
    if step.op == Operation::Insert
        && (last == "-" || last == "0")
        && let Some((list, above)) = parent.split_last()
        && let Some(Value::Object(fields)) = at(root, above)
        && !fields.contains_key(list.as_str())
    {
        let slot = Slot::Member {
            key: list.clone(),
            at: fields.len(),
        };
        let change = Change {
            slot,
            before: None,
            after: Some(Value::Array(Vec::new())),
        };
        put(root, above, change, applied);
    }
    let change = match at(root, parent).ok_or_else(|| refused("there is no such place"))? {
        Value::Object(fields) => member(fields, last, step).map_err(refused)?,
        Value::Array(list) => item(list, last, step).map_err(refused)?,
        _ => return Err(refused("this value has nothing below it")),
    };
    put(root, parent, change, applied);
    Ok(())
}

fn put(root: &mut Value, parent: &[String], change: Change, applied: &mut Vec<Applied>) {
    let done = Applied {
        parent: parent.to_vec(),
        change,
    };
    done.do_again(root);
    applied.push(done);
}

fn member(fields: &Map<String, Value>, key: &str, step: &Step) -> Result<Change, &'static str> {
    let found = fields.keys().position(|name| name == key);
    let removes = step.op == Operation::Remove;
    if removes && found.is_none() {
        return Err("there is no such field");
    }
    Ok(Change {
        slot: Slot::Member {
            key: key.to_owned(),
            at: found.unwrap_or(fields.len()),
        },
        before: fields.get(key).cloned(),
        after: (!removes).then(|| step.value.clone()),
    })
}

fn item(list: &[Value], part: &str, step: &Step) -> Result<Change, &'static str> {
    let inserts = step.op == Operation::Insert;
    let place = if part == "-" && inserts {
        Some(list.len())
    } else {
        index(part)
    };
    let at = place.ok_or("this is no place in a list")?;
    if at >= list.len() + usize::from(inserts) {
        return Err("the list is shorter");
    }
    Ok(Change {
        slot: Slot::Item { at },
        before: (!inserts).then(|| list[at].clone()),
        after: (step.op != Operation::Remove).then(|| step.value.clone()),
    })
}

fn at<'a>(root: &'a mut Value, place: &[String]) -> Option<&'a mut Value> {
    place.iter().try_fold(root, |value, part| match value {
        Value::Object(fields) => fields.get_mut(part.as_str()),
        Value::Array(list) => list.get_mut(index(part)?),
        _ => None,
    })
}

impl Applied {
    pub(super) fn do_again(&self, root: &mut Value) {
        self.go(root, &self.change.before, &self.change.after);
    }

    pub(super) fn take_back(&self, root: &mut Value) {
        self.go(root, &self.change.after, &self.change.before);
    }

    /// From one value to the other. The places hold: steps are taken back in the order opposite to
    /// that in which they were done.
    fn go(&self, root: &mut Value, from: &Option<Value>, to: &Option<Value>) {
        let Some(parent) = at(root, &self.parent) else {
            return;
        };
        match (&self.change.slot, parent) {
            (Slot::Root, whole) => *whole = to.clone().unwrap_or_default(),
            (Slot::Member { key, at }, Value::Object(fields)) => match to {
                Some(value) if from.is_some() => {
                    fields.insert(key.clone(), value.clone());
                }
                Some(value) => {
                    fields.shift_insert((*at).min(fields.len()), key.clone(), value.clone());
                }
                None => {
                    fields.shift_remove(key.as_str());
                }
            },
            (Slot::Item { at }, Value::Array(list)) => match to {
                Some(value) if from.is_some() => {
                    if let Some(item) = list.get_mut(*at) {
                        *item = value.clone();
                    }
                }
                Some(value) => list.insert((*at).min(list.len()), value.clone()),
                None if *at < list.len() => {
                    list.remove(*at);
                }
                None => {}
            },
            _ => {}
        }
    }
}
