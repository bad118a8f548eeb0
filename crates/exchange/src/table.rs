//! Claims and observations as tables: CSV by RFC 4180, with the description
//! that "Metadata Vocabulary for Tabular Data" (W3C, 17 December 2015) asks
//! for, and back.
//!
//! A text in several languages has a column a language (`title@en`); lists of
//! ids are separated by spaces, since no id has one; numbers of a colour have a
//! column each. What has no column of its own (mixtures, reviews, attachments,
//! fields of later versions) is JSON in the column `rest`, so that nothing is lost.
//!
//! A text that a spreadsheet would take for a formula has an apostrophe before
//! it, which is taken off again on the way back.

use std::collections::{BTreeMap, BTreeSet};

use ganosis_dossier::Dossier;
use ganosis_dossier::document::{Claim, Evidence};
use serde_json::{Map, Value, json};

use crate::error::ImportError;

/// Name of the table of claims.
pub const CLAIMS: &str = "claims.csv";
/// Name of the table of observations.
pub const EVIDENCE: &str = "evidence.csv";
/// Name of the description of both.
pub const DESCRIPTION: &str = "tables-metadata.json";

/// How the value of a field is written.
#[derive(Clone, Copy, PartialEq)]
enum Cell {
    /// A word, id or date.
    Word,
    /// A text, plain or by language.
    Text,
    /// Ids or symbols, separated by spaces.
    List,
    /// So many numbers, a column each.
    Numbers(&'static [&'static str]),
}

