//! The one handle that the page holds. Everything crosses as plain objects.

mod supplying;

use std::cell::RefCell;
use std::rc::Rc;

use ganosis_colorimetry as colour;
use ganosis_renderer::{Gpu, Readback, Renderer};
use ganosis_surface::flat::Arriving;
use serde_json::{Value, json};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::{JsFuture, spawn_local};

use crate::app::{App, Event, LayerTexel, Rect, StateTexel};
use crate::input::Pointer;

#[wasm_bindgen]
extern "C" {
    #[wasm_bindgen(js_name = setTimeout)]
    fn set_timeout(callback: &js_sys::Function, delay_ms: i32);
}

/// Samples a pixel: edges of the object are smooth, its colours are untouched.
const SAMPLES: u32 = 4;

/// The viewer of one canvas.
#[wasm_bindgen]
pub struct Viewer {
    inner: Rc<RefCell<Inner>>,
}

struct Inner {
    app: App,
    surface: Option<wgpu::Surface<'static>>,
    format: wgpu::TextureFormat,
    configured: [u32; 2],
    samples: u32,
    /// Memory for tiles, where it is not the usual one.
    tile_mib: Option<u32>,
    /// A mesh whose arrays are coming.
    arriving: Option<Arriving>,
    /// Called when the device is gone.
    when_lost: Option<js_sys::Function>,
}

fn error(message: impl std::fmt::Display) -> JsValue {
    js_sys::Error::new(&message.to_string()).into()
}

fn plain(value: &Value) -> Result<JsValue, JsValue> {
    js_sys::JSON::parse(&value.to_string())
}

fn from_plain(value: &JsValue) -> Result<Value, JsValue> {
    let text = js_sys::JSON::stringify(value)?;
    serde_json::from_str(&String::from(text)).map_err(error)
}

/// Fields in place of the view's own.
fn change_of(change: &JsValue) -> Result<Value, JsValue> {
    if change.is_object() {
        from_plain(change)
    } else {
        Ok(json!({}))
    }
}

/// Corner and size of a part of a picture: x, y, width, height.
fn part_of(part: &[u32]) -> Option<([u32; 2], [u32; 2])> {
    let &[x, y, width, height] = part else {
        return None;
    };
    Some(([x, y], [width, height]))
}

/// Rest until a later task: on WebGL 2 answers of the GPU come only then, and a page can do other things meanwhile.
async fn later() {
    let promise = js_sys::Promise::new(&mut |resolve, _| set_timeout(&resolve, 2));
    let _ = JsFuture::from(promise).await;
}

async fn start(
    canvas: web_sys::HtmlCanvasElement,
    samples: u32,
    wide: bool,
    tile_mib: Option<u32>,
) -> Result<StartedCanvas, JsValue> {
    // Each step in a task of its own: together they are the longest that a page has while it loads.
    later().await;
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle());
    let surface = instance
        .create_surface(wgpu::SurfaceTarget::Canvas(canvas))
        .map_err(|e| {
            error(ganosis_renderer::RendererError::Canvas {
                detail: e.to_string(),
            })
        })?;
    let (gpu, adapter) = Gpu::new(&instance, Some(&surface)).await.map_err(error)?;
    later().await;
    let formats = surface.get_capabilities(&adapter).formats;
    // The first format without a curve of its own: the shader encodes, on every backend alike.
    let format = formats
        .iter()
        .copied()
        .find(|f| {
            matches!(
                f,
                wgpu::TextureFormat::Rgba8Unorm | wgpu::TextureFormat::Bgra8Unorm
            )
        })
        .ok_or_else(|| {
            error(ganosis_renderer::RendererError::Canvas {
                detail: "no 8-bit format is offered".to_owned(),
            })
        })?;
    // WebGL 2's own property for this is passed over by some browsers without a word (Chromium 156
    // drawing in software), which would show every colour wrong: there the canvas stays sRGB.
    let webgpu = gpu.info.name == "WebGPU";
    let wide = wide && webgpu;
    if !webgpu {
        gpu.lost_by_errors(|message| web_sys::console::warn_1(&message.into()));
    }
    let mut renderer = Renderer::new(gpu, format, samples);
    later().await;
    renderer.prepare_colour();
    later().await;
    if let Some(mib) = tile_mib {
        renderer.set_tile_memory(mib);
    }
    Ok(StartedCanvas {
        renderer,
        surface,
        format,
        wide,
    })
}

