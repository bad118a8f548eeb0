//! The surface: how it comes, in which level, and how places on it are found.

use std::rc::Rc;

use ganosis_dossier::document::SurfaceLevel;
use ganosis_renderer::Upload;
use ganosis_surface::Surface;
use ganosis_surface::flat::Damaged;
use ganosis_surface::pick::{Picker, Shared, Tree};
use serde_json::{Value, json};

use super::App;
use crate::content::{Content, OpenError};
use crate::light::Mode;

/// Vertices that go to the device in one step: some 3 MB, a few milliseconds on a tablet (a choice of ours).
const STEP: usize = 1 << 16;

/// Above so many triangles the tree that finds places is waited for rather than built at once: up to
/// there it takes some 20 ms (a choice of ours).
const BUILT_AT_ONCE: usize = 50_000;

/// A level is fine enough where it lies at most so many pixels from the surface (a choice of ours: beyond
/// half a pixel an edge may move to the next one).
const FINE_PX: f64 = 0.5;

/// Geometry that is being brought to the device.
#[derive(Debug)]
pub(super) struct Bringing {
    upload: Upload,
    surface: Rc<Surface>,
    /// A finer level than what is drawn meanwhile.
    level: Option<usize>,
}

impl App {
    pub(super) fn level_of(id: &str) -> Option<usize> {
        id.strip_prefix("surface:")?.parse().ok()
    }

    /// Takes a surface that was read elsewhere, wanted under this id: [`App::bring_geometry`] then brings it
    /// to the device.
    ///
    /// # Errors
    /// When there is nothing to show in it, or it does not fit what is here.
    pub fn take_surface(&mut self, id: &str, surface: Surface) -> Result<(), OpenError> {
        let Some(content) = &mut self.content else {
            return Ok(());
        };
        let level = Self::level_of(id);
        let surface = match level {
            Some(level) => {
                content.fits(level, &surface)?;
                Rc::new(surface)
            }
            None => {
                let surface = content.take_surface(surface)?;
                self.surface_arrived();
                surface
            }
        };
        self.bring(surface, level);
        Ok(())
    }

    /// A surface that arrived damaged.
    ///
    /// # Errors
    /// Always.
    pub fn refuse_surface(&mut self, id: &str, damaged: Damaged) -> Result<(), OpenError> {
        let level = Self::level_of(id);
        let file = self.content.as_ref().map(|c| c.file_of_surface(level));
        Err(OpenError {
            file: file.unwrap_or_default(),
            message: damaged.to_string(),
        })
    }

    fn bring(&mut self, surface: Rc<Surface>, level: Option<usize>) {
        let origin = self.origin_m().as_vec3();
        match &self.renderer {
            Some(renderer) => {
                self.bringing = Some(Bringing {
                    upload: renderer.begin_geometry(&surface, origin),
                    surface,
                    level,
                });
            }
            None => self.put(surface, level),
        }
    }

    /// The surface that is drawn from now on.
    fn put(&mut self, surface: Rc<Surface>, level: Option<usize>) {
        if let Some((level, content)) = level.zip(self.content.as_mut()) {
            content.put_level(level, surface);
            // The numbers were those of the vertices before.
            self.relief.clear();
            self.areas_m2 = None;
        }
        self.paints_stale = true;
        self.dirty = true;
        self.push_view_event();
    }

    /// After the loss of a device what was under way begins anew.
    pub(super) fn bring_again(&mut self) {
        if let Some(Bringing { surface, level, .. }) = self.bringing.take()
            && level.is_some()
        {
            self.bring(surface, level);
        }
    }

    /// Brings the next piece of a surface to the device; false when it is there and drawn from now on.
    pub fn bring_geometry(&mut self) -> bool {
        let (Some(renderer), Some(bringing)) = (&mut self.renderer, &mut self.bringing) else {
            return false;
        };
        if renderer.write_geometry(&mut bringing.upload, &bringing.surface, &[], STEP) {
            return true;
        }
        if let Some(Bringing {
            upload,
            surface,
            level,
        }) = self.bringing.take()
        {
            renderer.show_geometry(upload);
            self.put(surface, level);
        }
        false
    }

    /// Outside the browser nobody waits for a step.
    #[cfg(feature = "files")]
    pub(super) fn show_surface(&mut self) {
        let surface = self.content.as_ref().and_then(Content::surface).cloned();
        if let Some(surface) = surface.filter(|_| self.view.is_none()) {
            self.surface_arrived();
            self.bring(surface, None);
        }
        while self.bring_geometry() {}
    }

    /// Whether the device has the surface.
    pub(super) fn geometry_is_here(&self) -> bool {
        let here = self.content.as_ref().and_then(Content::surface).is_some();
        here && self.bringing.as_ref().is_none_or(|b| b.level.is_some())
    }

    /// Takes the tree of the surface that is here, built elsewhere; false when it is not of it.
    pub fn take_tree(&mut self, tree: Tree) -> bool {
        let Some(surface) = self.content.as_ref().and_then(Content::surface) else {
            return false;
        };
        let sound = tree.is_sound(surface.triangle_count());
        if sound {
            self.picker = Some(Picker::<Shared>::shared(Rc::clone(surface), Some(tree)));
        }
        sound
    }

    pub(super) fn ensure_picker(&mut self) {
        let Some(surface) = self.content.as_ref().and_then(Content::surface) else {
            return;
        };
        let small = surface.triangle_count() <= BUILT_AT_ONCE || cfg!(feature = "files");
        if self.picker.is_none() && small {
            self.picker = Some(Picker::<Shared>::shared(Rc::clone(surface), None));
        }
    }

    /// The level of the surface to fetch next, once there is a picture: the coarsest that is as good as
    /// the whole surface at this size, the finest where light falls on it.
    pub(super) fn finer_level(&self) -> Option<usize> {
        let (content, view) = (self.content.as_ref()?, self.view.as_ref()?);
        let here = content.level.filter(|_| self.ready())?;
        let levels = &content.document.surface.levels;
        let last = levels.len().checked_sub(1)?;
        let camera = &view.camera;
        let pane_px = (self.pane_size()[1] * self.pixel_ratio).max(self.pictured_px);
        // What is nearest to the eye is largest; close by, what is looked at is.
        let radius_m = self.radius_m();
        let nearest = ((camera.distance_m - radius_m) / camera.distance_m).max(0.25);
        let mm_per_px = camera.metres_per_pixel(pane_px) * nearest * 1000.0;
        let enough =
            |level: &SurfaceLevel| level.error_mm.max(level.shift_mm) <= FINE_PX * mm_per_px;
        let wanted = if view.light.mode == Mode::AsMeasured {
            levels.iter().position(enough).unwrap_or(last)
        } else {
            last
        };
        let under_way = self.bringing.as_ref().and_then(|b| b.level);
        (wanted > here && under_way != Some(wanted)).then_some(wanted)
    }

    /// A picture of this height is being made, for which a finer level may be needed; 0 once it is made.
    pub fn set_pictured(&mut self, height_px: f64) {
        self.pictured_px = height_px;
    }

    /// Which level of the surface is here: `{level, of, triangles, error_mm}`, counted from the coarsest;
    /// null where it has no levels.
    #[must_use]
    pub fn level(&self) -> Value {
        let content = self.content.as_ref();
        let here = content.and_then(|c| Some((c.level?, &c.document.surface.levels)));
        let Some((number, levels)) = here else {
            return Value::Null;
        };
        let level = &levels[number];
        json!({"level": number + 1, "of": levels.len(), "triangles": level.triangles, "error_mm": level.error_mm.max(level.shift_mm)})
    }
}
