//! The viewer without a browser: content, view, input and renderer together.

use ganosis_renderer::{Compare, Frame, Light, Renderer, RendererError, Samples, Side};
use ganosis_surface::pick::Picker;
use glam::{DVec3, Mat4, Vec3};
use serde_json::{Value, json};

use crate::camera::{Ball, Basis, OrbitCamera, lamp_direction, project};
use crate::content::{Appearance, Content, ImageKind, OpenError, Problem, Progress, Values};
use crate::decode;
use crate::divider::Divider;
use crate::input::{Input, Intent, Pointer, wheel};
use crate::view::{Comparison, Lamp, View, ViewError};

/// How near to the divider a pointer takes it (CSS px): half of the 44 px that WCAG 2.2 (2.5.5)
/// asks of targets, a little less for a mouse.
const DIVIDER_REACH_PX: (f64, f64) = (12.0, 22.0);
/// A quarter turn for a drag over half of a canvas of usual size (degrees per CSS px).
const ORBIT_DEG_PER_PX: f64 = 0.35;
/// How long a change of camera takes (ms).
const GLIDE_MS: f64 = 320.0;
/// Steps of the keyboard.
const KEY_ORBIT_DEG: f64 = 5.0;
const KEY_PAN_PX: f64 = 40.0;
const KEY_ZOOM: f64 = 0.88;
const KEY_POSITION: f64 = 0.02;
const KEY_ANGLE_DEG: f64 = 5.0;
/// Share of light from everywhere under the raking lamp.
const RAKING_AMBIENT: f32 = 0.18;

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

/// Something to be fetched.
#[derive(Clone, Debug, PartialEq)]
pub struct Want {
    /// For `supply` and `fail`.
    pub id: String,
    /// From the folder of the opened file; none for an image inside the mesh file.
    pub path: Option<String>,
    /// `surface`, `buffer`, `colour`, `band` or `labels`.
    pub kind: &'static str,
    /// Id of its layer.
    pub layer: Option<String>,
    /// Id of its sheet.
    pub sheet: Option<String>,
    /// Needed for the first picture.
    pub urgent: bool,
}

/// A place on the surface under a pixel.
#[derive(Clone, Debug)]
pub struct Place {
    /// Index of the patch.
    pub patch: usize,
    /// Sheet of the mesh.
    pub sheet: usize,
    /// In the coordinates of the mesh.
    pub position_m: Vec3,
    /// Outwards.
    pub normal: Vec3,
    /// On the sheet.
    pub uv: [f32; 2],
}

/// Where a pin is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct PinPlace {
    /// Its id.
    pub id: String,
    /// CSS px from the left.
    pub x: f64,
    /// CSS px from the top.
    pub y: f64,
    /// In front of the surface and inside the picture.
    pub shown: bool,
}

