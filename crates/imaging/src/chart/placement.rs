//! Where the chart is in the photograph, and which way up.

use super::match_patches::match_error;
use super::patches::read_patches;
use super::spots::Spot;
use crate::error::{ImagingError, Result};
use crate::geometry::{Homography, Point, distance};
use crate::photo::LinearPhoto;
use crate::reference::Reference;

/// A chart laid over a photograph. Chart coordinates count patches: the centre of the first patch is
/// (0.5, 0.5), that of its right neighbour (1.5, 0.5).
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// Photograph pixels from chart coordinates.
    pub px_from_chart: Homography,
    /// Patches that stand out by themselves at their places.
    pub patches_seen: usize,
    /// Mean ΔE00 that is left after a quick 3 × 3 fit: small where the chart is really there.
    pub match_delta_e: f64,
    /// The same for the best other way of laying the chart: far larger where the way is clear.
    pub next_match_delta_e: f64,
}

/// The gap between patches as a fraction of their pitch: 6 mm in 52 on the common 24-patch charts
/// (measured on photographs; only the outer corners depend on it).
const GAP: f64 = 0.1;

/// The quick fit of the right way leaves less than this (ΔE00), even under uneven or coloured light.
/// Wrong ways leave 15 or more on published charts.
pub(super) const LARGEST_MATCH: f64 = 12.0;

/// The next way must be worse by this factor, or the choice is a guess.
pub(super) const LEAST_LEAD: f64 = 1.3;

impl Placement {
    /// The four outer corners of the field of patches, clockwise from the chart's first patch.
    pub fn corners_px(&self, reference: &Reference) -> [Point; 4] {
        field_corners(reference).map(|p| self.px_from_chart.apply(p))
    }

    /// Turn of the chart's rows in the photograph, degrees clockwise, -180..180.
    pub fn turn_deg(&self, reference: &Reference) -> f64 {
        let [a, b, ..] = self.corners_px(reference);
        (b[1] - a[1]).atan2(b[0] - a[0]).to_degrees()
    }

    /// Whether the photograph shows the chart as in a mirror.
    pub fn mirrored(&self, reference: &Reference) -> bool {
        let c = self.corners_px(reference);
        let doubled_area: f64 = (0..4)
            .map(|i| c[i][0] * c[(i + 1) % 4][1] - c[(i + 1) % 4][0] * c[i][1])
            .sum();
        doubled_area < 0.0
    }

    /// An error unless this is clearly a chart, the right way up.
    pub fn require_clear(&self, photo: &str) -> Result<()> {
        if self.match_delta_e > LARGEST_MATCH {
            return Err(ImagingError::new(
                format!(
                    "the patches do not look like the reference: mean ΔE00 {:.1} is left after a \
                     quick fit, {LARGEST_MATCH} at most is a chart",
                    self.match_delta_e
                ),
                photo,
                "Check the corners, that the reference is of this chart, and the encoding.",
            ));
        }
        if self.next_match_delta_e < LEAST_LEAD * self.match_delta_e {
            return Err(ImagingError::new(
                format!(
                    "which way up the chart lies is not clear: {:.1} against {:.1} ΔE00",
                    self.match_delta_e, self.next_match_delta_e
                ),
                photo,
                "Give the corners with --corners, clockwise from the chart's first patch.",
            ));
        }
        Ok(())
    }
}

fn field_corners(reference: &Reference) -> [Point; 4] {
    let (w, h, e) = (reference.columns as f64, reference.rows as f64, GAP / 2.0);
    [[e, e], [w - e, e], [w - e, h - e], [e, h - e]]
}

/// The chart at four given corners of its field of patches, in any order around it. The best of the
/// eight ways to lay it is taken, and its place refined by the patches that stand out.
pub fn at_corners(
    view: &LinearPhoto,
    corners_px: [Point; 4],
    reference: &Reference,
    spots: &[Spot],
) -> Result<Placement> {
    let chart = field_corners(reference);
    let mut ways = Vec::new();
    for turn in 0..4 {
        for mirrored in [false, true] {
            let order = [0, 1, 2, 3].map(|i| {
                let i = if mirrored { 3 - i } else { i };
                chart[(i + turn) % 4]
            });
            if let Some(map) = Homography::fit(&order, &corners_px) {
                let error = score(view, &map, reference).unwrap_or(f64::INFINITY);
                ways.push((error, map));
            }
        }
    }
    ways.sort_by(|a, b| a.0.total_cmp(&b.0));
    let [first, second, ..] = ways.as_slice() else {
        return Err(ImagingError::new(
            "the four corners lie on one line",
            view.photo.name.clone(),
            "Give the outer corners of the field of patches, clockwise, as x,y pairs in pixels.",
        ));
    };
    let mut placement = Placement {
        px_from_chart: first.1,
        patches_seen: 0,
        match_delta_e: first.0,
        next_match_delta_e: second.0,
    };
    refine(&mut placement, view, reference, spots);
    Ok(placement)
}

/// Mean ΔE00 after a quick fit of the patches read at a place; `None` where the chart would leave the
/// photograph.
pub(super) fn score(view: &LinearPhoto, map: &Homography, reference: &Reference) -> Option<f64> {
    let readings = read_patches(view, map, reference).ok()?;
    let camera: Vec<_> = readings.iter().map(|r| r.camera).collect();
    match_error(&camera, &reference.labs())
}

/// Moves the chart onto the patches that stand out, where at least half of them do, and counts them.
pub(super) fn refine(
    placement: &mut Placement,
    view: &LinearPhoto,
    reference: &Reference,
    spots: &[Spot],
) {
    let (mut chart, mut px) = (Vec::new(), Vec::new());
    for i in 0..reference.patches.len() {
        let (column, row) = (i % reference.columns, i / reference.columns);
        let centre = [column as f64 + 0.5, row as f64 + 0.5];
        let there = placement.px_from_chart.apply(centre);
        let beside = placement.px_from_chart.apply([centre[0] + 1.0, centre[1]]);
        let pitch = distance(there, beside);
        let near = spots.iter().filter(|s| {
            // A patch fills most of its pitch; a spot of another size is something else.
            let size = s.size_px / pitch;
            distance(s.centre_px, there) < 0.35 * pitch && (0.5..1.1).contains(&size)
        });
        let nearest = near
            .min_by(|a, b| distance(a.centre_px, there).total_cmp(&distance(b.centre_px, there)));
        if let Some(spot) = nearest {
            chart.push(centre);
            px.push(spot.centre_px);
        }
    }
    placement.patches_seen = chart.len();
    if 2 * chart.len() < reference.patches.len() {
        return;
    }
    let Some(moved) = Homography::fit(&chart, &px) else {
        return;
    };
    if let Some(error) = score(view, &moved, reference)
        && error <= placement.match_delta_e * 1.1
    {
        placement.px_from_chart = moved;
        placement.match_delta_e = error;
    }
}
