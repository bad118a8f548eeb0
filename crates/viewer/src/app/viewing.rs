//! The view: read, changed, glided to.

use serde_json::Value;

use super::{App, Event};
use crate::camera::OrbitCamera;
use crate::view::{View, ViewError};

/// How long a change of camera takes (ms).
const GLIDE_MS: f64 = 320.0;

/// A change of camera under way.
#[derive(Debug)]
pub(super) struct Glide {
    from: OrbitCamera,
    to: OrbitCamera,
    start_ms: Option<f64>,
}

impl App {
    /// The view, once a surface is here.
    #[must_use]
    pub fn view(&self) -> Option<&View> {
        self.view.as_ref()
    }

    /// Changes the view by a partial object. Before a surface is here the change waits.
    ///
    /// # Errors
    /// A field that makes no sense; nothing changes then.
    pub fn change_view(&mut self, change: &Value) -> Result<(), ViewError> {
        let (Some(view), Some(content)) = (&self.view, &self.content) else {
            self.asked.push(change.clone());
            return Ok(());
        };
        let changed = view.changed(change, content)?;
        self.glide = None;
        self.put_view(changed);
        Ok(())
    }

    /// As [`App::change_view`], with the camera gliding to its new place.
    ///
    /// # Errors
    /// A field that makes no sense; nothing changes then.
    pub fn glide_to_view(&mut self, change: &Value) -> Result<(), ViewError> {
        let Some(from) = self.view.as_ref().map(|v| v.camera) else {
            return self.change_view(change);
        };
        self.change_view(change)?;
        if let Some(view) = &mut self.view {
            let to = view.camera;
            if !self.reduced_motion && to != from {
                view.camera = from;
                self.glide = Some(Glide {
                    from,
                    to,
                    start_ms: None,
                });
            }
        }
        Ok(())
    }

    pub(super) fn put_view(&mut self, view: View) {
        if self.view.as_ref() == Some(&view) {
            return;
        }
        let (paints, table) = match &self.view {
            Some(known) => known.differs_in(&view),
            None => (true, true),
        };
        self.paints_stale |= paints;
        if table {
            self.table_is_stale();
        }
        self.view = Some(view);
        self.dirty = true;
        self.push_view_event();
    }

    pub(super) fn push_view_event(&mut self) {
        if !self.events.contains(&Event::View) {
            self.events.push(Event::View);
        }
    }

    pub(super) fn with_view(&mut self, change: impl FnOnce(&mut View)) {
        if let Some(mut view) = self.view.clone() {
            change(&mut view);
            self.put_view(view);
        }
    }

    /// A canvas of CSS pixels, each `pixel_ratio` device pixels wide.
    pub fn resize(&mut self, width: f64, height: f64, pixel_ratio: f64) {
        let size = [width.max(1.0), height.max(1.0)];
        if self.size == size && self.pixel_ratio == pixel_ratio {
            return;
        }
        let first = self.size == [0.0, 0.0];
        self.size = size;
        self.pixel_ratio = pixel_ratio.max(0.1);
        self.dirty = true;
        if first && let (Some(ball), Some(view)) = (self.ball, &mut self.view) {
            view.camera.fit(ball, size[0] / size[1]);
        }
    }

    /// Size of the canvas in device pixels.
    #[must_use]
    pub fn size_px(&self) -> [u32; 2] {
        self.size
            .map(|s| (s * self.pixel_ratio).round().max(1.0) as u32)
    }

    pub(super) fn glide_camera(&mut self, change: impl FnOnce(&mut OrbitCamera)) {
        let Some(from) = self.view.as_ref().map(|v| v.camera) else {
            return;
        };
        let mut to = from;
        change(&mut to);
        if self.reduced_motion {
            self.with_view(|v| v.camera = to);
        } else {
            self.glide = Some(Glide {
                from,
                to,
                start_ms: None,
            });
            self.dirty = true;
        }
    }

    pub(super) fn step_glide(&mut self, now_ms: f64) {
        let Some(glide) = &mut self.glide else { return };
        let start = *glide.start_ms.get_or_insert(now_ms);
        let t = ((now_ms - start) / GLIDE_MS).clamp(0.0, 1.0);
        // Smooth start and end: 3t² − 2t³.
        let camera = if t < 1.0 {
            glide.from.between(&glide.to, t * t * (3.0 - 2.0 * t))
        } else {
            glide.to
        };
        if t >= 1.0 {
            self.glide = None;
        }
        self.with_view(|v| v.camera = camera);
    }
}
