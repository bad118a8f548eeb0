//! Spectra on a regular grid, and their reading from CSV.

/// Values at `start_nm + i * step_nm`.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    start_nm: f64,
    step_nm: f64,
    values: Vec<f64>,
}

/// What is wrong with a spectrum and what to do. `line` is that of the file, or the row from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SpectrumError {
    /// Not enough rows.
    #[error("{found} rows: a spectrum needs six or more, one wavelength and one value a row")]
    TooShort {
        /// Rows found.
        found: usize,
    },
    /// Not a number.
    #[error("line {line}: {text:?} is not two numbers: write wavelength in nm, comma, value")]
    NotNumbers {
        /// Line.
        line: usize,
        /// What stands there.
        text: String,
    },
    /// NaN, infinite or negative.
    #[error(
        "line {line}: value {value}: leave out what was not measured, and check the dark reading if values are negative"
    )]
    BadValue {
        /// Line.
        line: usize,
        /// The value.
        value: f64,
    },
    /// Descending or repeated wavelengths.
    #[error(
        "line {line}: {wavelength_nm} nm does not follow the wavelength before it: sort the rows, shortest first, each once"
    )]
    Order {
        /// Line.
        line: usize,
        /// Wavelength.
        wavelength_nm: f64,
    },
    /// A missing row.
    #[error(
        "line {line}: a step of {found_nm} nm where {step_nm} nm was expected: fill the gap or resample to an even step"
    )]
    Gap {
        /// Line.
        line: usize,
        /// The step found.
        found_nm: f64,
        /// The step of the first two rows.
        step_nm: f64,
    },
    /// Reflectance above 2.
    #[error(
        "reflectance up to {largest} looks like percent: divide by 100, 1 is the perfect diffuser"
    )]
    Percent {
        /// The largest value.
        largest: f64,
    },
}

impl Spectrum {
    /// From rows of `(line, wavelength in nm, value)`.
    pub fn from_rows(rows: &[(usize, f64, f64)]) -> Result<Self, SpectrumError> {
        if rows.len() < 6 {
            return Err(SpectrumError::TooShort { found: rows.len() });
        }
        let step_nm = rows[1].1 - rows[0].1;
        for pair in rows.windows(2) {
            let (line, wavelength_nm, _) = pair[1];
            let found_nm = wavelength_nm - pair[0].1;
            // Also refuses NaN.
            if !found_nm.is_finite() || found_nm <= 0.0 {
                return Err(SpectrumError::Order {
                    line,
                    wavelength_nm,
                });
            }
            // Tables round wavelengths to a thousandth.
            if (found_nm - step_nm).abs() > 2e-3 {
                return Err(SpectrumError::Gap {
                    line,
                    found_nm,
                    step_nm,
                });
            }
        }
        if let Some((line, _, value)) = rows.iter().find(|r| !r.2.is_finite() || r.2 < 0.0) {
            return Err(SpectrumError::BadValue {
                line: *line,
                value: *value,
            });
        }
        Ok(Self {
            start_nm: rows[0].1,
            step_nm,
            values: rows.iter().map(|r| r.2).collect(),
        })
    }

    /// From CSV: two columns, comma, semicolon or tab; `#` comments and one header line are skipped.
    pub fn from_csv(text: &str) -> Result<Self, SpectrumError> {
        let mut rows = Vec::new();
        let mut header_allowed = true;
        for (index, line) in text.lines().enumerate() {
            let line = line.trim_start_matches('\u{feff}').trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let mut cells = line
                .split([',', ';', '\t'])
                .map(|c| c.trim().parse::<f64>());
            match (cells.next(), cells.next(), cells.next()) {
                (Some(Ok(nm)), Some(Ok(value)), None) => rows.push((index + 1, nm, value)),
                (Some(Err(_)), _, _) if header_allowed => {}
                _ => {
                    return Err(SpectrumError::NotNumbers {
                        line: index + 1,
                        text: line.into(),
                    });
                }
            }
            header_allowed = false;
        }
        Self::from_rows(&rows)
    }

    /// As [`Spectrum::from_csv`], refusing what looks like percent (above 2: no common fluorescent
    /// sample doubles the light).
    pub fn reflectance_from_csv(text: &str) -> Result<Self, SpectrumError> {
        let spectrum = Self::from_csv(text)?;
        let largest = spectrum.values.iter().copied().fold(0.0, f64::max);
        if largest > 2.0 {
            Err(SpectrumError::Percent { largest })
        } else {
            Ok(spectrum)
        }
    }

    /// The values, shortest wavelength first.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// `(first, last, step)` in nm.
    pub fn grid_nm(&self) -> (f64, f64, f64) {
        let last = self.start_nm + self.step_nm * (self.values.len() - 1) as f64;
        (self.start_nm, last, self.step_nm)
    }

    /// The value at a wavelength: cubic Lagrange between four points (ASTM E308), the end values
    /// repeated beyond them (CIE 15:2018, section 7.2.3).
    pub fn at(&self, wavelength_nm: f64) -> f64 {
        let last = self.values.len() - 1;
        let position = ((wavelength_nm - self.start_nm) / self.step_nm).clamp(0.0, last as f64);
        let first = (position as usize).saturating_sub(1).min(last - 3);
        let u = position - first as f64;
        let p = &self.values[first..first + 4];
        let (a, b, c, d) = (u, u - 1.0, u - 2.0, u - 3.0);
        -p[0] * b * c * d / 6.0 + p[1] * a * c * d / 2.0 - p[2] * a * b * d / 2.0
            + p[3] * a * b * c / 6.0
    }

    /// The value by a straight line, as CIE 15 wants it for illuminants; ends repeated.
    pub fn at_linear(&self, wavelength_nm: f64) -> f64 {
        let last = self.values.len() - 1;
        let position = ((wavelength_nm - self.start_nm) / self.step_nm).clamp(0.0, last as f64);
        let i = (position as usize).min(last - 1);
        self.values[i] + (self.values[i + 1] - self.values[i]) * (position - i as f64)
    }
}
