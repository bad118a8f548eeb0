//! Packing charts into a square sheet: their true outlines on a coarse grid, first fit.

use glam::Vec2;

/// Cells along the side of a sheet.
pub(crate) const GRID: usize = 512;
/// Free cells around a chart (at 2048 texels a side a cell is 4 texels).
const GAP: usize = 1;

/// A chart to pack: triangles in centimetres, the lower left corner at the origin.
#[derive(Debug)]
pub(crate) struct Outline {
    /// Triangles in the plane of the chart.
    pub(crate) triangles: Vec<[Vec2; 3]>,
    /// Extent.
    pub(crate) size: Vec2,
}

/// Where everything went.
#[derive(Debug)]
pub(crate) struct Packing {
    /// Cells of the grid per centimetre.
    pub(crate) cells_per_cm: f32,
    /// Lower left corner of each chart, in cells.
    pub(crate) corners: Vec<Vec2>,
}

/// Cells covered by a chart at a scale, as (x, y), with the gap to its left and below.
fn cells(outline: &Outline, scale: f32) -> (Vec<(u16, u16)>, usize, usize) {
    let w = (outline.size.x * scale).ceil() as usize + 1;
    let h = (outline.size.y * scale).ceil() as usize + 1;
    let (gw, gh) = (w + 2 * GAP, h + 2 * GAP);
    let mut covered = vec![false; gw * gh];
    for t in &outline.triangles {
        let t = t.map(|p| p * scale);
        let low = t[0].min(t[1]).min(t[2]).floor();
        let high = t[0].max(t[1]).max(t[2]).floor();
        for y in low.y as usize..=high.y as usize {
            for x in low.x as usize..=high.x as usize {
                for dy in 0..=2 * GAP {
                    for dx in 0..=2 * GAP {
                        covered[(y + dy) * gw + x + dx] = true;
                    }
                }
            }
        }
    }
    let list = (0..gw * gh)
        .filter(|&i| covered[i])
        .map(|i| ((i % gw) as u16, (i / gw) as u16))
        .collect();
    (list, gw, gh)
}

fn place(outlines: &[Outline], order: &[usize], scale: f32) -> Option<Vec<Vec2>> {
    let mut taken = vec![false; GRID * GRID];
    let mut corners = vec![Vec2::ZERO; outlines.len()];
    let mut hint = (0, 0);
    let mut hint_size = (usize::MAX, usize::MAX);
    for &i in order {
        let (list, w, h) = cells(&outlines[i], scale);
        if w > GRID || h > GRID {
            return None;
        }
        // A chart at least as large as the last one cannot fit before it did.
        let start = if w >= hint_size.0 && h >= hint_size.1 {
            hint
        } else {
            (0, 0)
        };
        let spot = (start.1..=GRID - h)
            .flat_map(|y| (0..=GRID - w).map(move |x| (x, y)))
            .find(|&(x, y)| {
                list.iter()
                    .all(|&(a, b)| !taken[(y + b as usize) * GRID + x + a as usize])
            })?;
        for &(a, b) in &list {
            taken[(spot.1 + b as usize) * GRID + spot.0 + a as usize] = true;
        }
        corners[i] = Vec2::new((spot.0 + GAP) as f32, (spot.1 + GAP) as f32);
        hint = spot;
        hint_size = (w, h);
    }
    Some(corners)
}

/// Packs charts as large as they will go.
pub(crate) fn pack(outlines: &[Outline]) -> Packing {
    let mut order: Vec<usize> = (0..outlines.len()).collect();
    let bulk = |o: &Outline| o.size.x.max(o.size.y);
    order.sort_by(|&a, &b| {
        bulk(&outlines[b])
            .total_cmp(&bulk(&outlines[a]))
            .then(a.cmp(&b))
    });
    let largest = outlines.iter().map(bulk).fold(0.1, f32::max);
    let mut scale = (GRID - 2 * GAP - 2) as f32 / largest;
    loop {
        if let Some(corners) = place(outlines, &order, scale) {
            return Packing {
                cells_per_cm: scale,
                corners,
            };
        }
        scale *= 0.965;
    }
}
