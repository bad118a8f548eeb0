//! Reading of the tables in `tests/reference`.

use std::collections::HashMap;
use std::path::Path;

/// Column to text.
pub(crate) type Row = HashMap<String, String>;

/// A reference table: comments left out, the first line is the header.
pub(crate) fn table(name: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/reference")
        .join(name);
    let text = std::fs::read_to_string(path).expect("reference table");
    let mut lines = text.lines().filter(|l| !l.starts_with('#')).map(split);
    let header = lines.next().expect("header");
    lines
        .map(|row| header.iter().cloned().zip(row).collect())
        .collect()
}

fn split(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().expect("a cell").push(c),
        }
    }
    cells
}

/// The number in a column.
pub(crate) fn number(row: &Row, column: &str) -> f64 {
    row[column]
        .parse()
        .unwrap_or_else(|_| panic!("{column} of {row:?}"))
}
