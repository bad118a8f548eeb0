//! A colour chart of our own: 24 patches, six in a row, the last row grey.

use ganosis_colorimetry::{LabD50, Linear, Srgb};
use glam::{DVec2, DVec3};
use std::fmt::Write;

const COLUMNS: usize = 6;
const ROWS: usize = 4;

/// Linear sRGB of the patches: paints of the boss and their neighbours, then greys.
const PATCHES: [[f64; 3]; COLUMNS * ROWS] = [
    [0.42, 0.05, 0.04],
    [0.58, 0.34, 0.05],
    [0.05, 0.10, 0.32],
    [0.08, 0.26, 0.10],
    [0.30, 0.14, 0.07],
    [0.62, 0.50, 0.30],
    [0.20, 0.05, 0.16],
    [0.10, 0.34, 0.36],
    [0.64, 0.58, 0.08],
    [0.03, 0.04, 0.12],
    [0.52, 0.18, 0.22],
    [0.22, 0.36, 0.06],
    [0.12, 0.06, 0.03],
    [0.24, 0.30, 0.52],
    [0.68, 0.20, 0.04],
    [0.05, 0.16, 0.22],
    [0.44, 0.40, 0.16],
    [0.30, 0.08, 0.05],
    [0.88, 0.88, 0.88],
    [0.58, 0.58, 0.58],
    [0.36, 0.36, 0.36],
    [0.19, 0.19, 0.19],
    [0.09, 0.09, 0.09],
    [0.03, 0.03, 0.03],
];

/// Distance of neighbours, in widths of the picture.
const PITCH: f64 = 0.125;
/// Side of a patch, in pitches.
const PATCH: f64 = 0.8;
/// The chart does not stand quite straight: sine and cosine of 3°.
const TURN: (f64, f64) = (0.052_335_956_242_943_83, 0.998_629_534_754_573_9);

/// Linear light at a place of the picture, in widths of it from the middle.
pub(crate) fn light(at: DVec2) -> DVec3 {
    let (s, c) = TURN;
    let turned = DVec2::new(c * at.x + s * at.y, c * at.y - s * at.x);
    let grid = DVec2::new(COLUMNS as f64, ROWS as f64);
    let steps = turned / PITCH + 0.5 * grid;
    let outside = steps.cmplt(DVec2::splat(-0.15)).any() || steps.cmpgt(grid + 0.15).any();
    if outside {
        return DVec3::splat(0.18);
    }
    let whole = steps.floor().clamp(DVec2::ZERO, grid - 1.0);
    let from_middle = (steps - whole - 0.5).abs();
    if from_middle.max_element() > 0.5 * PATCH {
        return DVec3::splat(0.012);
    }
    DVec3::from_array(PATCHES[whole.y as usize * COLUMNS + whole.x as usize])
}

/// The chart's measured colours, as `ganosis chart --reference` reads them.
pub(crate) fn reference() -> String {
    let mut text = String::from("# Invented chart of 24 patches, CIELAB D50.\nname,L,a,b\n");
    for (i, &[r, g, b]) in PATCHES.iter().enumerate() {
        let lab = LabD50::from(Linear::<Srgb>::new(r, g, b));
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{},{:.4},{:.4},{:.4}", i + 1, lab.l, lab.a, lab.b);
    }
    text
}
