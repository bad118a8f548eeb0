//! A CSV of swatches: CIELAB, CSS colours, or spectra in columns or rows.

use ganosis_colorimetry::css::CssColour;
use ganosis_colorimetry::{LabD50, Spectrum};

use super::sources::{Known, Swatch};
use crate::trouble::Trouble;

/// A table with the line of each row.
struct Table {
    header: Vec<String>,
    rows: Vec<(usize, Vec<String>)>,
    decimal_comma: bool,
}

/// What is wrong, before the file is named.
struct Wrong {
    what: String,
    advice: &'static str,
}

fn wrong(what: impl Into<String>, advice: &'static str) -> Wrong {
    Wrong {
        what: what.into(),
        advice,
    }
}

const SHAPES: &str = "Give a header with L, a, b; or with colour (CSS syntax); or spectra in columns after wavelength_nm; or in rows under wavelengths.";

/// Reads the bytes of the file `path`.
pub(super) fn read(path: &str, bytes: &[u8]) -> anyhow::Result<Vec<Swatch>> {
    let swatches = String::from_utf8(bytes.to_vec())
        .map_err(|_| wrong("it is not text in UTF-8", "Save it as CSV, UTF-8."))
        .and_then(|text| table(text.trim_start_matches('\u{feff}')))
        .and_then(|table| swatches(&table));
    swatches.map_err(|wrong| Trouble::error(wrong.what, path, wrong.advice))
}

fn table(text: &str) -> Result<Table, Wrong> {
    let mut lines = text.lines().map(str::trim);
    let first = lines.find(|l| !l.is_empty() && !l.starts_with('#'));
    let first = first.ok_or_else(|| wrong("it holds no rows", SHAPES))?;
    let separator = [b';', b'\t', b',']
        .into_iter()
        .find(|s| first.as_bytes().contains(s))
        .unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .comment(Some(b'#'))
        .flexible(true)
        .has_headers(false)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| {
            wrong(
                format!("a row could not be read: {error}"),
                "Save it again as CSV.",
            )
        })?;
        let line = record.position().map_or(0, |p| p.line() as usize);
        if record.iter().any(|cell| !cell.is_empty()) {
            rows.push((line, record.iter().map(str::to_owned).collect()));
        }
    }
    let (_, header): (usize, Vec<String>) = rows.remove(0);
    if rows.is_empty() {
        return Err(wrong("it has a header and no rows", SHAPES));
    }
    Ok(Table {
        header,
        rows,
        decimal_comma: separator != b',',
    })
}

impl Table {
    fn number(&self, cell: &str) -> Option<f64> {
        if self.decimal_comma {
            cell.replace(',', ".").parse().ok()
        } else {
            cell.parse().ok()
        }
    }

    fn column(&self, names: &[&str]) -> Option<usize> {
        self.header
            .iter()
            .position(|h| names.contains(&h.to_lowercase().as_str()))
    }

    /// The wavelength that a heading names: `400`, `400nm`, `R400`, `400 nm`.
    fn wavelength(&self, heading: &str) -> Option<f64> {
        let digits = heading.trim_start_matches(['R', 'r']);
        let digits = digits.trim_end_matches("nm").trim_end();
        let value = self.number(digits)?;
        (150.0..=3000.0).contains(&value).then_some(value)
    }

    fn cell<'a>(&self, row: &'a [String], column: usize) -> &'a str {
        row.get(column).map_or("", String::as_str)
    }

    /// Name of a row: from its column of names, else its line.
    fn name(&self, line: usize, row: &[String], column: Option<usize>) -> String {
        match column.map(|c| self.cell(row, c)) {
            Some(name) if !name.is_empty() => name.to_owned(),
            _ => format!("line {line}"),
        }
    }

    fn says_percent(&self) -> bool {
        self.header
            .iter()
            .any(|h| h.contains('%') || h.to_lowercase().contains("percent"))
    }
}

fn swatches(table: &Table) -> Result<Vec<Swatch>, Wrong> {
    let names = table.column(&[
        "name", "id", "title", "patch", "swatch", "sample", "pigment",
    ]);
    if let Some(column) = table.column(&["colour", "color"]) {
        return css_rows(table, column, names);
    }
    let lab = [["l", "l*"], ["a", "a*"], ["b", "b*"]].map(|n| table.column(&n));
    if let [Some(l), Some(a), Some(b)] = lab {
        let names = names.or_else(|| first_other(table, &[l, a, b]));
        return lab_rows(table, [l, a, b], names);
    }
    let heads: Vec<Option<f64>> = table.header.iter().map(|h| table.wavelength(h)).collect();
    if heads.iter().flatten().count() >= 6 {
        let columns: Vec<usize> = (0..heads.len()).filter(|i| heads[*i].is_some()).collect();
        let names = names.or_else(|| first_other(table, &columns));
        return spectra_in_rows(table, &heads, names);
    }
    let first = table.header.first().map(|h| h.to_lowercase());
    let first_says = first.is_some_and(|h| h.contains("wavelength") || h == "nm" || h == "lambda");
    let numeric = |(_, row): &(usize, Vec<String>)| table.number(table.cell(row, 0)).is_some();
    if first_says || (table.rows.len() >= 6 && table.rows.iter().all(numeric)) {
        return spectra_in_columns(table);
    }
    Err(wrong(
        format!(
            "its header {:?} tells neither colours nor spectra",
            table.header.join(", ")
        ),
        SHAPES,
    ))
}

