//! Spectra on a regular grid, their checking, and their reading from CSV.

mod csv;
mod error;
mod interpolate;

pub use error::SpectrumError;
pub use interpolate::Interpolation;
pub(crate) use interpolate::{lagrange_terms, linear_terms};

/// Values at `start_nm + i * step_nm`; six or more, none negative.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    start_nm: f64,
    step_nm: f64,
    values: Vec<f64>,
}

/// Tables round wavelengths to a thousandth.
const EVEN_NM: f64 = 2e-3;

/// Spectrometers with a grating have steps that grow or shrink slowly: where no step is above this,
/// straight lines between the readings are as good as the readings (common practice, no source).
const FINE_NM: f64 = 2.5;

/// A step this many times the usual one is a missing row.
const GAP: f64 = 1.6;

impl Spectrum {
    /// From rows of `(line, wavelength in nm, value)`.
    ///
    /// Steps must be even; uneven ones that are fine (2.5 nm or less) are resampled to 1 nm.
    pub fn from_rows(rows: &[(usize, f64, f64)]) -> Result<Self, SpectrumError> {
        if rows.len() < 6 {
            return Err(SpectrumError::TooShort { found: rows.len() });
        }
        check_wavelengths(rows)?;
        if let Some((line, _, value)) = rows.iter().find(|r| !r.2.is_finite() || r.2 < 0.0) {
            return Err(SpectrumError::BadValue {
                line: *line,
                value: *value,
            });
        }
        let step_nm = median_step_nm(rows);
        let mut even = true;
        for pair in rows.windows(2) {
            let found_nm = pair[1].1 - pair[0].1;
            even &= (found_nm - step_nm).abs() <= EVEN_NM;
            let missing = found_nm > GAP * step_nm;
            if missing || (!even && (step_nm > FINE_NM || found_nm > FINE_NM)) {
                return Err(SpectrumError::Gap {
                    line: pair[1].0,
                    found_nm,
                    step_nm,
                });
            }
        }
        if !even {
            return Ok(resampled(rows));
        }
        Ok(Self {
            start_nm: rows[0].1,
            // Over the whole length, so that rounded wavelengths do not add up.
            step_nm: (rows[rows.len() - 1].1 - rows[0].1) / (rows.len() - 1) as f64,
            values: rows.iter().map(|r| r.2).collect(),
        })
    }

    /// From values on a regular grid.
    pub fn from_grid(start_nm: f64, step_nm: f64, values: Vec<f64>) -> Result<Self, SpectrumError> {
        let rows: Vec<_> = (values.iter().enumerate())
            .map(|(i, v)| (i + 1, start_nm + step_nm * i as f64, *v))
            .collect();
        Self::from_rows(&rows)
    }

    /// As the crate's own tables need it: nothing is checked.
    pub(crate) const fn from_grid_unchecked(start_nm: f64, step_nm: f64, values: Vec<f64>) -> Self {
        Self {
            start_nm,
            step_nm,
            values,
        }
    }

    /// Whether a colour can be computed from it as a reflectance: a fraction, in steps of at most
    /// 20 nm (ASTM E308), over 400 to 700 nm at least (what the portable instruments measure).
    pub fn check_reflectance(&self) -> Result<(), SpectrumError> {
        // No common fluorescent sample doubles the light.
        if self.largest() > 2.0 {
            return Err(SpectrumError::Percent {
                largest: self.largest(),
            });
        }
        self.check_range()
    }

    /// Whether it can be the power of a lamp: as [`Spectrum::check_reflectance`], on any scale.
    pub fn check_lamp(&self) -> Result<(), SpectrumError> {
        if self.largest() <= 0.0 {
            return Err(SpectrumError::Dark);
        }
        self.check_range()
    }

    fn check_range(&self) -> Result<(), SpectrumError> {
        let (first_nm, last_nm, step_nm) = self.grid_nm();
        if step_nm > 20.0 + EVEN_NM {
            return Err(SpectrumError::Coarse { step_nm });
        }
        if first_nm > 400.0 + EVEN_NM || last_nm < 700.0 - EVEN_NM {
            return Err(SpectrumError::Range { first_nm, last_nm });
        }
        Ok(())
    }

    /// The largest value.
    pub fn largest(&self) -> f64 {
        self.values.iter().copied().fold(0.0, f64::max)
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

    /// The value at a wavelength by ASTM E2022; the end values hold beyond the ends.
    pub fn at(&self, wavelength_nm: f64) -> f64 {
        self.at_by(wavelength_nm, Interpolation::Lagrange)
    }

    /// The value by a straight line, as CIE 15 wants it for illuminants; the end values hold beyond
    /// the ends.
    pub fn at_linear(&self, wavelength_nm: f64) -> f64 {
        self.at_by(wavelength_nm, Interpolation::Linear)
    }

    /// The value at a wavelength by a method of choice; the end values hold beyond the ends.
    pub fn at_by(&self, wavelength_nm: f64, method: Interpolation) -> f64 {
        let position = (wavelength_nm - self.start_nm) / self.step_nm;
        let last = self.values.len() - 1;
        let sum = |terms: &[(usize, f64)]| terms.iter().map(|(i, f)| f * self.values[*i]).sum();
        match method {
            Interpolation::Linear => sum(&linear_terms(position, last)),
            Interpolation::Lagrange => sum(&lagrange_terms(position, last)),
            Interpolation::Sprague => interpolate::sprague(&self.values, position),
        }
    }
}

fn check_wavelengths(rows: &[(usize, f64, f64)]) -> Result<(), SpectrumError> {
    // From the far ultraviolet to the end of shortwave infrared.
    let unit = |r: &&(usize, f64, f64)| r.1.is_finite() && !(150.0..=3000.0).contains(&r.1);
    if let Some((line, wavelength, _)) = rows.iter().find(unit) {
        return Err(SpectrumError::Unit {
            line: *line,
            wavelength: *wavelength,
        });
    }
    // Also takes NaN as out of order.
    let rises = |pair: &[(usize, f64, f64)]| pair[1].1 > pair[0].1;
    if rows.windows(2).all(|pair| pair[1].1 < pair[0].1) {
        return Err(SpectrumError::Descending {
            first_nm: rows[0].1,
            last_nm: rows[rows.len() - 1].1,
        });
    }
    match rows.windows(2).find(|pair| !rises(pair)) {
        Some(pair) => Err(SpectrumError::Order {
            line: pair[1].0,
            wavelength_nm: pair[1].1,
        }),
        None => Ok(()),
    }
}

fn median_step_nm(rows: &[(usize, f64, f64)]) -> f64 {
    let mut steps: Vec<f64> = rows.windows(2).map(|p| p[1].1 - p[0].1).collect();
    steps.sort_by(f64::total_cmp);
    steps[steps.len() / 2]
}

/// At every whole nanometre within the rows, by straight lines.
fn resampled(rows: &[(usize, f64, f64)]) -> Spectrum {
    let (first, last) = (rows[0].1.ceil(), rows[rows.len() - 1].1.floor());
    let mut above = 1;
    let values = (0..=(last - first) as usize).map(|i| {
        let nm = first + i as f64;
        while above + 1 < rows.len() && rows[above].1 < nm {
            above += 1;
        }
        let (low, high) = (rows[above - 1], rows[above]);
        low.2 + (high.2 - low.2) * (nm - low.1) / (high.1 - low.1)
    });
    Spectrum {
        start_nm: first,
        step_nm: 1.0,
        values: values.collect(),
    }
}
