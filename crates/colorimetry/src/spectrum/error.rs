//! What can be wrong with a spectrum.

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
    /// A decimal comma in a file whose columns are separated by commas.
    #[error(
        "line {line}: {text:?} seems to have decimal commas between commas: separate the columns by semicolon or tab (then decimal commas are read), or write decimal points"
    )]
    DecimalComma {
        /// Line.
        line: usize,
        /// What stands there.
        text: String,
    },
    /// NaN, infinite or negative.
    #[error(
        "line {line}: value {value:.4}: leave out what was not measured, and check the dark reading if values are negative"
    )]
    BadValue {
        /// Line.
        line: usize,
        /// The value.
        value: f64,
    },
    /// Wavelengths in another unit.
    #[error(
        "line {line}: wavelength {wavelength} cannot be in nanometres: convert from micrometres (times 1000), ångström (divide by 10) or wavenumbers (10,000,000 divided by cm⁻¹), and sort, shortest first"
    )]
    Unit {
        /// Line.
        line: usize,
        /// What stands there.
        wavelength: f64,
    },
    /// From long to short.
    #[error(
        "the wavelengths run from long ({first_nm} nm) to short ({last_nm} nm): sort the rows, shortest first"
    )]
    Descending {
        /// First.
        first_nm: f64,
        /// Last.
        last_nm: f64,
    },
    /// A wavelength out of order or repeated.
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
        /// The step of most rows.
        step_nm: f64,
    },
    /// Steps too wide for colour.
    #[error(
        "steps of {step_nm} nm: colour is computed from steps of 1 to 20 nm (ASTM E308); measure again or name the spectrum as not for colour"
    )]
    Coarse {
        /// The step.
        step_nm: f64,
    },
    /// Too little of the visible range.
    #[error(
        "only {first_nm} to {last_nm} nm: colour needs 400 to 700 nm at the least, 380 to 780 nm to be exact"
    )]
    Range {
        /// First.
        first_nm: f64,
        /// Last.
        last_nm: f64,
    },
    /// Reflectance above 2, or a header that says percent.
    #[error(
        "reflectance up to {largest} looks like percent: divide by 100, 1 is the perfect diffuser"
    )]
    Percent {
        /// The largest value.
        largest: f64,
    },
    /// Nothing but zeros.
    #[error("every value is zero: nothing was measured, or the wrong column was exported")]
    Dark,
}
