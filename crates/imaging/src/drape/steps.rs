//! Where depth steps in a photograph: along outlines of nearer parts, and of the object. A pixel there mixes
//! the light of two surfaces and tells the colour of neither.
//!
//! Depth can only step along an edge of the mesh that one triangle has, or whose two triangles lie on the same
//! side of it in the picture: one is seen from its front, the other from its back. These edges are few; those that
//! nothing hides and behind which it is deep enough are kept as short lines in the picture.

use glam::DVec3;
use rayon::prelude::*;

use super::joins::{joined, places, sides};
use super::mesh::Face;
use super::room::words_of_bytes;
use super::sight::Sight;
use super::view::View;
use super::window::before;

/// How far about a place its image spreads in a photograph, in pixels: half a pixel for what a pixel gathers,
/// another for reading between pixels, and a little for the lens (a choice of ours).
pub const SPREAD_PX: f64 = 1.2;

/// Depth that falls off by more than this for each step aside is another surface: at 60° the same one falls off
/// by 1.7, at 76° by this (a choice of ours).
const STEEPEST: f64 = 4.0;

/// Beyond an edge depth is asked for this far aside, in pixels: further than rounding, nearer than a pixel's own
/// width (a choice of ours).
const ASIDE_PX: f64 = 0.5;

/// Longest line in pixels: along a longer edge depth behind it may change (a choice of ours).
const LONGEST_PX: f64 = 4.0;

/// Least side of a cell in pixels, and most cells along a side of the picture (choices of ours): what is asked for
/// lies in one cell mostly, and a photograph takes less than a megabyte and a half.
const LEAST_CELL_PX: usize = 8;
const MOST_CELLS: usize = 640;

/// A view fades towards a step over so many pixels: as far as blurred light reaches across it (a choice of ours).
pub(crate) const FADE_PX: f64 = 16.0;

/// Steps further than this from the picture, in pixels, say nothing of what is in it, however large texels are
/// (a choice of ours).
pub(crate) const FARTHEST_PX: f64 = 64.0;

/// So many lines near a box are asked of all places in it side by side; of more, those near each (a choice of ours).
const MOST_FOR_ALL: usize = 64;

/// No triangle.
const NONE: u32 = u32::MAX;

/// Edges between the triangles of a mesh.
#[derive(Debug)]
pub struct Edges {
    /// A triangle, its corner where the edge begins, and the triangle beyond; [`NONE`] where there is not just
    /// one.
    edges: Vec<(u32, u8, u32)>,
}

impl Edges {
    /// Of triangles whose corners are joined where they have the same place, whatever charts they are on.
    pub fn new(faces: &[Face]) -> Self {
        let sides = sides(&joined(faces, places).0);
        let mut edges = Vec::with_capacity(sides.len() / 2);
        for group in sides.chunk_by(|a, b| a.key == b.key) {
            match group {
                [a, b] => edges.push((a.face, a.corner, b.face)),
                all => edges.extend(all.iter().map(|a| (a.face, a.corner, NONE))),
            }
        }
        Self { edges }
    }
}

/// A short line in the picture along which depth steps.
type Line = [[f32; 2]; 2];

/// The steps of one photograph.
#[derive(Debug)]
pub struct Steps {
    lines: Vec<Line>,
    cell_px: f32,
    cells_per_px: f32,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    list: Vec<u32>,
    /// Whether a cell or one beside it has any.
    is_near: Vec<bool>,
}

impl Steps {
    /// Looks for them.
    pub fn new(view: &View, sight: &Sight, faces: &[Face], edges: &Edges) -> Self {
        let is_front: Vec<bool> = faces
            .par_iter()
            .map(|face| {
                let towards = view.centre_m - face.corners[0].as_dvec3();
                face.cross_m2().dot(towards) > 0.0
            })
            .collect();
        let is_outline = |&&(face, _, beyond): &&(u32, u8, u32)| {
            beyond == NONE || is_front[face as usize] != is_front[beyond as usize]
        };
        let outline: Vec<_> = edges.edges.iter().filter(is_outline).collect();
        let lines = outline
            .par_iter()
            .flat_map_iter(|&&(face, corner, _)| stepping(view, sight, faces, face, corner))
            .collect();
        Self::of_lines(view, lines)
    }

