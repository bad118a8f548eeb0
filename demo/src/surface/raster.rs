//! Which triangle a texel belongs to, for a band of rows, bled beyond the borders of the charts.

use super::unwrap::Sheet;
use glam::Vec2;

/// No triangle near.
pub(crate) const EMPTY: u32 = u32::MAX;

/// A band of rows of a sheet: the triangle of each texel.
#[derive(Debug)]
pub(crate) struct Band {
    /// First row.
    pub(crate) first: usize,
    /// Triangle or [`EMPTY`], row by row.
    pub(crate) triangle: Vec<u32>,
}

/// Triangles by the rows they touch, so that a band finds its own quickly.
pub(crate) fn by_band(sheet: &Sheet, size: usize, rows: usize, bleed: usize) -> Vec<Vec<u32>> {
    let mut bands = vec![Vec::new(); size.div_ceil(rows)];
    for (i, t) in sheet.triangles.iter().enumerate() {
        let ys = t.map(|c| sheet.corners[c as usize].uv.y * size as f32);
        let low = ys[0].min(ys[1]).min(ys[2]) - bleed as f32 - 1.0;
        let high = ys[0].max(ys[1]).max(ys[2]) + bleed as f32 + 1.0;
        let last = bands.len() - 1;
        for band in
            &mut bands[(low.max(0.0) as usize / rows).min(last)..=(high as usize / rows).min(last)]
        {
            band.push(i as u32);
        }
    }
    bands
}

/// Draws a band and bleeds it `bleed` texels outwards.
pub(crate) fn draw(
    sheet: &Sheet,
    list: &[u32],
    size: usize,
    first: usize,
    rows: usize,
    bleed: usize,
) -> Band {
    let top = first.saturating_sub(bleed);
    let bottom = (first + rows + bleed).min(size);
    let mut map = vec![EMPTY; (bottom - top) * size];
    for &i in list {
        let t = sheet.triangles[i as usize].map(|c| sheet.corners[c as usize].uv * size as f32);
        fill(&t, i, size, top, bottom, &mut map);
    }
    for _ in 0..bleed {
        grow(&mut map, size);
    }
    let skip = (first - top) * size;
    let triangle = map[skip..skip + rows.min(size - first) * size].to_vec();
    Band { first, triangle }
}

fn fill(t: &[Vec2; 3], id: u32, size: usize, top: usize, bottom: usize, map: &mut [u32]) {
    let low = t[0].min(t[1]).min(t[2]);
    let high = t[0].max(t[1]).max(t[2]);
    let y0 = ((low.y - 0.5).ceil().max(0.0) as usize).max(top);
    let y1 = ((high.y - 0.5).floor().max(-1.0) + 1.0) as usize;
    let x0 = (low.x - 0.5).ceil().max(0.0) as usize;
    let x1 = ((high.x - 0.5).floor().max(-1.0) + 1.0) as usize;
    for y in y0..y1.min(bottom) {
        for x in x0..x1.min(size) {
            let w = weights(t, Vec2::new(x as f32 + 0.5, y as f32 + 0.5));
            if w.iter().all(|&w| w >= -1e-5) {
                map[(y - top) * size + x] = id;
            }
        }
    }
}

/// Barycentric weights of a point; outside the triangle they go on linearly.
pub(crate) fn weights(t: &[Vec2; 3], p: Vec2) -> [f32; 3] {
    let cross = |a: Vec2, b: Vec2| a.x * b.y - a.y * b.x;
    let area = cross(t[1] - t[0], t[2] - t[0]);
    let b = cross(p - t[0], t[2] - t[0]) / area;
    let c = cross(t[1] - t[0], p - t[0]) / area;
    [1.0 - b - c, b, c]
}

/// Every empty texel beside a full one takes it over.
fn grow(map: &mut [u32], width: usize) {
    let old = map.to_vec();
    let rows = map.len() / width;
    for y in 0..rows {
        for x in 0..width {
            let i = y * width + x;
            if old[i] != EMPTY {
                continue;
            }
            let mut take = |ok: bool, j: usize| {
                if ok && map[i] == EMPTY {
                    map[i] = old[j];
                }
            };
            take(x > 0, i.wrapping_sub(1));
            take(x + 1 < width, i + 1);
            take(y > 0, i.wrapping_sub(width));
            take(y + 1 < rows, i + width);
        }
    }
}
