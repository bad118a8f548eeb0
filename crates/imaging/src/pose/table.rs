//! Tables of numbers by the names of their columns.

use crate::error::{ImagingError, Result};

/// More rows than anybody marks.
const MOST: usize = 5000;

/// A row of a table.
pub(super) struct Row<const N: usize> {
    /// Where it is, for messages.
    pub(super) place: String,
    /// The column `name`; the number of the row where that is empty or missing.
    pub(super) name: String,
    /// The columns asked for.
    pub(super) numbers: [f64; N],
}

/// Reads a CSV whose head names `columns` in any order; others are passed over, lines that begin with
/// # are comments.
///
/// # Errors
/// A column is missing, or a value is no finite number.
pub(super) fn rows<const N: usize>(
    text: &str,
    file: &str,
    columns: [&str; N],
) -> Result<Vec<Row<N>>> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let advice = format!("Write a CSV with the columns name,{}.", columns.join(","));
    let bad = |what: String, place: String| ImagingError::new(what, place, advice.clone());
    let head = reader
        .headers()
        .map_err(|e| bad(format!("the table cannot be read: {e}"), file.to_owned()))?
        .clone();
    let column = |name: &str| head.iter().position(|c| c == name);
    let mut at = [0; N];
    for (at, name) in at.iter_mut().zip(columns) {
        *at = column(name).ok_or_else(|| {
            let found: Vec<&str> = head.iter().collect();
            let found = found.join(", ");
            let what = format!("the table has no column {name}; it has {found}");
            bad(what, file.to_owned())
        })?;
    }
    let name_at = column("name");
    let mut rows = Vec::new();
    for record in reader.records() {
        let record =
            record.map_err(|e| bad(format!("a row cannot be read: {e}"), file.to_owned()))?;
        let line = record.position().map_or(0, csv::Position::line);
        let place = format!("{file}, line {line}");
        let mut numbers = [0.0; N];
        for ((number, &at), column) in numbers.iter_mut().zip(&at).zip(columns) {
            let text = record.get(at).unwrap_or_default();
            let read = text.parse::<f64>().ok().filter(|v| v.is_finite());
            *number = read.ok_or_else(|| {
                bad(
                    format!("{column} is “{text}”, which is no number"),
                    place.clone(),
                )
            })?;
        }
        let name = name_at.and_then(|k| record.get(k)).unwrap_or_default();
        rows.push(Row {
            name: match name {
                "" => (rows.len() + 1).to_string(),
                name => name.to_owned(),
            },
            place,
            numbers,
        });
        if rows.len() > MOST {
            return Err(bad(
                format!("the table has more than {MOST} rows"),
                file.to_owned(),
            ));
        }
    }
    Ok(rows)
}