fn first_other(table: &Table, taken: &[usize]) -> Option<usize> {
    (0..table.header.len()).find(|i| !taken.contains(i))
}

fn css_rows(table: &Table, column: usize, names: Option<usize>) -> Result<Vec<Swatch>, Wrong> {
    let swatch = |(line, row): &(usize, Vec<String>)| {
        let text = table.cell(row, column);
        let colour: CssColour = text.parse().map_err(|error| {
            wrong(
                format!("line {line}, {text:?}: {error}"),
                "Correct the colour; a colour with commas stands in quotes.",
            )
        })?;
        Ok(Swatch {
            name: names.map_or_else(|| text.to_owned(), |c| table.name(*line, row, Some(c))),
            known: Known::Lab(colour.to_lab()),
        })
    };
    table.rows.iter().map(swatch).collect()
}

fn lab_rows(
    table: &Table,
    columns: [usize; 3],
    names: Option<usize>,
) -> Result<Vec<Swatch>, Wrong> {
    const ADVICE: &str = "Write L* as 0 to 100, a* and b* as numbers, decimal point; or separate columns by semicolon for decimal commas.";
    let swatch = |(line, row): &(usize, Vec<String>)| {
        let mut lab = [0.0; 3];
        for (value, column) in lab.iter_mut().zip(columns) {
            let (cell, heading) = (table.cell(row, column), &table.header[column]);
            let number = table
                .number(cell)
                .filter(|v| v.is_finite() && v.abs() < 1000.0);
            *value = number.ok_or_else(|| {
                wrong(
                    format!("line {line}, column {heading}: {cell:?} is no number"),
                    ADVICE,
                )
            })?;
        }
        // A white standard reads a little above 100.
        if !(-1.0..=105.0).contains(&lab[0]) {
            let what = format!("line {line}: L* of {} is not within 0 to 100", lab[0]);
            return Err(wrong(what, ADVICE));
        }
        Ok(Swatch {
            name: table.name(*line, row, names),
            known: Known::Lab(LabD50::from_array(lab)),
        })
    };
    let swatches: Vec<Swatch> = table.rows.iter().map(swatch).collect::<Result<_, _>>()?;
    let fraction = |s: &Swatch| matches!(&s.known, Known::Lab(lab) if lab.l <= 1.0);
    if swatches.len() > 1 && swatches.iter().all(fraction) {
        let what = "no L* is above 1: it seems to be written as a fraction";
        return Err(wrong(what, ADVICE));
    }
    Ok(swatches)
}

const SPECTRUM: &str = "Correct the spectrum; nothing was converted.";

fn reflectance(table: &Table, name: String, rows: &[(usize, f64, f64)]) -> Result<Swatch, Wrong> {
    let spectrum = Spectrum::from_rows(rows).and_then(|s| s.check_reflectance().map(|()| s));
    let spectrum =
        spectrum.map_err(|error| wrong(format!("spectrum of {name}: {error}"), SPECTRUM))?;
    if table.says_percent() {
        let what = format!("spectrum of {name}: the header says percent");
        return Err(wrong(
            what,
            "Divide by 100: 1 is the perfect diffuser. Nothing was converted.",
        ));
    }
    Ok(Swatch {
        name,
        known: Known::Spectrum(spectrum),
    })
}

fn cell_number(table: &Table, line: usize, cell: &str, what: &str) -> Result<f64, Wrong> {
    table.number(cell).ok_or_else(|| {
        let advice = if cell.is_empty() {
            "Leave out wavelengths that were not measured at the ends; fill or resample gaps within."
        } else {
            "Write numbers with a decimal point; or separate columns by semicolon for decimal commas."
        };
        wrong(format!("line {line}, {what}: {cell:?} is no number"), advice)
    })
}

fn spectra_in_columns(table: &Table) -> Result<Vec<Swatch>, Wrong> {
    let mut wavelengths = Vec::new();
    for (line, row) in &table.rows {
        wavelengths.push(cell_number(table, *line, table.cell(row, 0), "wavelength")?);
        if row.len() != table.header.len() {
            let what = format!(
                "line {line}: {} cells under a header of {}",
                row.len(),
                table.header.len()
            );
            return Err(wrong(
                what,
                "Give every row one cell a column; decimal commas need semicolons between columns.",
            ));
        }
    }
    (1..table.header.len())
        .map(|column| {
            let name = table.header[column].clone();
            let mut rows = Vec::new();
            for ((line, row), nm) in table.rows.iter().zip(&wavelengths) {
                let value = cell_number(table, *line, table.cell(row, column), &name)?;
                rows.push((*line, *nm, value));
            }
            reflectance(table, name, &rows)
        })
        .collect()
}

fn spectra_in_rows(
    table: &Table,
    heads: &[Option<f64>],
    names: Option<usize>,
) -> Result<Vec<Swatch>, Wrong> {
    let swatch = |(line, row): &(usize, Vec<String>)| {
        let name = table.name(*line, row, names);
        let mut rows = Vec::new();
        for (column, nm) in heads.iter().enumerate() {
            if let Some(nm) = nm {
                let cell = table.cell(row, column);
                rows.push((
                    *line,
                    *nm,
                    cell_number(table, *line, cell, &format!("{nm} nm"))?,
                ));
            }
        }
        reflectance(table, name, &rows)
    };
    table.rows.iter().map(swatch).collect()
}
