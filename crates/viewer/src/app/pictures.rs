//! Pictures beside the one on the canvas: of any size, in parts, of another view, of a single state.

use ganosis_renderer::{Asked, Compare, Frame, Readback, RendererError};
use serde_json::{Value, json};

use super::App;
use crate::camera::OrbitCamera;
use crate::view::{View, ViewError};

/// Why a picture was not begun.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// The view asked for makes no sense.
    #[error(transparent)]
    View(#[from] ViewError),
    /// The device cannot hold it, or nothing is open.
    #[error(transparent)]
    Renderer(#[from] RendererError),
}

fn nothing_open() -> RendererError {
    RendererError::Mismatch {
        what: "the picture".to_owned(),
        detail: "nothing is open yet".to_owned(),
    }
}

impl App {
    /// Starts the part of `size` px at `origin` of a picture of `whole` px, of what is seen with the
    /// fields of `change` in place of the view's own. The view itself stays as it is.
    ///
    /// # Errors
    /// A view that makes no sense; a part the device cannot hold or that is not inside the picture;
    /// nothing open yet.
    pub fn snapshot(
        &mut self,
        change: &Value,
        whole: [u32; 2],
        origin: [u32; 2],
        size: [u32; 2],
    ) -> Result<Readback, PictureError> {
        let (Some(view), Some(content)) = (&self.view, &self.content) else {
            return Err(nothing_open().into());
        };
        let other = view.changed(change, content)?;
        Ok(self.with_other_view(other, |app| app.draw_part(whole, origin, size))?)
    }

    /// Starts a picture of one state or band alone, whole, from where one first stands; the view stays
    /// as it is. None while its images are not here.
    ///
    /// # Errors
    /// No such state or band; a size the device cannot hold; nothing open yet.
    pub fn picture_of(
        &mut self,
        id: &str,
        size: [u32; 2],
    ) -> Result<Option<Readback>, PictureError> {
        let Some(other) = self.alone(id, size)? else {
            return Ok(None);
        };
        let readback = self.with_other_view(other, |app| app.draw_part(size, [0, 0], size))?;
        Ok(Some(readback))
    }

    /// Makes one thing that [`App::picture_of`] would have to make first, as frames of the canvas do; true
    /// when there is nothing left to make, or nothing to draw yet.
    ///
    /// # Errors
    /// As [`App::picture_of`].
    pub fn prepare_picture_of(&mut self, id: &str, size: [u32; 2]) -> Result<bool, PictureError> {
        let Some(other) = self.alone(id, size)? else {
            return Ok(true);
        };
        let made = self.with_other_view(other, |app| {
            let frame = app.frame_of(size)?;
            let renderer = app.renderer.as_mut().ok_or_else(nothing_open)?;
            Ok::<_, RendererError>(!renderer.prepare_next(&frame))
        })?;
        Ok(made)
    }

    /// The view of one state or band alone; None while its images are not here.
    fn alone(&self, id: &str, size: [u32; 2]) -> Result<Option<View>, PictureError> {
        let (Some(content), Some(view), Some(home), Some(ball)) =
            (&self.content, &self.view, &self.home, self.ball)
        else {
            return Err(nothing_open().into());
        };
        let alone = json!({"left": id, "compare": "one", "lamp": null, "overlay": null, "layers": {}, "over": null,
                           "region": null, "light": {"mode": "as-measured"}, "section": null});
        let mut other = view.changed(&alone, content)?;
        if !self.arrived(content, id) {
            return Ok(None);
        }
        let [width, height] = size.map(|s| f64::from(s.max(1)));
        other.camera = OrbitCamera {
            azimuth_deg: home.camera.azimuth_deg,
            elevation_deg: home.camera.elevation_deg,
            ..OrbitCamera::fitted(ball, width / height)
        };
        Ok(Some(other))
    }

    /// What the view shows is put back before anything else is drawn.
    fn with_other_view<T>(&mut self, other: View, work: impl FnOnce(&mut Self) -> T) -> T {
        let differs = |known: &View| known.differs_in(&other);
        let (paints, table) = self.view.as_ref().map_or((true, true), differs);
        let shown = self.view.replace(other);
        self.paints_stale |= paints;
        self.table_stale |= table;
        let done = work(self);
        self.view = shown;
        self.paints_stale |= paints;
        self.table_stale |= table;
        done
    }

    /// Starts finding out which tiles a part of a picture needs, as [`App::snapshot`] would draw it; nothing
    /// where it needs none.
    ///
    /// # Errors
    /// As [`App::snapshot`].
    pub fn ask_for_tiles(
        &mut self,
        change: &Value,
        whole: [u32; 2],
        origin: [u32; 2],
        size: [u32; 2],
    ) -> Result<Option<Asked>, PictureError> {
        let (Some(view), Some(content)) = (&self.view, &self.content) else {
            return Ok(None);
        };
        let other = view.changed(change, content)?;
        let asked = self.with_other_view(other, |app| {
            let asks = app.asks();
            if asks.is_empty() {
                return Ok(None);
            }
            let frame = app.frame_of(whole)?;
            let renderer = app.renderer.as_mut().ok_or_else(nothing_open)?;
            let asked = renderer.ask_for_tiles(&frame, asks, whole, origin, size)?;
            Ok::<_, RendererError>(Some(asked))
        })?;
        Ok(asked)
    }

    fn draw_part(
        &mut self,
        whole: [u32; 2],
        origin: [u32; 2],
        size: [u32; 2],
    ) -> Result<Readback, RendererError> {
        let frame = self.frame_of(whole)?;
        let renderer = self.renderer.as_mut().ok_or_else(nothing_open)?;
        renderer.snapshot_tile(&frame, whole, origin, size)
    }

    /// The frame of a picture of `whole` px, with what it draws brought up to date.
    fn frame_of(&mut self, whole: [u32; 2]) -> Result<Frame, RendererError> {
        self.refresh_paints();
        self.refresh_table();
        let ratio = f64::from(whole[0]) / self.size[0].max(1.0);
        let shape = whole.map(|s| f64::from(s.max(1)));
        let grid = Self::grid_over(self.view.as_ref(), shape);
        let aspect = shape[0] / f64::from(grid[0]) / (shape[1] / f64::from(grid[1]));
        let frame = self.frame(aspect, ratio).ok_or_else(nothing_open)?;
        Ok(match frame.compare {
            Compare::Panes { .. } => Frame {
                compare: Compare::Panes { grid },
                ..frame
            },
            _ => frame,
        })
    }
}
