//! Panes beside one another: one camera, several states.

use super::App;
use crate::view::{Comparison, View};

/// A part of the canvas with a picture of its own, in CSS px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pane {
    /// Left, right, third, fourth.
    pub(super) number: usize,
    /// Its top left corner.
    pub(super) origin: [f64; 2],
    /// Its width and height.
    pub(super) size: [f64; 2],
}

impl App {
    /// Columns and rows of panes over a picture of this size.
    pub(super) fn grid_over(view: Option<&View>, size: [f64; 2]) -> [u32; 2] {
        match view
            .filter(|v| v.compare == Comparison::Pair)
            .map(|v| v.count)
        {
            None => [1, 1],
            Some(4) => [2, 2],
            // Two or three stand beside one another where there is width for it.
            Some(count) if size[0] >= size[1] => [count, 1],
            Some(count) => [1, count],
        }
    }

    pub(super) fn grid(&self) -> [u32; 2] {
        Self::grid_over(self.view.as_ref(), self.size)
    }

    /// Size of one pane (CSS px): of the whole canvas where there are none.
    pub(super) fn pane_size(&self) -> [f64; 2] {
        let grid = self.grid();
        [0, 1].map(|axis| self.size[axis] / f64::from(grid[axis]))
    }

    /// Metres of the object that a CSS pixel stands for where the camera looks, in any pane.
    #[must_use]
    pub fn metres_per_pixel(&self) -> Option<f64> {
        let camera = self.view.as_ref()?.camera;
        Some(camera.metres_per_pixel(self.pane_size()[1]))
    }

    /// The pane under a point of the canvas.
    pub(super) fn pane_at(&self, x: f64, y: f64) -> Pane {
        let (grid, size) = (self.grid(), self.pane_size());
        let at = [(x, 0), (y, 1)].map(|(at, axis)| {
            let last = f64::from(grid[axis] - 1);
            (at / size[axis].max(1.0)).floor().clamp(0.0, last)
        });
        Pane {
            number: at[1] as usize * grid[0] as usize + at[0] as usize,
            origin: [at[0] * size[0], at[1] * size[1]],
            size,
        }
    }

    /// A point of the canvas in the coordinates of its pane: −1..1 to the right and upwards.
    pub(super) fn place_in_pane(&self, x: f64, y: f64) -> [f64; 2] {
        let pane = self.pane_at(x, y);
        [
            2.0 * (x - pane.origin[0]) / pane.size[0] - 1.0,
            1.0 - 2.0 * (y - pane.origin[1]) / pane.size[1],
        ]
    }

    /// Panes of the picture for the page: `[{x, y, width, height}]` in CSS px, none when it is whole.
    #[must_use]
    pub fn panes(&self) -> Vec<[f64; 4]> {
        let (grid, size) = (self.grid(), self.pane_size());
        let count = if grid == [1, 1] { 0 } else { grid[0] * grid[1] };
        (0..count)
            .map(|n| {
                let at = [n % grid[0], n / grid[0]].map(f64::from);
                [at[0] * size[0], at[1] * size[1], size[0], size[1]]
            })
            .collect()
    }
}