struct StartedCanvas {
    renderer: Renderer,
    surface: wgpu::Surface<'static>,
    format: wgpu::TextureFormat,
    wide: bool,
}

#[wasm_bindgen]
impl Viewer {
    /// Starts on a canvas. Options: `antialias`, `reduced_motion`, `language`, `tile_mib` (memory for
    /// tiles), and `wide_gamut` for a canvas of Display P3 where the browser has one.
    pub async fn create(
        canvas: web_sys::HtmlCanvasElement,
        options: JsValue,
    ) -> Result<Viewer, JsValue> {
        console_error_panic_hook();
        let options = if options.is_object() {
            from_plain(&options)?
        } else {
            Value::Null
        };
        let samples = if options["antialias"].as_bool().unwrap_or(true) {
            SAMPLES
        } else {
            1
        };
        let wide = options["wide_gamut"].as_bool().unwrap_or(false);
        let tile_mib = options["tile_mib"].as_u64().and_then(|n| n.try_into().ok());
        let started = start(canvas, samples, wide, tile_mib).await?;
        let mut app = App::default();
        app.wide_canvas = started.wide;
        app.reduced_motion = options["reduced_motion"].as_bool().unwrap_or(false);
        app.language = options["language"].as_str().unwrap_or_default().to_owned();
        app.set_renderer(started.renderer);
        Ok(Self {
            inner: Rc::new(RefCell::new(Inner {
                app,
                surface: Some(started.surface),
                format: started.format,
                configured: [0, 0],
                samples,
                tile_mib,
                arriving: None,
                when_lost: None,
            })),
        })
    }

    /// Calls `told` whenever the device has gone, this one or one that came by `restore`; the next frame
    /// then says so in its events. While nothing is drawn nothing else would tell.
    pub fn when_lost(&self, told: js_sys::Function) {
        let mut inner = self.inner.borrow_mut();
        inner.when_lost = Some(told);
        inner.hear_of_loss();
    }

    /// Which device draws: `{name, adapter, largest_texture_px, canvas}`; `canvas` is `srgb` or
    /// `display-p3`.
    pub fn backend(&self) -> Result<JsValue, JsValue> {
        let inner = self.inner.borrow();
        let info = inner.app.renderer().map(|r| &r.gpu().info);
        plain(&info.map_or(Value::Null, |i| {
            json!({"name": i.name, "adapter": i.adapter, "largest_texture_px": i.largest_texture_px,
                   "canvas": if inner.app.wide_canvas { "display-p3" } else { "srgb" }})
        }))
    }

    /// Opens the bytes of `dossier.json`, a .glb or a .gltf.
    pub fn open(&self, name: &str, bytes: &[u8]) -> Result<(), JsValue> {
        self.inner.borrow_mut().app.open(name, bytes).map_err(error)
    }

    /// The dossier as a plain object.
    pub fn document(&self) -> Result<JsValue, JsValue> {
        let inner = self.inner.borrow();
        plain(
            &inner
                .app
                .content()
                .map_or(Value::Null, |c| c.document.to_value()),
        )
    }

    /// True when the dossier was made up for a plain mesh file.
    pub fn is_plain_mesh(&self) -> bool {
        self.inner
            .borrow()
            .app
            .content()
            .is_some_and(|c| c.plain_mesh)
    }

