//! How far each place of a photograph is from where its view ends: the edge of the picture, of a
//! mask, of a part that is nearer. Photographs are mixed by less and less towards there, so that no
//! seam shows; and by somewhat less at the outline of the object.

use rayon::prelude::*;

use super::mesh::Face;
use super::room::{bytes_of_u16, u16_of_bytes};
use super::sight::Sight;
use super::steps::{FADE_PX, Steps};
use super::view::View;
use super::window::before;

// The numbers here are choices of ours, made on simulated photographs.

/// Cells along the longer side of a picture.
const CELLS: usize = 640;

/// A step of depth of this part of it between neighbouring cells is an edge of a nearer part, if it
/// is also [`STEPS`] times the slope beside it.
const STEP: f64 = 0.004;
const STEPS: f64 = 4.0;

/// At the outline of the object a pose that is a little wrong shows the background: a view counts
/// this much there.
const AT_OUTLINE: f32 = 0.25;

/// And this much within a pixel of a step of depth, so that where all photographs see a rim it does not depend on
/// tenths of a pixel which of them counts.
const AT_STEP: f32 = 0.01;

/// Share of the longer side over which a view fades out.
const FADE: f64 = 0.03;

/// The weight far from where a view ends; proportions of small ones count too, so that 8 bits are too few.
const FAR: f32 = 65535.0;

/// A map over a picture.
#[derive(Debug, Clone)]
pub struct Margin {
    cell_px: f64,
    cells_per_px: f32,
    columns: usize,
    rows: usize,
    /// 0 where the view ends, [`FAR`] where it is far from there.
    weights: Vec<u16>,
    hits: Vec<bool>,
    /// Rays that met the back of a triangle, of those that met one.
    pub back_share: f64,
}

impl Margin {
    /// Looks at each cell of the picture.
    pub fn new(view: &View, sight: &Sight, faces: &[Face]) -> Self {
        let (cell, columns, rows) = cells(view);
        let longest = columns.max(rows);
        let lens = view.lens.lens();
        let usable = |i: usize| {
            let at = [i % columns, i / columns].map(|c| c * cell + cell / 2);
            let mask = view.mask.as_ref();
            mask.is_none_or(|m| {
                m.is_usable(at[0].min(lens.width_px - 1), at[1].min(lens.height_px - 1))
            })
        };
        let depths: Vec<Option<(f64, bool)>> = (0..rows * columns)
            .into_par_iter()
            .map(|i| {
                let pixel = [i % columns, i / columns].map(|c| (c as f64 + 0.5) * cell as f64);
                let (face, inverse) = sight.first(view.lens.normalised_of(pixel)?)?;
                let face = &faces[face as usize];
                let towards = view.centre_m - face.corners[0].as_dvec3();
                Some((inverse, face.cross_m2().dot(towards) < 0.0))
            })
            .collect();
        let hits: Vec<bool> = depths.iter().map(Option::is_some).collect();
        let met = hits.iter().filter(|h| **h).count();
        let backs = depths.iter().flatten().filter(|d| d.1).count();
        let mut ends: Vec<f32> = (0..rows * columns)
            .map(|i| {
                let (x, y) = (i % columns, i / columns);
                let to_edge = x.min(y).min(columns - 1 - x).min(rows - 1 - y) as f32;
                if usable(i) { to_edge } else { 0.0 }
            })
            .collect();
        let mut outline = vec![f32::INFINITY; rows * columns];
        let depth = |i: usize| depths[i].map(|d| d.0);
        for i in 0..rows * columns {
            for (step, place, length) in [(1, i % columns, columns), (columns, i / columns, rows)] {
                if place + 1 == length {
                    continue;
                }
                let before = (place > 0).then(|| depth(i - step)).flatten();
                let after = (place + 2 < length).then(|| depth(i + 2 * step)).flatten();
                match (depth(i), depth(i + step)) {
                    (Some(_), None) => outline[i] = 0.0,
                    (None, Some(_)) => outline[i + step] = 0.0,
                    (Some(a), Some(b)) if breaks([before, Some(a), Some(b), after]) => {
                        // 1/z: the smaller is behind, and there the view ends.
                        let (behind, front) = if a < b { (i, i + step) } else { (i + step, i) };
                        ends[behind] = 0.0;
                        outline[front] = 0.0;
                    }
                    _ => {}
                }
            }
        }
        spread(&mut ends, columns, rows);
        spread(&mut outline, columns, rows);
        let fade = (FADE * longest as f64).max(2.0) as f32;
        let weights = ends
            .iter()
            .zip(&outline)
            .map(|(end, outline)| {
                let at_outline = AT_OUTLINE + (1.0 - AT_OUTLINE) * step(outline / fade);
                (step(end / fade) * at_outline * FAR).round() as u16
            })
            .collect();
        Self {
            cell_px: cell as f64,
            cells_per_px: 1.0 / cell as f32,
            columns,
            rows,
            weights,
            hits,
            back_share: backs as f64 / met.max(1) as f64,
        }
    }

    /// Lets the view fade to nothing at steps of depth too, over [`FADE_PX`], and two cells where they are larger.
    pub(crate) fn fade_at(&mut self, steps: &Steps) {
        let fade = FADE_PX.max(2.0 * self.cell_px) as f32;
        let cell = self.cell_px as f32;
        let mut away = vec![fade; self.weights.len()];
        steps.each_line(|[low, high], distance| {
            let cells = |k: usize, count: usize| {
                let at = |v: f32| (v / cell - 0.5).clamp(0.0, (count - 1) as f32);
                at(low[k] - fade).ceil() as usize..at(high[k] + fade) as usize + 1
            };
            for y in cells(1, self.rows) {
                for x in cells(0, self.columns) {
                    let away = &mut away[y * self.columns + x];
                    let middle = [x, y].map(|c| (c as f32 + 0.5) * cell);
                    *away = away.min(distance(middle));
                }
            }
        });
        for (weight, away) in self.weights.iter_mut().zip(away) {
            *weight = (f32::from(*weight) * step(away / fade).max(AT_STEP)).round() as u16;
        }
    }

