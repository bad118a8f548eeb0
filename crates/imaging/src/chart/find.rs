//! Finding a chart: even spots in a lattice whose colours match the reference.

use std::collections::HashMap;

use super::placement::{Placement, refine, score};
use super::spots::Spot;
use crate::error::{ImagingError, Result};
use crate::geometry::{Homography, Point, distance};
use crate::photo::LinearPhoto;
use crate::reference::Reference;

/// The part of the patches that must stand out as even spots in one lattice.
const LEAST_SEEN: f64 = 0.5;

/// Steps of a lattice: column and row of each spot.
type Lattice = HashMap<(i32, i32), usize>;

/// Finds the chart, or says why it is not sure. `spots` are those of each threshold.
pub fn find(view: &LinearPhoto, reference: &Reference, spots: &[Vec<Spot>]) -> Result<Placement> {
    let name = view.photo.name.as_str();
    let mut best: Option<Placement> = None;
    let mut seen = 0;
    for spots in spots {
        let lattice = largest_lattice(spots, reference.patches.len());
        seen = seen.max(lattice.len());
        let Some(mut placement) = lay(view, reference, spots, &lattice) else {
            continue;
        };
        refine(&mut placement, view, reference, spots);
        let better = best
            .as_ref()
            .is_none_or(|b| placement.match_delta_e < b.match_delta_e);
        if better {
            best = Some(placement);
        }
    }
    let Some(placement) = best else {
        return Err(ImagingError::new(
            format!(
                "no chart was found: {seen} even spots in one lattice, {} needed",
                least_seen(reference)
            ),
            name,
            "Give the outer corners of the field of patches with --corners x,y x,y x,y x,y.",
        ));
    };
    placement.require_clear(name)?;
    Ok(placement)
}

fn least_seen(reference: &Reference) -> usize {
    (LEAST_SEEN * reference.patches.len() as f64).ceil() as usize
}

/// Centres of neighbours are this many patch sides apart (a spot is a little smaller than its patch).
const PITCH_OF_SIZE: std::ops::Range<f64> = 0.95..1.9;

fn largest_lattice(spots: &[Spot], enough: usize) -> Lattice {
    let mut best = Lattice::new();
    for first in 0..spots.len() {
        let near = neighbours(spots, first);
        for (i, &u) in near.iter().enumerate() {
            for &v in &near[i + 1..] {
                let [a, b] = [u, v].map(|k| minus(spots[k].centre_px, spots[first].centre_px));
                let (la, lb) = (a[0].hypot(a[1]), b[0].hypot(b[1]));
                let sine = (a[0] * b[1] - a[1] * b[0]).abs() / (la * lb);
                // Two sides of a square seen obliquely: 45° apart at least, lengths alike.
                if sine < 0.7 || la.max(lb) > 1.6 * la.min(lb) {
                    continue;
                }
                let lattice = spread(spots, first, a, b);
                if lattice.len() > best.len() {
                    best = lattice;
                }
                if best.len() >= enough {
                    return best;
                }
            }
        }
    }
    best
}

fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

fn neighbours(spots: &[Spot], of: usize) -> Vec<usize> {
    let here = &spots[of];
    let mut near: Vec<(f64, usize)> = (0..spots.len())
        .filter(|&i| i != of && alike(&spots[i], here))
        .map(|i| (distance(spots[i].centre_px, here.centre_px), i))
        .filter(|&(d, _)| PITCH_OF_SIZE.contains(&(d / here.size_px)))
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    near.truncate(8);
    near.into_iter().map(|(_, i)| i).collect()
}

fn alike(a: &Spot, b: &Spot) -> bool {
    (0.65..1.5).contains(&(a.size_px / b.size_px))
}