    /// What could not be shown so far: `[{file, message}]`.
    pub fn problems(&self) -> Result<JsValue, JsValue> {
        let inner = self.inner.borrow();
        plain(
            &inner
                .app
                .problems()
                .iter()
                .map(|p| json!({"file": p.file, "message": p.message}))
                .collect(),
        )
    }

    /// True when the first picture can be drawn.
    pub fn ready(&self) -> bool {
        self.inner.borrow().app.ready()
    }

    /// The view as a plain object, or null before the surface is here.
    pub fn view(&self) -> Result<JsValue, JsValue> {
        plain(
            &self
                .inner
                .borrow()
                .app
                .view()
                .map_or(Value::Null, crate::view::View::to_value),
        )
    }

    /// Changes the view by a partial object.
    pub fn set_view(&self, change: JsValue) -> Result<(), JsValue> {
        let change = from_plain(&change)?;
        self.inner
            .borrow_mut()
            .app
            .change_view(&change)
            .map_err(error)
    }

    /// As `set_view`, with the camera gliding to its new place.
    pub fn glide_to_view(&self, change: JsValue) -> Result<(), JsValue> {
        let change = from_plain(&change)?;
        self.inner
            .borrow_mut()
            .app
            .glide_to_view(&change)
            .map_err(error)
    }

    /// Changes of camera happen at once.
    pub fn set_reduced_motion(&self, reduced: bool) {
        self.inner.borrow_mut().app.reduced_motion = reduced;
    }

    /// Size of the canvas in CSS pixels; the caller sets the canvas's own width and height to
    /// what `canvas_size` then says.
    pub fn resize(&self, width: f64, height: f64, pixel_ratio: f64) {
        self.inner
            .borrow_mut()
            .app
            .resize(width, height, pixel_ratio);
    }

    /// Draws when something changed, and says whether it did.
    pub fn frame(&self, now_ms: f64) -> bool {
        let mut inner = self.inner.borrow_mut();
        inner.app.begin_frame(now_ms) && inner.present()
    }

    /// True when the next frame would differ from the last.
    pub fn wants_frame(&self) -> bool {
        self.inner.borrow().app.wants_frame()
    }

