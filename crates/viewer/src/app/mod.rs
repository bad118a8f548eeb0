//! The viewer without a browser: content, view, input and renderer together.

mod drawing;
mod editing;
mod histogram;
mod loading;
mod loupe;
mod panes;
mod pictures;
mod places;
mod regions;
mod steering;
mod surfaces;
mod tiles;
mod viewing;

use std::collections::BTreeMap;

use ganosis_renderer::{Relief, Renderer};
use ganosis_surface::area;
use ganosis_surface::pick::{Picker, Shared};
use glam::DVec3;
use serde_json::Value;

use crate::camera::{Ball, Basis, OrbitCamera, first_elevation_deg};
use crate::content::{Content, ImageKind, OpenError, Progress};
use crate::input::Input;
use crate::light::Light;
use crate::view::{Comparison, DifferenceScale, Loupe, View};

pub use editing::Rect;
pub use loading::Want;
pub use places::{LayerTexel, PinPlace, Place, StateTexel};
use surfaces::Bringing;
pub use tiles::Tile;
use viewing::Glide;

/// What happened, for the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// The view changed.
    View,
    /// A click at CSS pixels.
    Click {
        /// From the left.
        x: f64,
        /// From the top.
        y: f64,
    },
    /// The graphics device is gone.
    Lost,
    /// The document changed: states of a plain mesh became known.
    Document,
}

/// All of the viewer.
#[derive(Debug, Default)]
pub struct App {
    content: Option<Content>,
    view: Option<View>,
    home: Option<View>,
    asked: Vec<Value>,
    input: Input,
    renderer: Option<Renderer>,
    picker: Option<Picker<Shared>>,
    /// Geometry on its way to the device.
    bringing: Option<Bringing>,
    /// Height of a picture that is being made beside that on the canvas (px), or 0.
    pictured_px: f64,
    ball: Option<Ball>,
    /// Smoothed normals and what is hidden, once asked for: one a vertex.
    relief: Vec<Relief>,
    size: [f64; 2],
    pixel_ratio: f64,
    hover_divider: bool,
    /// The divider that a pointer carries.
    held_divider: usize,
    hover_loupe: bool,
    /// From the pointer that carries the loupe to the middle of the glass (CSS px).
    loupe_grip: [f64; 2],
    /// Which of two states that take turns is shown.
    blink_right: bool,
    glide: Option<Glide>,
    events: Vec<Event>,
    pins: Vec<PinPlace>,
    dirty: bool,
    /// The present surface has been drawn.
    shown: bool,
    paints_stale: bool,
    /// The region table is to be made anew.
    table_stale: bool,
    areas_m2: Option<BTreeMap<u32, f64>>,
    /// Answers for the panels, which ask with every change of the view; none after what they rest on
    /// has changed.
    lamp_told: Option<Value>,
    legend_told: Option<Value>,
    lost_told: bool,
    /// Changes of camera happen at once.
    pub reduced_motion: bool,
    /// The canvas holds Display P3; pictures taken of it are sRGB all the same.
    pub wide_canvas: bool,
    /// Language for texts before a view says otherwise.
    pub language: String,
}

impl App {
    /// Opens `dossier.json` or a mesh.
    ///
    /// # Errors
    /// When nothing can be shown; what was open stays.
    pub fn open(&mut self, name: &str, bytes: &[u8]) -> Result<(), OpenError> {
        let content = Content::open(name, bytes)?;
        self.content = Some(content);
        self.bringing = None;
        self.view = None;
        self.picker = None;
        self.relief.clear();
        self.areas_m2 = None;
        #[cfg(feature = "files")]
        self.show_surface();
        Ok(())
    }

    /// The opened content.
    #[must_use]
    pub fn content(&self) -> Option<&Content> {
        self.content.as_ref()
    }

    /// The renderer.
    #[must_use]
    pub fn renderer(&self) -> Option<&Renderer> {
        self.renderer.as_ref()
    }

    /// Puts a renderer in, at start and after the loss of a device; every image is then wanted anew.
    pub fn set_renderer(&mut self, renderer: Renderer) {
        self.renderer = Some(renderer);
        self.lost_told = false;
        if let Some(content) = &mut self.content {
            content.want_images_again();
        }
        self.upload_labels();
        self.upload_geometry();
        self.bring_again();
        self.paints_stale = true;
        self.table_is_stale();
        self.dirty = true;
    }

    /// Region maps go to a new device from the values kept, which may have been drawn on.
    fn upload_labels(&mut self) {
        let count = self.content.as_ref().map_or(0, |c| c.images.len());
        for index in 0..count {
            let image = self.content.as_mut().map(|c| &mut c.images[index]);
            let Some(image) = image.filter(|i| i.kind == ImageKind::Labels) else {
                continue;
            };
            let Some(values) = image.values.take() else {
                continue;
            };
            let texture = self.upload_values(index, &values);
            if let Some(content) = &mut self.content {
                content.images[index].values = Some(values);
                if let Ok(texture) = texture {
                    content.images[index].progress = Progress::Here(texture);
                }
            }
            self.note_tiled(index);
        }
    }