/// Walks from spot to spot along the two steps, which follow the perspective as it goes.
fn spread(spots: &[Spot], first: usize, u: Point, v: Point) -> Lattice {
    let mut lattice = Lattice::from([((0, 0), first)]);
    let mut used = vec![false; spots.len()];
    used[first] = true;
    let mut open = vec![((0, 0), first, u, v)];
    while let Some(((i, j), at, u, v)) = open.pop() {
        for (di, dj) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
            let place = (i + di, j + dj);
            if lattice.contains_key(&place) {
                continue;
            }
            let sign = f64::from(di + dj);
            let step = if di == 0 { v } else { u };
            let from = spots[at].centre_px;
            let wanted = [from[0] + sign * step[0], from[1] + sign * step[1]];
            let reach = 0.25 * step[0].hypot(step[1]);
            let next = (0..spots.len())
                .filter(|&k| !used[k] && alike(&spots[k], &spots[at]))
                .map(|k| (distance(spots[k].centre_px, wanted), k))
                .filter(|&(d, _)| d < reach)
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, next)) = next else { continue };
            used[next] = true;
            lattice.insert(place, next);
            let taken = minus(spots[next].centre_px, from).map(|x| x * sign);
            let (u, v) = if di == 0 { (u, taken) } else { (taken, v) };
            open.push((place, next, u, v));
        }
    }
    lattice
}

/// Lays the reference over the lattice in every way that fits and takes the best match of colours.
fn lay(
    view: &LinearPhoto,
    reference: &Reference,
    spots: &[Spot],
    lattice: &Lattice,
) -> Option<Placement> {
    if lattice.len() < least_seen(reference) {
        return None;
    }
    let mut ways: Vec<(f64, Homography)> = Vec::new();
    for way in 0..8 {
        let turned: Vec<((i32, i32), usize)> = lattice
            .iter()
            .map(|(&place, &spot)| (turn(place, way), spot))
            .collect();
        for (column, row) in offsets(&turned, reference) {
            let (mut chart, mut px) = (Vec::new(), Vec::new());
            for &((i, j), spot) in &turned {
                let inside = (0..reference.columns as i32).contains(&(i + column))
                    && (0..reference.rows as i32).contains(&(j + row));
                if !inside {
                    continue;
                }
                chart.push([f64::from(i + column) + 0.5, f64::from(j + row) + 0.5]);
                px.push(spots[spot].centre_px);
            }
            if chart.len() < least_seen(reference) {
                continue;
            }
            let Some(map) = Homography::fit(&chart, &px) else {
                continue;
            };
            if let Some(error) = score(view, &map, reference) {
                ways.push((error, map));
            }
        }
    }
    ways.sort_by(|a, b| a.0.total_cmp(&b.0));
    let &(match_delta_e, px_from_chart) = ways.first()?;
    Some(Placement {
        px_from_chart,
        patches_seen: lattice.len(),
        match_delta_e,
        next_match_delta_e: ways.get(1).map_or(f64::INFINITY, |w| w.0),
    })
}

/// One of the eight ways to turn and mirror a lattice.
fn turn((i, j): (i32, i32), way: u8) -> (i32, i32) {
    let (i, j) = if way & 1 == 0 { (i, j) } else { (j, i) };
    let i = if way & 2 == 0 { i } else { -i };
    (i, if way & 4 == 0 { j } else { -j })
}

/// Shifts that put the lattice, or as much of it as goes, inside the chart.
fn offsets(turned: &[((i32, i32), usize)], reference: &Reference) -> Vec<(i32, i32)> {
    let range = |pick: fn(&(i32, i32)) -> i32, size: usize| {
        let low = turned.iter().map(|(p, _)| pick(p)).min().unwrap_or(0);
        let high = turned.iter().map(|(p, _)| pick(p)).max().unwrap_or(0);
        let spare = size as i32 - (high - low + 1);
        // A stray spot beside the chart makes the lattice too large: then each part of it is tried.
        (spare.min(0)..=spare.max(0)).map(move |shift| shift - low)
    };
    range(|p| p.0, reference.columns)
        .flat_map(|column| range(|p| p.1, reference.rows).map(move |row| (column, row)))
        .collect()
}
