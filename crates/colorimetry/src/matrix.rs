//! 3×3 matrices acting on column vectors, usable in constants.

/// A 3×3 matrix, rows first.
pub type Matrix3 = [[f64; 3]; 3];

/// `m · v`.
#[inline]
pub const fn apply(m: &Matrix3, v: [f64; 3]) -> [f64; 3] {
    [
        m[0][0] * v[0] + m[0][1] * v[1] + m[0][2] * v[2],
        m[1][0] * v[0] + m[1][1] * v[1] + m[1][2] * v[2],
        m[2][0] * v[0] + m[2][1] * v[1] + m[2][2] * v[2],
    ]
}

/// `a · b`.
pub const fn multiply(a: &Matrix3, b: &Matrix3) -> Matrix3 {
    let mut out = [[0.0; 3]; 3];
    let mut i = 0;
    while i < 3 {
        let mut j = 0;
        while j < 3 {
            out[i][j] = a[i][0] * b[0][j] + a[i][1] * b[1][j] + a[i][2] * b[2][j];
            j += 1;
        }
        i += 1;
    }
    out
}

/// The inverse by cofactors. A singular matrix gives infinities or NaN.
pub const fn inverse(m: &Matrix3) -> Matrix3 {
    let [[a, b, c], [d, e, f], [g, h, i]] = *m;
    let (p, q, r) = (e * i - f * h, f * g - d * i, d * h - e * g);
    let det = a * p + b * q + c * r;
    [
        [p / det, (c * h - b * i) / det, (b * f - c * e) / det],
        [q / det, (a * i - c * g) / det, (c * d - a * f) / det],
        [r / det, (b * g - a * h) / det, (a * e - b * d) / det],
    ]
}

/// A diagonal matrix.
pub const fn diagonal(v: [f64; 3]) -> Matrix3 {
    [[v[0], 0.0, 0.0], [0.0, v[1], 0.0], [0.0, 0.0, v[2]]]
}
