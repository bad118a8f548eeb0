//! Tables of published values: CSV with a header row and `#` comments, of the
//! form RFC 4180 gives, without line breaks inside a field.

use std::path::Path;

/// A table held as text, with the line each row stands on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    columns: Vec<String>,
    rows: Vec<(usize, Vec<String>)>,
    name: String,
}

/// What is wrong with a table.
#[derive(Debug, thiserror::Error)]
pub enum TableError {
    /// The file could not be read.
    #[error("{file}: {source}")]
    File {
        /// Path.
        file: String,
        /// Why.
        source: std::io::Error,
    },
    /// A row has another number of fields than the header.
    #[error("{file}:{line}: {got} fields, but the header names {wanted}")]
    Fields {
        /// Name of the table.
        file: String,
        /// Line, from 1.
        line: usize,
        /// Fields in the header.
        wanted: usize,
        /// Fields in the row.
        got: usize,
    },
    /// There is no header or no row: nothing would be checked.
    #[error("{file}: no rows")]
    Empty {
        /// Name of the table.
        file: String,
    },
    /// A column is not there.
    #[error("{file}: no column {column}; there are {columns}")]
    Column {
        /// Name of the table.
        file: String,
        /// Column asked for.
        column: String,
        /// Columns there are.
        columns: String,
    },
    /// A field is not a number.
    #[error("{file}:{line}: column {column}: {field:?} is not a number")]
    Number {
        /// Name of the table.
        file: String,
        /// Line, from 1.
        line: usize,
        /// Column asked for.
        column: String,
        /// What stands there.
        field: String,
    },
}

/// One row of a [`Table`].
#[derive(Clone, Copy, Debug)]
pub struct Row<'table> {
    table: &'table Table,
    index: usize,
}

impl Table {
    /// Reads the file at `path`.
    ///
    /// # Errors
    /// The file cannot be read or is not a table.
    pub fn read(path: &Path) -> Result<Self, TableError> {
        let file = path.display().to_string();
        match std::fs::read_to_string(path) {
            Ok(text) => Self::parse(&file, &text),
            Err(source) => Err(TableError::File { file, source }),
        }
    }

    /// Reads `text`; `name` is for messages.
    ///
    /// # Errors
    /// The text has no rows, or rows of unequal length.
    pub fn parse(name: &str, text: &str) -> Result<Self, TableError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut lines = text
            .lines()
            .enumerate()
            .map(|(index, line)| (index + 1, line))
            .filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'));
        let empty = || TableError::Empty {
            file: name.to_owned(),
        };
        let columns = lines
            .next()
            .map(|(_, line)| fields(line))
            .ok_or_else(empty)?;
        let rows: Vec<_> = lines.map(|(line, text)| (line, fields(text))).collect();
        if rows.is_empty() {
            return Err(empty());
        }
        if let Some((line, row)) = rows.iter().find(|(_, row)| row.len() != columns.len()) {
            return Err(TableError::Fields {
                file: name.to_owned(),
                line: *line,
                wanted: columns.len(),
                got: row.len(),
            });
        }
        Ok(Self {
            columns,
            rows,
            name: name.to_owned(),
        })
    }

    /// The rows from the top; never none.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        (0..self.rows.len()).map(|index| Row { table: self, index })
    }

    fn column(&self, column: &str) -> Result<usize, TableError> {
        self.columns
            .iter()
            .position(|name| name == column)
            .ok_or_else(|| TableError::Column {
                file: self.name.clone(),
                column: column.to_owned(),
                columns: self.columns.join(", "),
            })
    }
}

impl<'table> Row<'table> {
    /// The field in `column`.
    ///
    /// # Errors
    /// There is no such column.
    pub fn text(&self, column: &str) -> Result<&'table str, TableError> {
        let position = self.table.column(column)?;
        Ok(&self.table.rows[self.index].1[position])
    }

    /// The field in `column` as a number.
    ///
    /// # Errors
    /// There is no such column, or no number in it.
    pub fn number(&self, column: &str) -> Result<f64, TableError> {
        let field = self.text(column)?;
        field.trim().parse().map_err(|_| TableError::Number {
            file: self.table.name.clone(),
            line: self.line(),
            column: column.to_owned(),
            field: field.to_owned(),
        })
    }

    /// Line in the file, from 1.
    pub fn line(&self) -> usize {
        self.table.rows[self.index].0
    }
}

/// Splits a line at commas outside double quotes (RFC 4180, section 2).
fn fields(line: &str) -> Vec<String> {
    let (mut list, mut field, mut quoted) = (Vec::new(), String::new(), false);
    let mut characters = line.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '"' if quoted && characters.peek() == Some(&'"') => {
                field.push('"');
                characters.next();
            }
            '"' => quoted = !quoted,
            ',' if !quoted => list.push(std::mem::take(&mut field)),
            other => field.push(other),
        }
    }
    list.push(field);
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_quotes_are_read_as_rfc_4180_says() {
        let table =
            Table::parse("t", "# source\nname,l\n\n\"a, \"\"b\"\"\",12.5\n").expect("a table");
        let row = table.rows().next().expect("one row");
        assert_eq!(row.text("name").expect("there"), "a, \"b\"");
        assert_eq!(row.number("l").expect("a number"), 12.5);
        assert_eq!(row.line(), 4);
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        let short = Table::parse("t", "a,b\n1,2\n3\n").expect_err("short row");
        assert_eq!(short.to_string(), "t:3: 1 fields, but the header names 2");
        assert_eq!(
            Table::parse("t", "# only\n")
                .expect_err("empty")
                .to_string(),
            "t: no rows"
        );
        let table = Table::parse("t", "a\nx\n").expect("a table");
        let row = table.rows().next().expect("one row");
        assert_eq!(
            row.number("a").expect_err("text").to_string(),
            "t:2: column a: \"x\" is not a number"
        );
        assert_eq!(
            row.text("b").expect_err("absent").to_string(),
            "t: no column b; there are a"
        );
    }
}
