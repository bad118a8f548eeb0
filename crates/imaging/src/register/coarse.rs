//! A first map between two small pictures: shifts by correlation over the whole, for a range of turns
//! and scales.

use nalgebra::Complex;
use rayon::prelude::*;

use super::edges::{Edges, correlate, usual_gradient};
use super::fft::Fft;
use super::plane::Plane;
use crate::geometry::Homography;

/// Turns and scales that a nudged tripod and a shifted focus make, and more (a choice of ours).
const TURNS: i32 = 4;
const TURN_STEP_DEG: f64 = 1.0;
const SCALES: i32 = 3;
const SCALE_STEP: f64 = 0.02;

/// A first map and the height of its peak, in standard deviations.
pub(super) struct First {
    pub(super) map: Homography,
    pub(super) deviations: f32,
}

/// Maps from `fixed` to `moving`, the best first, no two alike. `scale` is what the sizes of the two
/// pictures say.
pub(super) fn first_maps(fixed: &Plane, moving: &Plane, scale: f64, turned: bool) -> Vec<First> {
    let longest = fixed.width_px.max(fixed.height_px);
    let side = longest.next_power_of_two();
    let fft = Fft::new(side);
    let margin = |size: usize| (size as isize - side as isize) / 2;
    let (x0, y0) = (margin(fixed.width_px), margin(fixed.height_px));
    let here = fixed.window(x0, y0, side, &Homography::identity());
    let here = Edges::of(&here, usual_gradient(fixed));
    let energy = here.energy();
    let here = here.transformed(&fft);
    let usual = usual_gradient(moving);
    let (turns, scales) = if turned { (TURNS, SCALES) } else { (0, 0) };
    let tries: Vec<(i32, i32)> = (-turns..=turns)
        .flat_map(|turn| (-scales..=scales).map(move |step| (turn, step)))
        .collect();
    let mut found: Vec<First> = tries
        .into_par_iter()
        .filter_map(|(turn, step)| {
            let by = scale * (1.0 + SCALE_STEP * f64::from(step));
            let map = about_centres(fixed, moving, f64::from(turn) * TURN_STEP_DEG, by);
            let there = Edges::of(&moving.window(x0, y0, side, &map), usual);
            let energies = [energy, there.energy()];
            let there = there.transformed(&fft);
            let reach = (side / 4) as isize;
            let shift = correlate(&here, &there, energies, reach, &fft)?;
            let moved = Homography::from_rows([
                [1.0, 0.0, shift.by[0]],
                [0.0, 1.0, shift.by[1]],
                [0.0, 0.0, 1.0],
            ]);
            Some(First {
                map: map.after(&moved),
                deviations: shift.deviations,
            })
        })
        .collect();
    found.sort_by(|a, b| b.deviations.total_cmp(&a.deviations));
    let mut kept: Vec<First> = Vec::new();
    for one in found {
        let corners = |map: &Homography| {
            let (w, h) = (fixed.width_px as f64, fixed.height_px as f64);
            [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]].map(|p| map.apply(p))
        };
        let apart = |other: &First| {
            let far = corners(&one.map).into_iter().zip(corners(&other.map));
            far.map(|(a, b)| crate::geometry::distance(a, b))
                .fold(0.0, f64::max)
        };
        // Nearer ones end in the same place.
        if !kept.iter().any(|other| apart(other) < 12.0) {
            kept.push(one);
        }
    }
    kept
}

/// Turned about the centre of `fixed` and scaled, onto the centre of `moving`.
fn about_centres(fixed: &Plane, moving: &Plane, turn_deg: f64, scale: f64) -> Homography {
    let a = Complex::from_polar(scale, turn_deg.to_radians());
    let centre = |p: &Plane| [p.width_px as f64 / 2.0, p.height_px as f64 / 2.0];
    let ([cx, cy], [dx, dy]) = (centre(fixed), centre(moving));
    Homography::from_rows([
        [a.re, -a.im, dx - a.re * cx + a.im * cy],
        [a.im, a.re, dy - a.im * cx - a.re * cy],
        [0.0, 0.0, 1.0],
    ])
}