    /// A pointer event in CSS pixels of the canvas; `kind` is down, move, up or cancel.
    #[allow(
        clippy::too_many_arguments,
        reason = "the fields of a DOM PointerEvent"
    )]
    pub fn pointer(
        &self,
        kind: &str,
        pointer_id: i32,
        x: f64,
        y: f64,
        pointer_type: &str,
        button: i32,
        shift: bool,
        time_ms: f64,
    ) {
        let pointer = Pointer {
            id: pointer_id,
            x,
            y,
            touch: pointer_type == "touch",
            // DOM: 1 is the middle button, 2 the secondary one.
            pans: shift || button == 1 || button == 2,
            time_ms,
        };
        self.inner.borrow_mut().app.pointer(kind, pointer);
    }

    /// A wheel turned by CSS pixels.
    pub fn wheel(&self, x: f64, y: f64, delta_px: f64) {
        self.inner.borrow_mut().app.wheel(x, y, delta_px);
    }

    /// Brings the point under a double click to the middle.
    pub fn double_click(&self, x: f64, y: f64) {
        self.inner.borrow_mut().app.double_click(x, y);
    }

    /// A key on the canvas, by its DOM name; true when it meant something.
    pub fn key(&self, name: &str, shift: bool) -> bool {
        self.inner.borrow_mut().app.key(name, shift)
    }

    /// CSS name of the pointer's shape.
    pub fn cursor(&self) -> String {
        self.inner.borrow().app.cursor().to_owned()
    }

    /// What happened since the last call: `[{type, …}]`.
    pub fn take_events(&self) -> Result<JsValue, JsValue> {
        let events = self.inner.borrow_mut().app.take_events();
        plain(
            &events
                .iter()
                .map(|event| match event {
                    Event::View => json!({"type": "view"}),
                    Event::Click { x, y } => json!({"type": "click", "x": x, "y": y}),
                    Event::Lost => json!({"type": "lost"}),
                    Event::Document => json!({"type": "document"}),
                })
                .collect(),
        )
    }

    /// Pins as of the last frame: `[{id, x, y, shown}]` in CSS pixels.
    pub fn pins(&self) -> Result<JsValue, JsValue> {
        let inner = self.inner.borrow();
        let pins = inner.app.pins().iter();
        plain(
            &pins
                .map(|p| json!({"id": p.id, "x": p.x, "y": p.y, "shown": p.shown}))
                .collect(),
        )
    }

    /// Where the handles of the dividers go: `[[x, y], …]` in CSS pixels.
    pub fn dividers(&self) -> Result<JsValue, JsValue> {
        plain(&json!(self.inner.borrow().app.dividers()))
    }

    /// Where the glass of the loupe is: `{x, y, radius}` in CSS pixels, or null.
    pub fn loupe(&self) -> Result<JsValue, JsValue> {
        let loupe = self.inner.borrow().app.loupe();
        plain(&loupe.map_or(
            Value::Null,
            |([x, y], radius)| json!({"x": x, "y": y, "radius": radius}),
        ))
    }

    /// Metres of the object that a CSS pixel stands for where the camera looks.
    pub fn metres_per_pixel(&self) -> Option<f64> {
        self.inner.borrow().app.metres_per_pixel()
    }

    /// Panes beside one another: `[[x, y, width, height], …]` in CSS pixels, none when the picture is
    /// whole.
    pub fn panes(&self) -> Result<JsValue, JsValue> {
        plain(&json!(self.inner.borrow().app.panes()))
    }

    /// Shows the other of two states that take turns.
    pub fn set_blink(&self, right: bool) {
        self.inner.borrow_mut().app.set_blink(right);
    }

    /// Shares of the covered surface by the value of a band layer, in equal classes over its range;
    /// empty before an image of it is here.
    pub fn histogram(&self, layer: &str) -> Vec<f64> {
        self.inner.borrow().app.histogram(layer).unwrap_or_default()
    }

    /// A tone map by its name (`sequence`, `grey`, `diverging`, `steps`): 256 colours of three encoded
    /// sRGB bytes.
    pub fn band_map(&self, name: &str) -> Vec<u8> {
        let map = colour::ToneMap::named(name).unwrap_or_default();
        map.colours().iter().flatten().copied().collect()
    }

    /// What is at a point of the canvas: null off the surface.
    pub async fn probe(&self, x: f64, y: f64) -> Result<JsValue, JsValue> {
        let inner = Rc::clone(&self.inner);
        let place = inner.borrow_mut().app.place_at(x, y);
        let Some(place) = place else {
            return Ok(JsValue::NULL);
        };
        let mut about = inner.borrow().app.describe(&place);
        let texels = inner.borrow().app.texels_at(&place);
        // All are asked for before the first is waited for.
        let asked: Vec<_> = texels.iter().map(|t| inner.borrow().ask_codes(t)).collect();
        let mut colours = Vec::new();
        for (texel, readbacks) in texels.iter().zip(&asked) {
            if let Some(codes) = received_codes(&inner, readbacks).await {
                colours.push(inner.borrow().app.colour_report(&place, texel, &codes));
            }
        }
        about["colours"] = colours.into();
        plain(&about)
    }

    /// Statistics of the differences between the two sides over what is seen, or over one region:
    /// `{pixels, mean, median, percentile_95, largest, share_above}` (CIEDE2000), null where nothing
    /// of both is seen.
    pub async fn differences(&self, region: Option<String>) -> Result<JsValue, JsValue> {
        let inner = Rc::clone(&self.inner);
        let (readback, number, threshold) = {
            let mut inner = inner.borrow_mut();
            let number = match &region {
                Some(id) => Some(
                    inner
                        .app
                        .region_number(id)
                        .ok_or_else(|| error(format!("this dossier has no region {id}")))?,
                ),
                None => None,
            };
            let threshold = inner.app.view().map_or(0.0, |v| v.difference.threshold);
            let readback = inner.app.measure_differences().map_err(error)?;
            (readback, number, threshold)
        };
        let rgba = received(&inner, &readback).await.ok_or_else(|| {
            error("the differences could not be read back from the graphics device; try again")
        })?;
        let found = ganosis_renderer::differences::statistics(&rgba, number, threshold);
        plain(&found.map_or(Value::Null, |s| {
            json!({"pixels": s.pixels, "mean": s.mean, "median": s.median,
                   "percentile_95": s.percentile_95, "largest": s.largest,
                   "share_above": s.share_above})
        }))
    }

    /// CIEDE2000 of pairs of CIELAB colours (six numbers a pair) as this graphics device computes it.
    pub async fn check_delta_e_2000(&self, pairs: Vec<f32>) -> Result<Vec<f64>, JsValue> {
        let inner = Rc::clone(&self.inner);
        let readback = {
            let inner = inner.borrow();
            let renderer = inner
                .app
                .renderer()
                .ok_or_else(|| error("there is no graphics device"))?;
            renderer.check_delta_e_2000(&pairs).map_err(error)?
        };
        let bytes = received(&inner, &readback).await.ok_or_else(|| {
            error("the check could not be read back from the graphics device; try again")
        })?;
        Ok(ganosis_renderer::check::differences_of(&bytes))
    }

    /// What the chosen lamp does: `{computed: {left, right}, mismatches}`, or null without one.
    pub fn lamp_report(&self) -> Result<JsValue, JsValue> {
        plain(&self.inner.borrow_mut().app.lamp_report())
    }

    /// The overlay's legend: `{theme, left, right}`, or null without one.
    pub fn legend(&self) -> Result<JsValue, JsValue> {
        plain(&self.inner.borrow_mut().app.legend())
    }

    /// Takes an edited document of the same surface and layers; view and images stay.
    pub fn replace_document(&self, json: &str) -> Result<(), JsValue> {
        let mut inner = self.inner.borrow_mut();
        inner.app.replace_document(json).map_err(error)
    }

    /// An empty region map for a sheet that has none.
    pub fn ensure_labels(&self, sheet: &str, width: u32, height: u32) -> Result<(), JsValue> {
        let mut inner = self.inner.borrow_mut();
        inner
            .app
            .ensure_labels(sheet, [width, height])
            .map_err(error)
    }

    /// Radius of the ball around the object (m), 0 before it is here.
    pub fn radius_m(&self) -> f64 {
        self.inner.borrow().app.radius_m()
    }

    /// Area of the surface (m²) that a whole sheet of UV stands for, as a mean; 0 before it is here.
    pub fn m2_per_uv(&self) -> f64 {
        self.inner.borrow().app.m2_per_uv()
    }

    /// Takes the smoothed normals and what is hidden of the sky, as the desk's `relief` gives them; false
    /// when they are not of this surface.
    pub fn supply_relief(&self, numbers: &[i16]) -> bool {
        self.inner.borrow_mut().app.supply_relief(numbers)
    }

    /// Writes a part of a region map, rows from the top.
    pub fn patch_labels(
        &self,
        sheet: &str,
        x: u32,
        y: u32,
        width: u32,
        height: u32,
        texels: &[u16],
    ) -> Result<(), JsValue> {
        let rect = Rect {
            x,
            y,
            width,
            height,
        };
        let mut inner = self.inner.borrow_mut();
        inner.app.patch_labels(sheet, rect, texels).map_err(error)
    }

    /// The place on the surface under a point: `{position, normal, sheet, uv}`, null off it.
    pub fn anchor_at(&self, x: f64, y: f64) -> Result<JsValue, JsValue> {
        plain(&self.inner.borrow_mut().app.anchor_at(x, y))
    }

    /// How space comes to the canvas: `{view_projection, eye, width, height}`.
    pub fn projection(&self) -> Result<JsValue, JsValue> {
        plain(&self.inner.borrow().app.projection())
    }

    /// A picture of what is drawn: RGBA bytes, rows from the top.
    pub async fn snapshot(&self, width_px: u32, height_px: u32) -> Result<Vec<u8>, JsValue> {
        let part = vec![0, 0, width_px, height_px];
        self.snapshot_tile(JsValue::NULL, width_px, height_px, part)
            .await
    }

    /// A part (x, y, width, height) of a picture that may be larger than the device can hold: RGBA
    /// bytes. It shows what is drawn, with the fields of `change`, if any, in place of the view's own.
    pub async fn snapshot_tile(
        &self,
        change: JsValue,
        width_px: u32,
        height_px: u32,
        part: Vec<u32>,
    ) -> Result<Vec<u8>, JsValue> {
        let change = change_of(&change)?;
        let Some((origin, size)) = part_of(&part) else {
            return Err(error("a part of a picture is x, y, width and height"));
        };
        let inner = Rc::clone(&self.inner);
        let whole = [width_px, height_px];
        let asked = inner
            .borrow_mut()
            .app
            .snapshot(&change, whole, origin, size);
        read_back(&inner, &asked.map_err(error)?).await
    }

    /// A picture of one state or band alone, whole, from where one first stands: RGBA bytes, nothing
    /// while its images are not here. The view stays as it is.
    pub async fn picture_of(
        &self,
        id: String,
        width_px: u32,
        height_px: u32,
    ) -> Result<Option<Vec<u8>>, JsValue> {
        let inner = Rc::clone(&self.inner);
        let asked = inner
            .borrow_mut()
            .app
            .picture_of(&id, [width_px, height_px]);
        match asked.map_err(error)? {
            Some(readback) => read_back(&inner, &readback).await.map(Some),
            None => Ok(None),
        }
    }

    /// Makes one thing that `picture_of` would have to make first; true when nothing is left to make.
    pub fn prepare_picture_of(
        &self,
        id: &str,
        width_px: u32,
        height_px: u32,
    ) -> Result<bool, JsValue> {
        let app = &mut self.inner.borrow_mut().app;
        app.prepare_picture_of(id, [width_px, height_px])
            .map_err(error)
    }

    /// Gives the WebGPU device up at once, which the page does before it lets go of the handle: the
    /// browser would collect it some time later. To tests it is a driver's failure. On WebGL 2 the page
    /// takes the canvas's context instead: destroying the device there leaves a live context.
    pub fn lose(&self) {
        if let Some(renderer) = self.inner.borrow().app.renderer()
            && renderer.gpu().info.name == "WebGPU"
        {
            renderer.gpu().device.destroy();
        }
    }

    /// A new device on a canvas, the same view; `wanted` then lists the images again.
    pub async fn restore(&self, canvas: web_sys::HtmlCanvasElement) -> Result<(), JsValue> {
        let inner = Rc::clone(&self.inner);
        let (samples, wide, tile_mib) = {
            let mut inner = inner.borrow_mut();
            inner.surface = None;
            (inner.samples, inner.app.wide_canvas, inner.tile_mib)
        };
        let started = start(canvas, samples, wide, tile_mib).await?;
        let mut inner = inner.borrow_mut();
        inner.app.wide_canvas = started.wide;
        inner.app.set_renderer(started.renderer);
        inner.surface = Some(started.surface);
        inner.format = started.format;
        inner.configured = [0, 0];
        inner.hear_of_loss();
        Ok(())
    }
}