    fn of_lines(view: &View, lines: Vec<Line>) -> Self {
        let lens = view.lens.lens();
        let longest = lens.width_px.max(lens.height_px);
        let cell_px = longest.div_ceil(MOST_CELLS).max(LEAST_CELL_PX);
        let mut steps = Self {
            lines,
            cell_px: cell_px as f32,
            cells_per_px: 1.0 / cell_px as f32,
            columns: lens.width_px.div_ceil(cell_px).max(1),
            rows: lens.height_px.div_ceil(cell_px).max(1),
            starts: Vec::new(),
            list: Vec::new(),
            is_near: Vec::new(),
        };
        let mut pairs: Vec<(u32, u32)> = Vec::new();
        for (number, [a, b]) in steps.lines.iter().enumerate() {
            let low = [0, 1].map(|k| a[k].min(b[k]));
            let high = [0, 1].map(|k| a[k].max(b[k]));
            steps.cells(low, high, |cell| pairs.push((cell as u32, number as u32)));
        }
        pairs.sort_unstable();
        steps.starts = vec![0; steps.columns * steps.rows + 1];
        for (cell, _) in &pairs {
            steps.starts[*cell as usize + 1] += 1;
        }
        for i in 1..steps.starts.len() {
            steps.starts[i] += steps.starts[i - 1];
        }
        steps.list = pairs.into_iter().map(|(_, number)| number).collect();
        let mut is_near = vec![false; steps.columns * steps.rows];
        for cell in (0..is_near.len()).filter(|c| steps.starts[*c] < steps.starts[c + 1]) {
            let (x, y) = (cell % steps.columns, cell / steps.columns);
            for y in y.saturating_sub(1)..(y + 2).min(steps.rows) {
                for x in x.saturating_sub(1)..(x + 2).min(steps.columns) {
                    is_near[y * steps.columns + x] = true;
                }
            }
        }
        steps.is_near = is_near;
        steps
    }

    #[inline]
    fn cells(&self, low: [f32; 2], high: [f32; 2], mut with: impl FnMut(usize)) {
        let at = |v: f32, count: usize| ((v.max(0.0) * self.cells_per_px) as usize).min(count - 1);
        for y in at(low[1], self.rows)..=at(high[1], self.rows) {
            for x in at(low[0], self.columns)..=at(high[0], self.columns) {
                with(y * self.columns + x);
            }
        }
    }

    /// Distance in pixels from a place in the picture to the nearest step; `within` where none is nearer.
    #[inline]
    pub fn distance_px(&self, pixel: [f64; 2], within: f32) -> f32 {
        let p = pixel.map(|v| v as f32);
        if within <= self.cell_px {
            let at = |v: f32, count: usize| before(v.max(0.0) * self.cells_per_px).0.min(count - 1);
            if !self.is_near[at(p[1], self.rows) * self.columns + at(p[0], self.columns)] {
                return within;
            }
        }
        let mut least = within * within;
        self.cells(p.map(|v| v - within), p.map(|v| v + within), |cell| {
            let own = self.starts[cell] as usize..self.starts[cell + 1] as usize;
            for &line in &self.list[own] {
                least = least.min(distance_squared(&self.lines[line as usize], p));
            }
        });
        least.sqrt()
    }

    /// Distances in pixels from places that lie in a box of the picture to the nearest step, at most `within` where
    /// none is nearer than that.
    pub(crate) fn distances_px(
        &self,
        [low, high]: [[f64; 2]; 2],
        within: f32,
        pixel: [&[f64]; 2],
        away: &mut [f32],
    ) {
        let mut near: Vec<u32> = Vec::new();
        let (low, high) = (low.map(|v| v as f32), high.map(|v| v as f32));
        self.cells(low.map(|v| v - within), high.map(|v| v + within), |cell| {
            near.extend(&self.list[self.starts[cell] as usize..self.starts[cell + 1] as usize]);
        });
        near.sort_unstable();
        near.dedup();
        if near.len() > MOST_FOR_ALL {
            for (i, away) in away.iter_mut().enumerate() {
                *away = self.distance_px([pixel[0][i], pixel[1][i]], within);
            }
            return;
        }
        away.fill(within * within);
        for line in near {
            nearer(&self.lines[line as usize], pixel, away);
        }
        away.iter_mut().for_each(|away| *away = away.sqrt());
    }

    /// Whether there is no step so near to any place of a box of the picture. `false` where that is not plain.
    pub(crate) fn is_far(&self, low: [f64; 2], high: [f64; 2], within: f32) -> bool {
        let at = |v: f64, by: f32, count: usize| {
            (((v as f32 + by).max(0.0) * self.cells_per_px) as usize).min(count - 1)
        };
        let columns = at(low[0], -within, self.columns)..at(high[0], within, self.columns) + 1;
        let mut rows = at(low[1], -within, self.rows)..at(high[1], within, self.rows) + 1;
        rows.all(|y| {
            let row = y * self.columns;
            self.starts[row + columns.start] == self.starts[row + columns.end]
        })
    }

    /// Calls `put` with each line: its box of low and high corner, and a function for the distance from it.
    pub(crate) fn each_line(&self, mut put: impl FnMut([[f32; 2]; 2], &dyn Fn([f32; 2]) -> f32)) {
        for line in &self.lines {
            let [a, b] = line;
            let low = [0, 1].map(|k| a[k].min(b[k]));
            let high = [0, 1].map(|k| a[k].max(b[k]));
            put([low, high], &|p| distance_squared(line, p).sqrt());
        }
    }

