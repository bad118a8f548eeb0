//! A group of texels in one photograph: how well each is seen, and its blurred light.

use std::cell::Cell;

use glam::Vec4;

use super::group::{Look, MOST, Row, SIDE};
use super::lattice;
use super::levels::{BLUR_STEP, DETAIL_LEVEL, SHRINK};
use super::window::Window;
use crate::error::Result;

/// And where pixels for each area go evenly too, to this part of them: a fifth of a level of blur (a choice of ours).
const EVEN: f64 = 0.25;

/// From pixels of the photograph to those of each blurred level.
const DOWN: [f32; SHRINK.len() - 1] = {
    let mut down = [1.0; SHRINK.len() - 1];
    let mut k = 0;
    while k < down.len() {
        down[k] /= SHRINK[k + 1] as f32;
        k += 1;
    }
    down
};
/// A photograph's samples in memory.
pub(crate) struct Source<'a> {
    pub(crate) full: Window<'a>,
    /// Levels 1 and on.
    pub(crate) blurred: Vec<Window<'a>>,
    pub(crate) clipped_light: f32,
}

/// A group of texels in one photograph.
pub(crate) struct Sighting {
    pub(crate) photo: usize,
    /// Which of them it sees.
    pub(crate) sees: Row<bool>,
    pub(crate) look: Look,
    /// How well each is seen.
    pub(crate) weight: Row<f32>,
    /// How far its own pixels count, beside a step of depth.
    pub(crate) clear: Row<f32>,
    /// Whether what is read lies astride one.
    pub(crate) is_astride: Row<bool>,
    /// Linear light, blurred and more blurred, of those that others see too.
    pub(crate) blurred: [Row<Vec4>; 2],
    /// Detail about the place of those.
    pub(crate) detail: Row<f32>,
}

impl Sighting {
    pub(crate) fn new() -> Self {
        Self {
            photo: 0,
            sees: [false; MOST],
            look: Look::new(),
            weight: [0.0; MOST],
            clear: [1.0; MOST],
            is_astride: [false; MOST],
            blurred: [[Vec4::ZERO; MOST]; 2],
            detail: [0.0; MOST],
        }
    }

    /// Reads blurred light and detail of one of its texels.
    pub(crate) fn read(
        &mut self,
        source: &mut Source,
        i: usize,
        blur_steps: [f32; 2],
        channels: usize,
    ) {
        let pixel = [0, 1].map(|k| self.look.projected.pixel[k][i] as f32);
        let px_per_m = self.look.px_per_m2[i].sqrt() as f32;
        let (levels, detail) = source.blurred_by(pixel, blur_steps, px_per_m, channels);
        for (row, level) in self.blurred.iter_mut().zip(levels) {
            row[i] = level;
        }
        self.detail[i] = detail;
    }

    /// Whether a full group lies evenly in the picture, to such a length on the surface.
    pub(crate) fn is_even(&self, within_m: f64) -> bool {
        let look = &self.look;
        let middle = look.px_per_m2[MOST / 2 + SIDE / 2];
        let within_px = within_m * middle.sqrt();
        look.projected
            .pixel
            .iter()
            .all(|row| lattice::farthest(row) <= within_px)
            && lattice::farthest(&look.px_per_m2) <= EVEN * middle
    }
}
impl Source<'_> {
    /// The photograph blurred by about such lengths on the surface, read between two levels each; and the
    /// detail, which lies in a channel of its own.
    fn blurred_by(
        &mut self,
        pixel: [f32; 2],
        blur_steps: [f32; 2],
        px_per_m: f32,
        detail_channel: usize,
    ) -> ([Vec4; 2], f32) {
        let most = self.blurred.len() - 1;
        let per_step = 1.0 / (BLUR_STEP as f32).log2();
        let first = px_per_m.log2();
        let detail = Cell::new(None);
        let mut read = |k: usize| {
            let there = self.blurred[k].blurred(pixel.map(|v| v * DOWN[k]));
            if k + 1 == DETAIL_LEVEL {
                detail.set(Some(there[detail_channel]));
            }
            there
        };
        let levels = blur_steps.map(|blur| {
            let at = ((first + blur) * per_step).clamp(0.0, most as f32);
            let low = (at as usize).min(most - 1);
            let share = at - low as f32;
            let (a, b) = (read(low), read(low + 1));
            a + (b - a) * share
        });
        let detail = detail
            .get()
            .unwrap_or_else(|| read(DETAIL_LEVEL - 1)[detail_channel]);
        (levels, detail)
    }

    pub(crate) fn trouble(&mut self) -> Result<()> {
        let mut all = self.blurred.iter_mut().chain([&mut self.full]);
        all.try_for_each(Window::trouble)
    }

    pub(crate) fn bytes(&self) -> usize {
        self.full.bytes() + self.blurred.iter().map(Window::bytes).sum::<usize>()
    }

    pub(crate) fn clear(&mut self) {
        self.full.clear();
        self.blurred.iter_mut().for_each(Window::clear);
    }
}