    /// The weights as bytes, to be kept.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        bytes_of_u16(&self.weights)
    }

    /// How many bytes those of a photograph are.
    pub(crate) fn bytes_for(view: &View) -> usize {
        let (_, columns, rows) = cells(view);
        2 * columns * rows
    }

    /// From bytes that were kept; what the object fills is not known any more.
    pub(crate) fn of_bytes(view: &View, bytes: &[u8]) -> Self {
        let (cell, columns, rows) = cells(view);
        Self {
            cell_px: cell as f64,
            cells_per_px: 1.0 / cell as f32,
            columns,
            rows,
            weights: u16_of_bytes(bytes).collect(),
            hits: Vec::new(),
            back_share: 0.0,
        }
    }

    /// 0 where the view ends, 1 far from there.
    #[inline]
    pub fn weight(&self, pixel: [f64; 2]) -> f32 {
        let along = |v: f64, cells: usize| {
            let at = v as f32 * self.cells_per_px - 0.5;
            let (low, beyond) = before(at.max(0.0).min((cells - 1) as f32));
            (low, (low + 1).min(cells - 1), beyond)
        };
        let (x0, x1, fx) = along(pixel[0], self.columns);
        let (y0, y1, fy) = along(pixel[1], self.rows);
        let at = |x: usize, y: usize| f32::from(self.weights[y * self.columns + x]);
        let top = at(x0, y0) + (at(x1, y0) - at(x0, y0)) * fx;
        let bottom = at(x0, y1) + (at(x1, y1) - at(x0, y1)) * fx;
        (top + (bottom - top) * fy) * (1.0 / FAR)
    }

    /// Whether nothing of the view ends near a box of the picture: the weight is [`Margin::FULL`] all over it.
    pub(crate) fn is_full(&self, low: [f64; 2], high: [f64; 2]) -> bool {
        let along = |k: usize, cells: usize| {
            let at = |v: f64| {
                let at = v as f32 * self.cells_per_px - 0.5;
                at.max(0.0).min((cells - 1) as f32)
            };
            // Rounded down and up: a place is read between the cell before it and the one after.
            at(low[k]) as usize..(at(high[k]) as usize + 2).min(cells)
        };
        let columns = along(0, self.columns);
        along(1, self.rows).all(|y| {
            let row = &self.weights[y * self.columns..][..self.columns];
            row[columns.clone()].iter().all(|&w| f32::from(w) == FAR)
        })
    }

    /// What a view weighs far from where it ends.
    pub(crate) const FULL: f32 = 1.0;

    /// Whether the object is in the picture at a pixel, to the nearest cell.
    pub fn is_object(&self, x: usize, y: usize) -> bool {
        let cell = self.cell_px as usize;
        let (cx, cy) = (x / cell, y / cell);
        cx < self.columns && cy < self.rows && self.hits[cy * self.columns + cx]
    }
}

/// From 0 to 1, without a corner.
fn step(t: f32) -> f32 {
    let t = t.min(1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Side of a cell in pixels, and how many there are along each side.
fn cells(view: &View) -> (usize, usize, usize) {
    let lens = view.lens.lens();
    let cell = lens.width_px.max(lens.height_px).div_ceil(CELLS).max(1);
    (
        cell,
        lens.width_px.div_ceil(cell),
        lens.height_px.div_ceil(cell),
    )
}

/// Whether the surface breaks off between the second and the third of four cells in a row.
fn breaks([before, a, b, after]: [Option<f64>; 4]) -> bool {
    let (Some(a), Some(b)) = (a, b) else {
        return a.is_some() != b.is_some();
    };
    let step = (a - b).abs();
    let beside = |one: Option<f64>, other: f64| one.map_or(0.0, |v| (v - other).abs());
    step > STEP * a.max(b) && step > STEPS * beside(before, a).max(beside(after, b))
}

/// Distance to the nearest 0, by two passes (Borgefors, "Distance transformations in digital images",
/// Computer Vision, Graphics, and Image Processing 34, 1986, with steps 1 and √2).
fn spread(distance: &mut [f32], columns: usize, rows: usize) {
    let diagonal = std::f32::consts::SQRT_2;
    for y in 0..rows {
        for x in 0..columns {
            let at = y * columns + x;
            let mut d = distance[at];
            if x > 0 {
                d = d.min(distance[at - 1] + 1.0);
            }
            if y > 0 {
                d = d.min(distance[at - columns] + 1.0);
                if x > 0 {
                    d = d.min(distance[at - columns - 1] + diagonal);
                }
                if x + 1 < columns {
                    d = d.min(distance[at - columns + 1] + diagonal);
                }
            }
            distance[at] = d;
        }
    }
    for y in (0..rows).rev() {
        for x in (0..columns).rev() {
            let at = y * columns + x;
            let mut d = distance[at];
            if x + 1 < columns {
                d = d.min(distance[at + 1] + 1.0);
            }
            if y + 1 < rows {
                d = d.min(distance[at + columns] + 1.0);
                if x + 1 < columns {
                    d = d.min(distance[at + columns + 1] + diagonal);
                }
                if x > 0 {
                    d = d.min(distance[at + columns - 1] + diagonal);
                }
            }
            distance[at] = d;
        }
    }
}