    /// As bytes, to be kept.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let words = self.lines.as_flattened().as_flattened().iter();
        let count = (self.lines.len() as u32).to_le_bytes();
        count
            .into_iter()
            .chain(words.flat_map(|v| v.to_le_bytes()))
            .collect()
    }

    /// How many bytes there are after the first [`Steps::HEAD_BYTES`].
    pub(crate) fn bytes_after(head: [u8; Self::HEAD_BYTES]) -> usize {
        u32::from_le_bytes(head) as usize * size_of::<Line>()
    }

    pub(crate) const HEAD_BYTES: usize = 4;

    /// From the bytes after the head.
    pub(crate) fn of_bytes(view: &View, bytes: &[u8]) -> Self {
        let words: Vec<f32> = words_of_bytes(bytes).map(f32::from_bits).collect();
        let points = words.as_chunks::<2>().0;
        Self::of_lines(view, points.as_chunks::<2>().0.to_vec())
    }
}

/// Lowers squares of distances to those from a line, for whichever of these a processor has.
#[multiversion::multiversion(targets(
    "x86_64+avx2+fma",
    "x86_64+avx512f+avx512vl+avx512dq+avx512bw"
))]
fn nearer(line: &Line, [x, y]: [&[f64]; 2], away: &mut [f32]) {
    for ((x, y), away) in x.iter().zip(y).zip(away) {
        let squared = distance_squared(line, [*x as f32, *y as f32]);
        *away = if squared < *away { squared } else { *away };
    }
}

#[inline]
fn distance_squared([a, b]: &Line, p: [f32; 2]) -> f32 {
    let (along, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
    let length = along[0] * along[0] + along[1] * along[1];
    let t = if length > 0.0 {
        ((to[0] * along[0] + to[1] * along[1]) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let off = [to[0] - t * along[0], to[1] - t * along[1]];
    off[0] * off[0] + off[1] * off[1]
}

/// The parts of an edge of a triangle where nothing hides it and depth steps beyond it.
fn stepping(view: &View, sight: &Sight, faces: &[Face], face: u32, corner: u8) -> Vec<Line> {
    let corners = faces[face as usize].corners;
    let [a, b, c] = [0, 1, 2].map(|k| view.camera_of(corners[(usize::from(corner) + k) % 3]));
    let mut out = Vec::new();
    if a.z.min(b.z).min(c.z) <= 0.0 {
        return out;
    }
    let on_plane = |p: DVec3| [p.x / p.z, p.y / p.z];
    let pixel = |p: DVec3| view.pixel(on_plane(p));
    let (Some(from), Some(to)) = (pixel(a), pixel(b)) else {
        return out;
    };
    let parts = (from[0] - to[0]).hypot(from[1] - to[1]) / LONGEST_PX;
    // Far beyond the picture a lens says nothing of lengths.
    let parts = parts.ceil().clamp(1.0, MOST_PARTS) as usize;
    let at = |k: usize| a.lerp(b, k as f64 / parts as f64);
    for k in 0..parts {
        let (low, high) = (at(k), at(k + 1));
        let middle = 0.5 * (low + high);
        let (Some(p), Some(q)) = (pixel(low), pixel(high)) else {
            continue;
        };
        if !view.is_within(p, FARTHEST_PX) && !view.is_within(q, FARTHEST_PX) {
            continue;
        }
        let place = on_plane(middle);
        let pixel_m = middle.z / view.lens.lens().focal_px[0];
        if sight.is_hidden(place, middle.z, face) || !is_deep(view, sight, [low, high, c], pixel_m)
        {
            continue;
        }
        out.push([p.map(|v| v as f32), q.map(|v| v as f32)]);
    }
    out
}

/// Most lines of one edge: a picture is not wider in [`LONGEST_PX`] (a choice of ours).
const MOST_PARTS: f64 = 16384.0;

/// Whether what lies beyond an edge, on the side where its triangle is not, is much deeper.
fn is_deep(view: &View, sight: &Sight, [a, b, c]: [DVec3; 3], pixel_m: f64) -> bool {
    let [p, q, r] = [a, b, c].map(|v| [v.x / v.z, v.y / v.z]);
    let along = [q[0] - p[0], q[1] - p[1]];
    let length = along[0].hypot(along[1]);
    if length == 0.0 {
        return false;
    }
    let mut aside = [-along[1] / length, along[0] / length];
    if aside[0] * (r[0] - p[0]) + aside[1] * (r[1] - p[1]) > 0.0 {
        aside = aside.map(|v| -v);
    }
    let middle = 0.5 * (a + b);
    let step = ASIDE_PX / view.lens.lens().focal_px[0];
    let there = [0, 1].map(|k| [middle.x, middle.y][k] / middle.z + step * aside[k]);
    let least_m = STEEPEST * SPREAD_PX * pixel_m;
    sight
        .first(there)
        .is_none_or(|(_, inverse)| 1.0 / inverse - middle.z > least_m)
}