impl Inner {
    fn hear_of_loss(&self) {
        if let (Some(renderer), Some(told)) = (self.app.renderer(), self.when_lost.clone()) {
            let loss = renderer.gpu().loss();
            spawn_local(async move {
                loss.await;
                let _ = told.call0(&JsValue::NULL);
            });
        }
    }

    /// Starts reading the texels of a state's layers; nothing for band layers, whose values are here.
    fn ask_codes(&self, texel: &StateTexel) -> Vec<Option<Readback>> {
        let read = |layer: &LayerTexel| match layer.band {
            Some(_) => None,
            None => self
                .app
                .renderer()?
                .read_texel(layer.paint.texture, texel.uv),
        };
        texel.layers.iter().map(read).collect()
    }

    /// Draws to the canvas; false when the canvas is not ready for it.
    fn present(&mut self) -> bool {
        let size = self.app.size_px();
        let (Some(surface), Some(renderer)) = (&self.surface, self.app.renderer()) else {
            return false;
        };
        let gpu = renderer.gpu();
        let largest = gpu.info.largest_texture_px;
        let clamped = size.map(|s| s.min(largest));
        if self.configured != clamped {
            surface.configure(
                &gpu.device,
                &wgpu::SurfaceConfiguration {
                    usage: wgpu::TextureUsages::RENDER_ATTACHMENT,
                    format: self.format,
                    color_space: if self.app.wide_canvas {
                        wgpu::SurfaceColorSpace::DisplayP3
                    } else {
                        wgpu::SurfaceColorSpace::default()
                    },
                    width: clamped[0],
                    height: clamped[1],
                    present_mode: wgpu::PresentMode::Fifo,
                    desired_maximum_frame_latency: 2,
                    alpha_mode: wgpu::CompositeAlphaMode::Auto,
                    view_formats: Vec::new(),
                },
            );
            self.configured = clamped;
        }
        let texture = match surface.get_current_texture() {
            wgpu::CurrentSurfaceTexture::Success(texture)
            | wgpu::CurrentSurfaceTexture::Suboptimal(texture) => texture,
            wgpu::CurrentSurfaceTexture::Outdated => {
                self.configured = [0, 0];
                return false;
            }
            _ => return false,
        };
        let view = texture
            .texture
            .create_view(&wgpu::TextureViewDescriptor::default());
        self.app.draw(&view);
        if let Some(renderer) = self.app.renderer() {
            renderer.gpu().queue.present(texture);
        }
        true
    }
}

