//! Values between the measured ones.
//!
//! CIE 15:2018, section 7.2.1 allows a third-order polynomial, a spline, or the fifth-order method of
//! Sprague, which CIE 167:2005 recommends for even steps; ASTM E308 and E2022 use the polynomial of
//! Lagrange: third order inside, second order in the first and the last interval.

/// How values between the measured ones are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Interpolation {
    /// A straight line: what CIE 15 wants for illuminants that are given at 5 nm.
    Linear,
    /// ASTM E2022.
    #[default]
    Lagrange,
    /// T. B. Sprague, 1880; CIE 167:2005.
    Sprague,
}

/// Where between two measured values a wavelength lies: the index of the lower one, and 0..=1.
/// Beyond the ends the end value holds (CIE 15:2018, section 7.2.3).
#[inline]
fn place(position: f64, last: usize) -> (usize, f64) {
    let position = position.clamp(0.0, last as f64);
    let i = (position as usize).min(last - 1);
    (i, position - i as f64)
}

/// Indices and factors such that the value at `position` (in steps from the first) is the sum of
/// `factor * value[index]`, for the two methods that need no more than four values.
pub(crate) fn lagrange_terms(position: f64, last: usize) -> [(usize, f64); 4] {
    let (i, t) = place(position, last);
    if i == 0 || i == last - 1 {
        // E2022, first and last interval: three points.
        let first = if i == 0 { 0 } else { last - 2 };
        let u = t + (i - first) as f64;
        return [
            (first, 0.5 * (u - 1.0) * (u - 2.0)),
            (first + 1, -u * (u - 2.0)),
            (first + 2, 0.5 * u * (u - 1.0)),
            (first, 0.0),
        ];
    }
    let u = t + 1.0;
    let (a, b, c, d) = (u, u - 1.0, u - 2.0, u - 3.0);
    [
        (i - 1, -b * c * d / 6.0),
        (i, a * c * d / 2.0),
        (i + 1, -a * b * d / 2.0),
        (i + 2, a * b * c / 6.0),
    ]
}

/// As [`lagrange_terms`], by a straight line.
pub(crate) fn linear_terms(position: f64, last: usize) -> [(usize, f64); 2] {
    let (i, t) = place(position, last);
    [(i, 1.0 - t), (i + 1, t)]
}

/// CIE 167:2005, table V: two values beyond each end from the six within, in 1/209.
const SPRAGUE_ENDS: [[f64; 6]; 2] = [
    [884.0, -1960.0, 3033.0, -2648.0, 1080.0, -180.0],
    [508.0, -540.0, 488.0, -367.0, 144.0, -24.0],
];

/// The value at index `i` of the row lengthened by two at each end.
fn lengthened(values: &[f64], i: isize) -> f64 {
    let n = values.len() as isize;
    let beyond = |row: usize, value: &dyn Fn(usize) -> f64| {
        let terms = SPRAGUE_ENDS[row].iter().enumerate();
        terms.map(|(k, c)| c * value(k)).sum::<f64>() / 209.0
    };
    match i {
        -2 | -1 => beyond((i + 2) as usize, &|k| values[k]),
        i if i >= n => beyond((n + 1 - i) as usize, &|k| values[values.len() - 1 - k]),
        i => values[i as usize],
    }
}

/// The fifth-order polynomial through six values, CIE 167:2005.
pub(crate) fn sprague(values: &[f64], position: f64) -> f64 {
    let (i, x) = place(position, values.len() - 1);
    let p: [f64; 6] = std::array::from_fn(|k| lengthened(values, i as isize + k as isize - 2));
    const COEFFICIENTS: [[f64; 6]; 5] = [
        [2.0, -16.0, 0.0, 16.0, -2.0, 0.0],
        [-1.0, 16.0, -30.0, 16.0, -1.0, 0.0],
        [-9.0, 39.0, -70.0, 66.0, -33.0, 7.0],
        [13.0, -64.0, 126.0, -124.0, 61.0, -12.0],
        [-5.0, 25.0, -50.0, 50.0, -25.0, 5.0],
    ];
    let higher = COEFFICIENTS.iter().rev().fold(0.0, |sum, row| {
        let a = row.iter().zip(&p).map(|(c, v)| c * v).sum::<f64>() / 24.0;
        (sum + a) * x
    });
    p[2] + higher
}