    fn upload_geometry(&mut self) {
        let origin = self.origin_m().as_vec3();
        if let (Some(renderer), Some(surface)) = (
            &mut self.renderer,
            self.content.as_ref().and_then(Content::surface),
        ) {
            renderer.set_geometry(surface, origin, &self.relief);
        }
    }

    /// Radius of the ball around the object (m), 0 before it is here.
    #[must_use]
    pub fn radius_m(&self) -> f64 {
        self.ball.map_or(0.0, |ball| ball.radius_m)
    }

    /// Area of the surface (m²) that a whole sheet of UV stands for, as a mean; 0 before it is here.
    #[must_use]
    pub fn m2_per_uv(&self) -> f64 {
        let Some(surface) = self.content.as_ref().and_then(Content::surface) else {
            return 0.0;
        };
        let each = surface.patches.iter();
        let [m2, uv] = each.fold([0.0; 2], |[m2, uv], patch| {
            let own = area::on_surface_and_sheet(surface, patch);
            [m2 + own[0], uv + own[1]]
        });
        if uv > 0.0 { m2 / uv } else { 0.0 }
    }

    /// Takes what light needs of every vertex, three numbers each (see [`Relief`]); false when they are
    /// not of this surface.
    pub fn supply_relief(&mut self, numbers: &[i16]) -> bool {
        let surface = self.content.as_ref().and_then(Content::surface);
        let count: usize = surface.map_or(0, |s| s.patches.iter().map(|p| p.positions.len()).sum());
        if numbers.len() != 3 * count {
            return false;
        }
        self.relief = numbers
            .chunks_exact(3)
            .map(|n| [n[0], n[1], n[2]])
            .collect();
        self.upload_geometry();
        self.paints_stale = true;
        self.dirty = true;
        true
    }

    /// What holds for whole regions has changed.
    fn table_is_stale(&mut self) {
        self.table_stale = true;
        self.lamp_told = None;
        self.legend_told = None;
    }

    fn origin_m(&self) -> DVec3 {
        self.ball.map_or(DVec3::ZERO, |b| b.centre_m)
    }

    fn basis(&self) -> Basis {
        self.content
            .as_ref()
            .map_or_else(|| Basis::new(DVec3::Y, DVec3::Z), Content::basis)
    }

    /// Width to height of the picture, or of one pane of it.
    fn aspect(&self) -> f64 {
        let size = self.pane_size();
        (size[0] / size[1].max(1.0)).clamp(0.01, 100.0)
    }

    fn surface_arrived(&mut self) {
        let Some(content) = &self.content else { return };
        let ball = content.ball();
        self.ball = Some(ball);
        self.picker = None;
        self.shown = false;
        let ids = crate::view::Known::appearances(content);
        let first = ids.first().cloned().unwrap_or_default();
        let second = content
            .document
            .states
            .get(1)
            .map_or_else(|| first.clone(), |s| s.id.clone());
        let mut view = View {
            compare: if second == first {
                Comparison::One
            } else {
                Comparison::Swipe
            },
            third: ids.get(2).unwrap_or(&first).clone(),
            fourth: ids.get(3).unwrap_or(&second).clone(),
            left: first,
            right: second,
            count: 2,
            position: 0.5,
            further: [2.0 / 3.0, 5.0 / 6.0],
            shares: [1.0 / 3.0; 3],
            angle_deg: 0.0,
            loupe: Loupe {
                x: 0.5,
                y: 0.5,
                // A choice of ours: a glass that shows a detail and leaves most of the picture.
                radius: 0.22,
                softness: 0.0,
            },
            changes_per_second: 1.0,
            camera: OrbitCamera {
                elevation_deg: first_elevation_deg(&content.basis(), content.size_m()),
                ..OrbitCamera::fitted(ball, self.aspect())
            },
            light: Light::default(),
            section: None,
            difference: DifferenceScale {
                threshold: 0.0,
                full_scale: 10.0,
                fitted: true,
            },
            lamp: None,
            overlay: None,
            layers: BTreeMap::new(),
            over: None,
            surround_l: 50.0,
            pin: None,
            region: None,
            language: if self.language.is_empty() {
                "en".to_owned()
            } else {
                self.language.clone()
            },
        };
        self.home = Some(view.clone());
        if let Some(saved) = content.document.views.first()
            && let Ok(value) = serde_json::to_value(&saved.view)
            && let Ok(started) = view.changed(&value, content)
        {
            // The language is the reader's, not the one the view was saved in.
            view = View {
                language: view.language.clone(),
                ..started
            };
        }
        for change in std::mem::take(&mut self.asked) {
            if let Ok(changed) = view.changed(&change, content) {
                view = changed;
            }
        }
        self.view = Some(view);
        self.paints_stale = true;
        self.table_is_stale();
        self.dirty = true;
        self.events.push(Event::Document);
        self.events.push(Event::View);
    }
}