/// Polls before an answer of the GPU is given up: at about 4 ms each (the least delay of nested
/// timers, HTML standard, section 8.7) some two minutes: drawing in software takes that long at times.
const MOST_POLLS: usize = 30_000;

async fn received(inner: &Rc<RefCell<Inner>>, readback: &Readback) -> Option<Vec<u8>> {
    for _ in 0..MOST_POLLS {
        let answer = inner
            .borrow()
            .app
            .renderer()
            .map(|r| readback.take(r.gpu()))?;
        match answer {
            Some(bytes) => return bytes,
            None => later().await,
        }
    }
    None
}

async fn read_back(inner: &Rc<RefCell<Inner>>, readback: &Readback) -> Result<Vec<u8>, JsValue> {
    received(inner, readback).await.ok_or_else(|| {
        error("the picture could not be read back from the graphics device; try again")
    })
}

/// Encoded texels of a state's layers; none for band layers.
async fn received_codes(
    inner: &Rc<RefCell<Inner>>,
    readbacks: &[Option<Readback>],
) -> Option<Vec<Option<[u8; 4]>>> {
    let mut codes = Vec::new();
    for readback in readbacks {
        codes.push(match readback {
            Some(readback) => {
                let bytes = received(inner, readback).await?;
                Some([bytes[0], bytes[1], bytes[2], bytes[3]])
            }
            None => None,
        });
    }
    Some(codes)
}

/// A panic is a defect of ours: its place goes to the console, the page shows what it can.
fn console_error_panic_hook() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        std::panic::set_hook(Box::new(|info| {
            web_sys::console::error_1(&info.to_string().into())
        }));
    });
}
