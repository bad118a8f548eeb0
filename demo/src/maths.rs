//! Transcendental functions that give the same bits on every machine.
//!
//! The standard library hands `sin` and its like to the platform's C library, whose last bits
//! differ between versions; the files made here must not. `libm` is the same code everywhere.

/// Sine of an angle in radians.
pub(crate) fn sin(x: f32) -> f32 {
    libm::sinf(x)
}

/// Cosine of an angle in radians.
pub(crate) fn cos(x: f32) -> f32 {
    libm::cosf(x)
}

/// Angle of (x, y) in radians, -π..π.
pub(crate) fn atan2(y: f32, x: f32) -> f32 {
    libm::atan2f(y, x)
}

/// e to the x.
pub(crate) fn exp(x: f32) -> f32 {
    libm::expf(x)
}

/// Linear mix.
pub(crate) fn mix(a: f32, b: f32, t: f32) -> f32 {
    a + (b - a) * t
}

/// Cubic step from 0 at `low` to 1 at `high` (also for `low > high`).
pub(crate) fn smoothstep(low: f32, high: f32, x: f32) -> f32 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Minimum of two distances with a rounded seam of width `k` (polynomial, second order).
pub(crate) fn smooth_min(a: f32, b: f32, k: f32) -> f32 {
    let h = (k - (a - b).abs()).max(0.0) / k;
    a.min(b) - h * h * k * 0.25
}

/// Maximum of two distances with a rounded seam of width `k`.
pub(crate) fn smooth_max(a: f32, b: f32, k: f32) -> f32 {
    -smooth_min(-a, -b, k)
}