/// A field with its place in the record and how it is written.
type Column = (&'static str, Cell);

const OF_CLAIMS: &[Column] = &[
    ("id", Cell::Word),
    ("regions", Cell::List),
    ("parts", Cell::List),
    ("states", Cell::List),
    ("pigment", Cell::Word),
    ("over", Cell::Word),
    ("lab_d50", Cell::Numbers(&["L", "a", "b"])),
    ("finish", Cell::Word),
    ("certainty", Cell::Word),
    ("evidence", Cell::List),
    ("author", Cell::Word),
    ("date", Cell::Word),
    ("argument", Cell::Text),
];

const OF_EVIDENCE: &[Column] = &[
    ("id", Cell::Word),
    ("technique", Cell::Word),
    ("title", Cell::Text),
    ("result", Cell::Text),
    ("region", Cell::Word),
    ("anchor.sheet", Cell::Word),
    ("anchor.uv", Cell::Numbers(&["u", "v"])),
    ("anchor.position_m", Cell::Numbers(&["x", "y", "z"])),
    ("anchor.normal", Cell::Numbers(&["x", "y", "z"])),
    ("instrument", Cell::Text),
    ("settings", Cell::Text),
    ("date", Cell::Word),
    ("operator", Cell::Word),
    ("elements", Cell::List),
    ("identified", Cell::List),
    ("response", Cell::Word),
    ("caution", Cell::Text),
];

/// The column of what has none.
const REST: &str = "rest";

/// Both tables and their description, by name.
#[must_use]
pub fn tables(document: &Dossier) -> Vec<(&'static str, Vec<u8>)> {
    let claims = document
        .claims
        .iter()
        .map(|claim| serde_json::to_value(claim).unwrap_or_default());
    let evidence = document
        .evidence
        .iter()
        .map(|item| serde_json::to_value(item).unwrap_or_default());
    let (claims, claim_columns) = table(claims.collect(), OF_CLAIMS);
    let (evidence, evidence_columns) = table(evidence.collect(), OF_EVIDENCE);
    let describe = |name: &str, columns: &[String]| {
        json!({"url": name, "tableSchema": {"primaryKey": "id", "columns": columns.iter().map(|column| {
            let mut entry = json!({"titles": column, "name": column.replace(['@', '.'], "_")});
            if let Some((_, language)) = column.split_once('@') {
                entry["lang"] = language.into();
            }
            entry
        }).collect::<Vec<_>>()}})
    };
    let description = json!({
        "@context": "http://www.w3.org/ns/csvw",
        "tables": [describe(CLAIMS, &claim_columns), describe(EVIDENCE, &evidence_columns)],
    });
    let mut text = serde_json::to_vec_pretty(&description).unwrap_or_default();
    text.push(b'\n');
    vec![(CLAIMS, claims), (EVIDENCE, evidence), (DESCRIPTION, text)]
}

/// A table and the names of its columns.
fn table(mut records: Vec<Value>, columns: &[Column]) -> (Vec<u8>, Vec<String>) {
    let mut names: Vec<String> = Vec::new();
    for (field, cell) in columns {
        match cell {
            Cell::Word | Cell::List => names.push((*field).to_owned()),
            Cell::Numbers(parts) => {
                names.extend(parts.iter().map(|part| format!("{field}.{part}")))
            }
            Cell::Text => {
                let tags: BTreeSet<String> = records
                    .iter()
                    .filter_map(|record| record.get(*field)?.as_object())
                    .flat_map(|texts| texts.keys().cloned())
                    .collect();
                names.push((*field).to_owned());
                names.extend(tags.into_iter().map(|tag| format!("{field}@{tag}")));
            }
        }
    }
    names.push(REST.to_owned());
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    // Writing to memory does not fail.
    let _ = writer.write_record(&names);
    for record in &mut records {
        let mut cells: BTreeMap<String, String> = BTreeMap::new();
        for (field, cell) in columns {
            take(record, field, *cell, &mut cells);
        }
        let left = record.as_object().is_some_and(|fields| !fields.is_empty());
        if left {
            cells.insert(REST.to_owned(), record.to_string());
        }
        let row = names
            .iter()
            .map(|name| cells.get(name).map_or("", String::as_str));
        let _ = writer.write_record(row);
    }
    (writer.into_inner().unwrap_or_default(), names)
}

/// Moves a field from a record to its cells, if it can be told there whole.
fn take(record: &mut Value, field: &str, cell: Cell, cells: &mut BTreeMap<String, String>) {
    let (holder, name) = match field.split_once('.') {
        Some((outer, name)) => match record.get_mut(outer).and_then(Value::as_object_mut) {
            Some(holder) => (holder, name),
            None => return,
        },
        None => match record.as_object_mut() {
            Some(holder) => (holder, field),
            None => return,
        },
    };
    let told = match (cell, holder.get(name)) {
        // An empty text is not told apart from none: it stays in the rest.
        (Cell::Word | Cell::Text, Some(Value::String(text))) if !text.is_empty() => {
            cells.insert(field.to_owned(), guarded(text));
            true
        }
        (Cell::Text, Some(Value::Object(texts))) => {
            let told = |text: &Value| text.as_str().is_some_and(|text| !text.is_empty());
            let all = !texts.is_empty() && texts.values().all(told);
            if all {
                for (tag, text) in texts {
                    let text = guarded(text.as_str().unwrap_or_default());
                    cells.insert(format!("{field}@{tag}"), text);
                }
            }
            all
        }
        (Cell::List, Some(Value::Array(list))) => {
            let words: Vec<&str> = list.iter().filter_map(Value::as_str).collect();
            let whole = words.len() == list.len()
                && !words.is_empty()
                && words
                    .iter()
                    .all(|word| !word.is_empty() && !word.contains(char::is_whitespace));
            if whole {
                cells.insert(field.to_owned(), guarded(&words.join(" ")));
            }
            whole
        }
        (Cell::Numbers(parts), Some(Value::Array(list))) => {
            let whole = list.len() == parts.len() && list.iter().all(Value::is_number);
            if whole {
                for (part, number) in parts.iter().zip(list) {
                    cells.insert(format!("{field}.{part}"), number.to_string());
                }
            }
            whole
        }
        _ => false,
    };
    if told {
        holder.shift_remove(name);
        let outer = field.split_once('.').map(|(outer, _)| outer);
        if let Some(outer) = outer
            && holder.is_empty()
            && let Some(record) = record.as_object_mut()
        {
            record.shift_remove(outer);
        }
    }
}

/// What begins a formula in spreadsheets, and the apostrophe that prevents it.
fn guarded(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) => rest,
        _ => text,
    }
}

/// Claims and observations from tables like ours, into a copy of `document`:
/// a row whose id is known replaces what was said, others are added. Gives the
/// document and what was changed or added, a line each.
///
/// # Errors
/// [`ImportError`] if a table cannot be read; nothing is taken in then.
pub fn merge_tables(
    document: &Dossier,
    claims: Option<&[u8]>,
    evidence: Option<&[u8]>,
) -> Result<(Dossier, Vec<String>), ImportError> {
    let mut value = document.to_value();
    let mut said = Vec::new();
    for (list, bytes, columns) in [
        ("claims", claims, OF_CLAIMS),
        ("evidence", evidence, OF_EVIDENCE),
    ] {
        let Some(bytes) = bytes else { continue };
        let rows = rows(bytes, columns)
            .map_err(|reason| ImportError::Unreadable(format!("the table of {list}: {reason}")))?;
        let mut entries: Vec<Value> = value[list].as_array().cloned().unwrap_or_default();
        for row in rows {
            match entries.iter_mut().find(|entry| entry["id"] == row["id"]) {
                Some(entry) if canonical(list, entry) == canonical(list, &row) => {}
                Some(entry) => {
                    said.push(format!(
                        "changed: {list} {}",
                        row["id"].as_str().unwrap_or("")
                    ));
                    *entry = row;
                }
                None => {
                    said.push(format!("new: {list} {}", row["id"].as_str().unwrap_or("")));
                    entries.push(row);
                }
            }
        }
        value[list] = entries.into();
    }
    let reading = Dossier::from_value(value).map_err(|e| ImportError::Unreadable(e.to_string()))?;
    match reading.findings.first() {
        Some(finding) => Err(ImportError::Unreadable(format!(
            "a cell is not what it should be: {}: {}",
            finding.path, finding.message
        ))),
        None => Ok((reading.document, said)),
    }
}

