//! Spectra from CSV: a column of wavelengths and one or more of values.

use super::{Spectrum, SpectrumError};
use crate::decimal::decimal;

/// How a line is cut: the separator, and whether a comma is the decimal sign.
fn separator(line: &str) -> char {
    // A tab or a semicolon cannot be part of a number; a comma can.
    [';', '\t']
        .into_iter()
        .find(|s| line.contains(*s))
        .unwrap_or(',')
}

fn number(cell: &str, separator: char) -> Option<f64> {
    let cell = cell.trim().trim_matches('"');
    if separator == ',' {
        decimal(cell)
    } else {
        decimal(&cell.replace(',', "."))
    }
}

impl Spectrum {
    /// From CSV: two columns, separated by comma, semicolon or tab; `#` comments and one header line
    /// are skipped. Where a semicolon or tab separates, decimal commas are read.
    pub fn from_csv(text: &str) -> Result<Self, SpectrumError> {
        let mut rows = Vec::new();
        let mut header_allowed = true;
        for (index, line) in text.lines().enumerate() {
            let line = line.trim_start_matches('\u{feff}').trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let separator = separator(line);
            let cells: Vec<&str> = line.split(separator).collect();
            let numbers: Vec<Option<f64>> = cells.iter().map(|c| number(c, separator)).collect();
            match numbers[..] {
                [Some(nm), Some(value)] => rows.push((index + 1, nm, value)),
                [None, ..] if header_allowed => {}
                _ => return Err(not_two_numbers(index + 1, line, &numbers)),
            }
            header_allowed = false;
        }
        Self::from_rows(&rows)
    }

    /// As [`Spectrum::from_csv`], with [`Spectrum::check_reflectance`], and refusing a header that
    /// says percent.
    pub fn reflectance_from_csv(text: &str) -> Result<Self, SpectrumError> {
        let spectrum = Self::from_csv(text)?;
        if says_percent(text) {
            return Err(SpectrumError::Percent {
                largest: spectrum.largest(),
            });
        }
        spectrum.check_reflectance()?;
        Ok(spectrum)
    }

    /// As [`Spectrum::from_csv`], with [`Spectrum::check_lamp`].
    pub fn lamp_from_csv(text: &str) -> Result<Self, SpectrumError> {
        let spectrum = Self::from_csv(text)?;
        spectrum.check_lamp()?;
        Ok(spectrum)
    }
}

/// `400,0,512` or `400,0,0,512`: whole numbers where two decimal ones were meant.
fn not_two_numbers(line: usize, text: &str, numbers: &[Option<f64>]) -> SpectrumError {
    let whole = |n: &Option<f64>| n.is_some_and(|v| v.fract() == 0.0);
    let text = text.to_owned();
    if (3..=4).contains(&numbers.len()) && numbers.iter().all(whole) {
        SpectrumError::DecimalComma { line, text }
    } else {
        SpectrumError::NotNumbers { line, text }
    }
}

/// Whether the header, the first line that is no comment and no row of numbers, has a percent sign.
fn says_percent(text: &str) -> bool {
    let mut lines = text
        .lines()
        .map(|l| l.trim_start_matches('\u{feff}').trim());
    let first = lines.find(|l| !l.is_empty() && !l.starts_with('#'));
    first.is_some_and(|line| line.contains('%') || line.to_ascii_lowercase().contains("percent"))
}