#[derive(Debug)]
struct Glide {
    from: OrbitCamera,
    to: OrbitCamera,
    start_ms: Option<f64>,
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
    picker: Option<Picker>,
    ball: Option<Ball>,
    size: [f64; 2],
    pixel_ratio: f64,
    hover_divider: bool,
    glide: Option<Glide>,
    events: Vec<Event>,
    pins: Vec<PinPlace>,
    dirty: bool,
    /// The present surface has been drawn.
    shown: bool,
    paints_stale: bool,
    lost_told: bool,
    /// Changes of camera happen at once.
    pub reduced_motion: bool,
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
        let complete = content.surface().is_some();
        self.content = Some(content);
        self.view = None;
        self.picker = None;
        if complete {
            self.surface_arrived();
        }
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
        self.upload_geometry();
        self.paints_stale = true;
        self.dirty = true;
    }

    fn upload_geometry(&mut self) {
        let origin = self.origin_m().as_vec3();
        if let (Some(renderer), Some(surface)) = (
            &mut self.renderer,
            self.content.as_ref().and_then(Content::surface),
        ) {
            renderer.set_geometry(surface, origin);
        }
    }

    fn origin_m(&self) -> DVec3 {
        self.ball.map_or(DVec3::ZERO, |b| b.centre_m)
    }

    fn basis(&self) -> Basis {
        self.content
            .as_ref()
            .map_or_else(|| Basis::new(DVec3::Y, DVec3::Z), Content::basis)
    }

    fn aspect(&self) -> f64 {
        (self.size[0] / self.size[1].max(1.0)).clamp(0.01, 100.0)
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
            left: first,
            right: second,
            position: 0.5,
            angle_deg: 0.0,
            camera: OrbitCamera::fitted(ball, self.aspect()),
            light: Lamp {
                raking: false,
                azimuth_deg: -65.0,
                elevation_deg: 20.0,
            },
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
        self.upload_geometry();
        self.paints_stale = true;
        self.dirty = true;
        self.events.push(Event::Document);
        self.events.push(Event::View);
    }

    /// What is to be fetched next, the most urgent first.
    #[must_use]
    pub fn wanted(&self) -> Vec<Want> {
        let Some(content) = &self.content else {
            return Vec::new();
        };
        let mut wants: Vec<Want> = content
            .wanted_files()
            .into_iter()
            .map(|(id, path, buffer)| Want {
                id,
                path: Some(path),
                kind: if buffer { "buffer" } else { "surface" },
                layer: None,
                sheet: None,
                urgent: true,
            })
            .collect();
        let ranks = self.image_ranks(content);
        let mut order: Vec<usize> = (0..content.images.len())
            .filter(|&i| content.images[i].progress == Progress::Wanted)
            .collect();
        order.sort_by_key(|&i| ranks[i]);
        wants.extend(order.into_iter().map(|i| {
            let image = &content.images[i];
            Want {
                id: format!("image:{i}"),
                path: match &image.source {
                    crate::content::Source::File(path) => Some(path.clone()),
                    crate::content::Source::Embedded(_) => None,
                },
                kind: match image.kind {
                    ImageKind::Colour => "colour",
                    ImageKind::Band => "band",
                    ImageKind::Labels => "labels",
                },
                layer: image.layer.map(|l| content.document.layers[l].id.clone()),
                sheet: Some(content.sheet_id(image.sheet).to_owned()),
                urgent: ranks[i] == 0,
            }
        }));
        wants
    }

    /// 0 left, 1 right, 2 region map, 3 the other states, 4 the rest.
    fn image_ranks(&self, content: &Content) -> Vec<u8> {
        let mut ranks = vec![4_u8; content.images.len()];
        for state in 0..content.document.states.len() {
            content
                .images_for(Appearance::State(state))
                .into_iter()
                .for_each(|i| ranks[i] = 3);
        }
        for (i, image) in content.images.iter().enumerate() {
            if image.kind == ImageKind::Labels {
                ranks[i] = 2;
            }
        }
        if let Some(view) = &self.view {
            for (id, rank) in [(&view.right, 1), (&view.left, 0)] {
                let images = content
                    .appearance(id)
                    .map(|a| content.images_for(a))
                    .unwrap_or_default();
                images
                    .into_iter()
                    .for_each(|i| ranks[i] = ranks[i].min(rank));
            }
        }
        ranks
    }

    /// Takes the bytes of something wanted: mesh, buffer, band image or region map.
    ///
    /// # Errors
    /// When the content is bad; it then counts as failed and the rest goes on.
    pub fn supply(&mut self, id: &str, bytes: &[u8]) -> Result<(), OpenError> {
        let Some(content) = &mut self.content else {
            return Ok(());
        };
        let complete = if id == "surface" {
            content.supply_surface(bytes.to_vec())
        } else if let Some(uri) = id.strip_prefix("buffer:") {
            content.supply_buffer(uri, bytes.to_vec())
        } else {
            return self.supply_values(id, bytes);
        };
        if complete? {
            self.surface_arrived();
        }
        Ok(())
    }

    fn image_index(&self, id: &str) -> Option<usize> {
        let index: usize = id.strip_prefix("image:")?.parse().ok()?;
        (index < self.content.as_ref()?.images.len()).then_some(index)
    }

    fn supply_values(&mut self, id: &str, bytes: &[u8]) -> Result<(), OpenError> {
        let Some(index) = self.image_index(id) else {
            return Ok(());
        };
        let outcome = decode::grey(bytes)
            .map_err(|e| e.to_string())
            .and_then(|values| {
                self.upload_values(index, &values)
                    .map_err(|e| e.to_string())
                    .map(|id| (id, values))
            });
        let Some(content) = &mut self.content else {
            return Ok(());
        };
        match outcome {
            Ok((texture, values)) => {
                content.images[index].progress = Progress::Here(texture);
                content.images[index].values = Some(values);
                self.paints_stale = true;
                self.dirty = true;
                Ok(())
            }
            Err(message) => {
                self.fail(id, &message);
                Err(OpenError {
                    file: self.file_of(index),
                    message,
                })
            }
        }
    }

    fn upload_values(
        &mut self,
        index: usize,
        values: &Values,
    ) -> Result<ganosis_renderer::TextureId, RendererError> {
        let kind = self.content.as_ref().map(|c| c.images[index].kind);
        let Some(renderer) = &mut self.renderer else {
            return Err(RendererError::NoDevice {
                detail: "not started".to_owned(),
            });
        };
        let [width, height] = values.size;
        if kind == Some(ImageKind::Labels) {
            return renderer.add_labels(width, height, &values.texels);
        }
        if values.full_scale == u16::from(u8::MAX) {
            let bytes: Vec<u8> = values.texels.iter().map(|&v| v as u8).collect();
            return renderer.add_band(width, height, Samples::Eight(&bytes));
        }
        renderer.add_band(width, height, Samples::Sixteen(&values.texels))
    }

    /// Takes a colour image through `upload`, which puts it on the GPU.
    ///
    /// # Errors
    /// When the device refuses it; it then counts as failed and the rest goes on.
    pub fn supply_colour(
        &mut self,
        id: &str,
        upload: &dyn Fn(&mut Renderer) -> Result<ganosis_renderer::TextureId, RendererError>,
    ) -> Result<(), OpenError> {
        let Some(index) = self.image_index(id) else {
            return Ok(());
        };
        let Some(renderer) = &mut self.renderer else {
            return Ok(());
        };
        match upload(renderer) {
            Ok(texture) => {
                if let Some(content) = &mut self.content {
                    content.images[index].progress = Progress::Here(texture);
                }
                self.paints_stale = true;
                self.dirty = true;
                Ok(())
            }
            Err(error) => {
                let message = error.to_string();
                self.fail(id, &message);
                Err(OpenError {
                    file: self.file_of(index),
                    message,
                })
            }
        }
    }

    fn file_of(&self, index: usize) -> String {
        match self.content.as_ref().map(|c| (&c.images[index].source, c)) {
            Some((crate::content::Source::File(path), _)) => path.clone(),
            Some((_, content)) => content.document.surface.file.clone(),
            None => String::new(),
        }
    }

    /// Something wanted is not to be had: it is left out and said.
    pub fn fail(&mut self, id: &str, message: &str) {
        let index = self.image_index(id);
        let file = index.map(|i| self.file_of(i));
        let Some(content) = &mut self.content else {
            return;
        };
        match index {
            Some(i) => content.images[i].progress = Progress::Failed,
            None => content.fail_surface(),
        }
        let file = file.unwrap_or_else(|| content.document.surface.file.clone());
        content.problems.push(Problem {
            file,
            message: message.to_owned(),
        });
        self.paints_stale = true;
        self.dirty = true;
    }

    /// What could not be shown so far.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        self.content.as_ref().map_or(&[], |c| &c.problems)
    }

    /// True when the first picture can be drawn.
    #[must_use]
    pub fn ready(&self) -> bool {
        let (Some(content), Some(view)) = (&self.content, &self.view) else {
            return false;
        };
        content.surface().is_some() && self.arrived(content, &view.left)
    }

    fn arrived(&self, content: &Content, id: &str) -> bool {
        let images = content
            .appearance(id)
            .map(|a| content.images_for(a))
            .unwrap_or_default();
        images
            .iter()
            .all(|&i| content.images[i].progress != Progress::Wanted)
    }

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

    fn put_view(&mut self, view: View) {
        if self.view.as_ref() == Some(&view) {
            return;
        }
        let sides_changed = self
            .view
            .as_ref()
            .is_none_or(|v| v.left != view.left || v.right != view.right);
        self.paints_stale |= sides_changed;
        self.view = Some(view);
        self.dirty = true;
        self.push_view_event();
    }

    fn push_view_event(&mut self) {
        if !self.events.contains(&Event::View) {
            self.events.push(Event::View);
        }
    }

    fn with_view(&mut self, change: impl FnOnce(&mut View)) {
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

    fn divider_line(&self) -> Option<Divider> {
        let view = self.view.as_ref()?;
        (view.compare == Comparison::Swipe)
            .then(|| Divider::new(self.size, view.position, view.angle_deg))
    }

    /// Where the divider's handle goes (CSS px), and its angle.
    #[must_use]
    pub fn divider(&self) -> Option<([f64; 2], f64)> {
        Some((self.divider_line()?.handle(), self.view.as_ref()?.angle_deg))
    }

    fn on_divider(&self, x: f64, y: f64, touch: bool) -> bool {
        let reach = if touch {
            DIVIDER_REACH_PX.1
        } else {
            DIVIDER_REACH_PX.0
        };
        self.divider_line()
            .is_some_and(|d| d.distance(x, y).abs() <= reach)
    }

    /// A pointer event; `kind` is `down`, `move`, `up` or `cancel`.
    pub fn pointer(&mut self, kind: &str, pointer: Pointer) {
        let intents = match kind {
            "down" => {
                self.glide = None;
                let on_divider =
                    !pointer.pans && self.on_divider(pointer.x, pointer.y, pointer.touch);
                self.input.down(pointer, on_divider);
                Vec::new()
            }
            "move" => {
                self.hover_divider = self.on_divider(pointer.x, pointer.y, pointer.touch);
                self.input.moved(pointer)
            }
            "up" => self.input.up(pointer, false),
            _ => self.input.up(pointer, true),
        };
        intents.into_iter().for_each(|intent| self.apply(intent));
    }

    /// A wheel turned by CSS pixels.
    pub fn wheel(&mut self, x: f64, y: f64, delta_px: f64) {
        self.glide = None;
        self.apply(wheel(x, y, delta_px));
    }

    fn apply(&mut self, intent: Intent) {
        let (basis, aspect, size) = (self.basis(), self.aspect(), self.size);
        let Some(ball) = self.ball else { return };
        match intent {
            Intent::Orbit { dx, dy } => {
                self.with_view(|v| {
                    v.camera
                        .orbit(-dx * ORBIT_DEG_PER_PX, dy * ORBIT_DEG_PER_PX)
                });
            }
            Intent::Pan { dx, dy } => self.with_view(|v| {
                let metres = v.camera.metres_per_pixel(size[1]);
                v.camera.pan(&basis, -dx * metres, dy * metres);
            }),
            Intent::Zoom { factor, x, y } => self.with_view(|v| {
                let place = [2.0 * x / size[0] - 1.0, 1.0 - 2.0 * y / size[1]];
                v.camera
                    .zoom(&basis, aspect, ball, factor, place[0], place[1]);
            }),
            Intent::Divider { x, y } => {
                if let Some(divider) = self.divider_line() {
                    self.with_view(|v| v.position = divider.position_at(x, y).clamp(0.0, 1.0));
                }
            }
            Intent::Click { x, y } => self.events.push(Event::Click { x, y }),
        }
    }

    /// A key on the canvas; true when it meant something.
    pub fn key(&mut self, name: &str, shift: bool) -> bool {
        let centre = [self.size[0] / 2.0, self.size[1] / 2.0];
        let zoom = |factor| Intent::Zoom {
            factor,
            x: centre[0],
            y: centre[1],
        };
        let arrow = |dx: f64, dy: f64| {
            if shift {
                Intent::Pan {
                    dx: dx * KEY_PAN_PX,
                    dy: dy * KEY_PAN_PX,
                }
            } else {
                let step = KEY_ORBIT_DEG / ORBIT_DEG_PER_PX;
                Intent::Orbit {
                    dx: -dx * step,
                    dy: -dy * step,
                }
            }
        };
        self.glide = None;
        match name {
            "ArrowLeft" => self.apply(arrow(-1.0, 0.0)),
            "ArrowRight" => self.apply(arrow(1.0, 0.0)),
            "ArrowUp" => self.apply(arrow(0.0, -1.0)),
            "ArrowDown" => self.apply(arrow(0.0, 1.0)),
            "+" | "=" => self.apply(zoom(KEY_ZOOM)),
            "-" => self.apply(zoom(1.0 / KEY_ZOOM)),
            "[" => self.with_view(|v| v.position = (v.position - KEY_POSITION).max(0.0)),
            "]" => self.with_view(|v| v.position = (v.position + KEY_POSITION).min(1.0)),
            "," => self.with_view(|v| v.angle_deg = (v.angle_deg - KEY_ANGLE_DEG).max(-90.0)),
            "." => self.with_view(|v| v.angle_deg = (v.angle_deg + KEY_ANGLE_DEG).min(90.0)),
            "Home" => {
                if let Some(home) = self.home.as_ref().map(|h| h.camera) {
                    let (ball, aspect) = (self.ball, self.aspect());
                    self.glide_camera(|c| {
                        *c = home;
                        if let Some(ball) = ball {
                            c.fit(ball, aspect);
                        }
                    });
                }
            }
            _ => return false,
        }
        true
    }

    fn glide_camera(&mut self, change: impl FnOnce(&mut OrbitCamera)) {
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

    /// A double click brings the point of the surface under it to the middle.
    pub fn double_click(&mut self, x: f64, y: f64) {
        if let Some(place) = self.place_at(x, y) {
            self.glide_camera(|c| c.target_m = place.position_m.as_dvec3());
        }
    }

    /// Shape of the pointer, as CSS names it.
    #[must_use]
    pub fn cursor(&self) -> &'static str {
        let angle = self.view.as_ref().map_or(0.0, |v| v.angle_deg).abs();
        if self.hover_divider && !self.input.is_dragging() || self.input.drags_divider() {
            return match angle {
                a if a < 22.5 => "ew-resize",
                a if a > 67.5 => "ns-resize",
                _ => "move",
            };
        }
        if self.input.is_dragging() {
            "grabbing"
        } else {
            "grab"
        }
    }

    /// What happened since the last call.
    pub fn take_events(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.events)
    }

    /// True when the next frame would differ from the last.
    #[must_use]
    pub fn wants_frame(&self) -> bool {
        (self.dirty || self.glide.is_some()) && self.ready()
    }

    /// Steps motion on and says whether there is something to draw.
    pub fn begin_frame(&mut self, now_ms: f64) -> bool {
        let lost = self.renderer.as_ref().is_some_and(|r| r.gpu().is_lost());
        if lost {
            if !self.lost_told {
                self.lost_told = true;
                self.events.push(Event::Lost);
            }
            return false;
        }
        self.step_glide(now_ms);
        if !self.dirty || !self.ready() {
            return false;
        }
        self.refresh_paints();
        true
    }

    fn step_glide(&mut self, now_ms: f64) {
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

    fn refresh_paints(&mut self) {
        if !self.paints_stale {
            return;
        }
        let (Some(content), Some(view), Some(renderer)) =
            (&self.content, &self.view, &mut self.renderer)
        else {
            return;
        };
        let (Some(left), Some(right)) = (
            content.appearance(&view.left),
            content.appearance(&view.right),
        ) else {
            return;
        };
        // As many paints as patches by construction.
        self.paints_stale = renderer.set_paints(content.paints(left, right)).is_err();
    }

    /// The frame to draw: for the canvas, or for a picture of another shape.
    #[must_use]
    pub fn frame(&self, aspect: f64, device_pixel_ratio: f64) -> Option<Frame> {
        let (content, view, ball) = (self.content.as_ref()?, self.view.as_ref()?, self.ball?);
        let basis = content.basis();
        let origin = self.origin_m();
        let region = view
            .region
            .as_ref()
            .and_then(|id| content.document.regions.iter().find(|r| r.id == *id));
        Some(Frame {
            clip_from_scene: view.camera.clip_from_scene(&basis, aspect, ball, origin),
            eye_in_scene_m: (view.camera.eye_m(&basis) - origin).as_vec3(),
            device_pixel_ratio: device_pixel_ratio as f32,
            compare: self.comparison(content, view),
            light: view.light.raking.then(|| Light {
                direction: lamp_direction(&basis, view.light.azimuth_deg, view.light.elevation_deg),
                ambient: RAKING_AMBIENT,
            }),
            selected_region: region.map_or(0, |r| r.number),
            surround_l: view.surround_l as f32,
            band_range: [0.0, 1.0],
            divider_line: true,
        })
    }

    /// Until the right one is here the left one is shown alone.
    fn comparison(&self, content: &Content, view: &View) -> Compare {
        let position = view.position as f32;
        match view.compare {
            Comparison::Swipe if self.arrived(content, &view.right) => Compare::Swipe {
                position,
                angle_rad: view.angle_deg.to_radians() as f32,
            },
            Comparison::Blend if self.arrived(content, &view.right) => Compare::Blend { position },
            _ => Compare::One(Side::Left),
        }
    }

    /// Draws to a view of the canvas's size.
    pub fn draw(&mut self, target: &ganosis_renderer::TargetView) {
        let size = self.size_px();
        let Some(frame) = self.frame(self.aspect(), self.pixel_ratio) else {
            return;
        };
        // Pins need the hierarchy for picking: its making does not hold the first picture up.
        let first_picture = !std::mem::replace(&mut self.shown, true);
        if !first_picture {
            self.place_pins(&frame.clip_from_scene);
        }
        if let Some(renderer) = &mut self.renderer {
            renderer.draw(&frame, target, size[0], size[1]);
        }
        self.dirty = first_picture;
    }

    /// Starts a picture of any size.
    ///
    /// # Errors
    /// Sizes the device cannot hold; nothing open yet.
    pub fn snapshot(
        &mut self,
        width_px: u32,
        height_px: u32,
    ) -> Result<ganosis_renderer::Readback, RendererError> {
        self.refresh_paints();
        let ratio = f64::from(width_px) / self.size[0].max(1.0);
        let frame = self.frame(f64::from(width_px) / f64::from(height_px.max(1)), ratio);
        let (Some(frame), Some(renderer)) = (frame, &mut self.renderer) else {
            return Err(RendererError::Mismatch {
                what: "the picture".to_owned(),
                detail: "nothing is open yet".to_owned(),
            });
        };
        renderer.snapshot(&frame, width_px, height_px)
    }

    fn ensure_picker(&mut self) {
        if self.picker.is_none()
            && let Some(surface) = self.content.as_ref().and_then(Content::surface)
        {
            self.picker = Some(Picker::new(surface));
        }
    }

    fn cast(
        &self,
        origin_m: DVec3,
        direction: DVec3,
        shown: &dyn Fn(usize) -> bool,
    ) -> Option<Place> {
        let surface = self.content.as_ref()?.surface()?;
        let hit = self
            .picker
            .as_ref()?
            .ray(origin_m.as_vec3(), direction.as_vec3(), shown)?;
        Some(Place {
            patch: hit.patch,
            sheet: surface.patches[hit.patch].sheet,
            position_m: hit.position_m,
            normal: hit.normal,
            uv: hit.uv.to_array(),
        })
    }

    /// Which sides show at a point of the canvas.
    fn sides_at(&self, x: f64, y: f64) -> Option<Vec<Appearance>> {
        let (content, view) = (self.content.as_ref()?, self.view.as_ref()?);
        let left = content.appearance(&view.left)?;
        let right = content.appearance(&view.right)?;
        Some(match self.comparison(content, view) {
            Compare::One(_) => vec![left],
            Compare::Blend { .. } => vec![left, right],
            Compare::Swipe { .. } => {
                let before = self.divider_line().is_none_or(|d| d.distance(x, y) < 0.0);
                vec![if before { left } else { right }]
            }
        })
    }

    /// The place on the surface under a point of the canvas, of what is shown there.
    pub fn place_at(&mut self, x: f64, y: f64) -> Option<Place> {
        self.ensure_picker();
        let sides = self.sides_at(x, y)?;
        let (content, view) = (self.content.as_ref()?, self.view.as_ref()?);
        let basis = content.basis();
        let surface = content.surface()?;
        let place = [2.0 * x / self.size[0] - 1.0, 1.0 - 2.0 * y / self.size[1]];
        let direction = view.camera.ray(&basis, self.aspect(), place[0], place[1]);
        let shown = |patch: usize| {
            sides
                .iter()
                .any(|s| content.shows(*s, &surface.patches[patch]))
        };
        self.cast(view.camera.eye_m(&basis), direction, &shown)
    }

    fn place_pins(&mut self, clip_from_scene: &Mat4) {
        self.ensure_picker();
        let (Some(content), Some(view)) = (&self.content, &self.view) else {
            return;
        };
        let (eye, origin) = (view.camera.eye_m(&content.basis()), self.origin_m());
        let sides = [&view.left, &view.right];
        let radius = self.ball.map_or(1.0, |b| b.radius_m);
        let mut places = Vec::new();
        for pin in &content.document.pins {
            let anchor = pin.anchor.as_ref();
            let Some(point) = anchor.and_then(|a| a.position_m).map(DVec3::from_array) else {
                continue;
            };
            let wanted = pin.states.is_empty() || pin.states.iter().any(|s| sides.contains(&s));
            let Some([x, y]) = project(clip_from_scene, (point - origin).as_vec3()) else {
                continue;
            };
            let inside = (0.0..=1.0).contains(&x) && (0.0..=1.0).contains(&y);
            let shown = wanted && inside && self.is_seen(content, view, point, eye, radius);
            places.push(PinPlace {
                id: pin.id.clone(),
                x: x * self.size[0],
                y: y * self.size[1],
                shown,
            });
        }
        self.pins = places;
    }

    /// True when nothing stands between a point of the surface and the eye.
    fn is_seen(
        &self,
        content: &Content,
        view: &View,
        point: DVec3,
        eye: DVec3,
        radius_m: f64,
    ) -> bool {
        let Some(surface) = content.surface() else {
            return false;
        };
        let sides = [&view.left, &view.right].map(|id| content.appearance(id));
        let shown = |patch: usize| {
            sides
                .iter()
                .flatten()
                .any(|s| content.shows(*s, &surface.patches[patch]))
        };
        let towards = (point - eye).normalize_or(DVec3::NEG_Z);
        // A pin may lie a little off the mesh: within 1 % of the object's radius it counts as on it.
        let slack = radius_m * 0.01;
        self.cast(eye, towards, &shown).is_none_or(|hit| {
            hit.position_m.as_dvec3().distance(eye) + slack >= point.distance(eye)
        })
    }

    /// Where the pins are, as of the last frame.
    #[must_use]
    pub fn pins(&self) -> &[PinPlace] {
        &self.pins
    }

    /// What is known at a place without asking the GPU; colours come from texels.
    #[must_use]
    pub fn describe(&self, place: &Place) -> Value {
        let Some(content) = &self.content else {
            return Value::Null;
        };
        let sheet = content.sheet_id(place.sheet);
        let number = content.region_number(place.sheet, place.uv);
        let region = content
            .document
            .region_numbered(u32::from(number))
            .map(|r| r.id.clone());
        let patch = content.surface().map(|s| &s.patches[place.patch]);
        let parts: Vec<&str> = patch
            .map(|p| content.parts_of(p).collect())
            .unwrap_or_default();
        let claims: Vec<&str> = content
            .document
            .claims
            .iter()
            .filter(|c| {
                c.regions.iter().any(|r| Some(r) == region.as_ref())
                    || c.parts.iter().any(|p| parts.contains(&p.as_str()))
            })
            .map(|c| c.id.as_str())
            .collect();
        json!({
            "anchor": {
                "sheet": sheet, "uv": place.uv,
                "position_m": place.position_m.to_array(), "normal": place.normal.to_array(),
            },
            "sheet": sheet, "uv": place.uv, "region": region, "parts": parts, "claims": claims,
            "bands": self.band_values(content, place),
        })
    }

    fn band_values(&self, content: &Content, place: &Place) -> Vec<Value> {
        let value = |index: usize| {
            let image = content.image_of(Some(index), place.sheet, ImageKind::Band)?;
            let values = content.images[image].values.as_ref()?;
            let layer = &content.document.layers[index];
            let [low, high] = layer.range.unwrap_or([0.0, 1.0]);
            let share = f64::from(values.at(place.uv)) / f64::from(values.full_scale);
            Some(
                json!({"layer": layer.id, "value": low + share * (high - low), "unit": layer.unit}),
            )
        };
        (0..content.document.layers.len())
            .filter_map(value)
            .collect()
    }

    /// Texels of every state at a place: id of the state, texture if it has one, factor.
    #[must_use]
    pub fn texels_at(&self, place: &Place) -> Vec<StateTexel> {
        let Some(content) = &self.content else {
            return Vec::new();
        };
        let Some(surface) = content.surface() else {
            return Vec::new();
        };
        let patch = &surface.patches[place.patch];
        let texel = |(index, state): (usize, &ganosis_dossier::document::State)| {
            let appearance = Appearance::State(index);
            if !content.shows(appearance, patch) {
                return None;
            }
            let paint = content.side_paint(appearance, patch, surface);
            let missing = content.colour_image(index, patch).is_some() && paint.texture.is_none();
            let [u, v] = paint
                .uv
                .0
                .map(|r| r[0] * place.uv[0] + r[1] * place.uv[1] + r[2]);
            (!missing).then(|| StateTexel {
                state: state.id.clone(),
                texture: paint.texture,
                uv: [u, v],
                factor: paint.factor,
                display_p3: paint.display_p3,
            })
        };
        content
            .document
            .states
            .iter()
            .enumerate()
            .filter_map(texel)
            .collect()
    }
}

/// Where the colour of a state is found at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct StateTexel {
    /// Id of the state.
    pub state: String,
    /// Its texture.
    pub texture: Option<ganosis_renderer::TextureId>,
    /// Where on it.
    pub uv: [f32; 2],
    /// Multiplied in linear light.
    pub factor: [f32; 4],
    /// The texture's primaries are those of Display P3.
    pub display_p3: bool,
}