/// A record as the types have it, so that the order of fields does not count.
fn canonical(list: &str, record: &Value) -> Option<Value> {
    if list == "claims" {
        let claim: Claim = serde_json::from_value(record.clone()).ok()?;
        serde_json::to_value(claim).ok()
    } else {
        let item: Evidence = serde_json::from_value(record.clone()).ok()?;
        serde_json::to_value(item).ok()
    }
}

fn rows(bytes: &[u8], columns: &[Column]) -> Result<Vec<Value>, String> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new().flexible(false).from_reader(bytes);
    let names = reader.headers().map_err(|e| e.to_string())?.clone();
    if !names.iter().any(|name| name == "id") {
        return Err("it has no column id".to_owned());
    }
    let mut rows = Vec::new();
    for (number, row) in reader.records().enumerate() {
        let row = row.map_err(|e| e.to_string())?;
        let at = |reason: String| format!("row {}: {reason}", number + 2);
        let cells: BTreeMap<&str, &str> = names
            .iter()
            .zip(row.iter())
            .filter(|(_, cell)| !cell.is_empty())
            .collect();
        let mut record = match cells.get(REST) {
            Some(rest) => {
                serde_json::from_str(rest).map_err(|e| at(format!("column {REST}: {e}")))?
            }
            None => json!({}),
        };
        if !record.is_object() {
            return Err(at(format!("column {REST} is no JSON object")));
        }
        for (field, cell) in columns {
            put(&mut record, field, *cell, &cells).map_err(at)?;
        }
        if record["id"].as_str().is_none_or(str::is_empty) {
            return Err(at("it has no id".to_owned()));
        }
        rows.push(record);
    }
    Ok(rows)
}

fn put(
    record: &mut Value,
    field: &str,
    cell: Cell,
    cells: &BTreeMap<&str, &str>,
) -> Result<(), String> {
    let value = match cell {
        Cell::Word => cells.get(field).map(|text| Value::from(unguarded(text))),
        Cell::List => cells.get(field).map(|text| {
            let words = unguarded(text).split_whitespace();
            words.map(Value::from).collect()
        }),
        Cell::Text => {
            let prefix = format!("{field}@");
            let texts: Map<String, Value> = cells
                .iter()
                .filter_map(|(name, text)| {
                    let tag = name.strip_prefix(&prefix)?;
                    Some((tag.to_owned(), unguarded(text).into()))
                })
                .collect();
            match cells.get(field) {
                _ if !texts.is_empty() => Some(texts.into()),
                Some(text) => Some(unguarded(text).into()),
                None => None,
            }
        }
        Cell::Numbers(parts) => {
            let numbers: Vec<&&str> = parts
                .iter()
                .filter_map(|part| cells.get(format!("{field}.{part}").as_str()))
                .collect();
            match numbers.len() {
                0 => None,
                n if n == parts.len() => {
                    let parse = |text: &&&str| -> Result<Value, String> {
                        serde_json::from_str(text)
                            .ok()
                            .filter(Value::is_number)
                            .ok_or_else(|| format!("{field}: \"{text}\" is no number"))
                    };
                    Some(
                        numbers
                            .iter()
                            .map(parse)
                            .collect::<Result<Vec<_>, _>>()?
                            .into(),
                    )
                }
                _ => return Err(format!("{field} needs {} numbers", parts.len())),
            }
        }
    };
    if let Some(value) = value {
        match field.split_once('.') {
            Some((outer, _)) if !matches!(record[outer], Value::Null | Value::Object(_)) => {
                return Err(format!("{outer} in the column {REST} is no JSON object"));
            }
            Some((outer, name)) => record[outer][name] = value,
            None => record[field] = value,
        }
    }
    Ok(())
}
