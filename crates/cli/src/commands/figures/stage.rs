//! A dossier on a graphics device without a window.

use std::io::Cursor;
use std::time::{Duration, Instant};

use ganosis_audit::decoded::decode as decode_colour;
use ganosis_dossier::document::FILE_NAME;
use ganosis_dossier::store::Store;
use ganosis_renderer::{Compare, Frame, Gpu, Renderer, Side, TextureId};
use ganosis_viewer::camera::Basis;
use ganosis_viewer::content::{Appearance, Content, ImageKind, PLAIN, Progress, Source, Values};
use ganosis_viewer::decode;
use glam::{DVec3, Mat4, Vec3, Vec4};
use image::{ImageFormat, RgbaImage};

use super::extent;
use super::places::Spot;

/// Lightness L* of the ground behind the object: light enough for paper, dark
/// enough for white paint to stand out. A choice of ours.
const GROUND_L: f32 = 88.0;

/// Samples a pixel, for smooth edges.
const SAMPLES: u32 = 4;

/// Free space around the object in pictures of states, share of its extent.
const MARGIN: f64 = 0.03;

/// Facing less than this share of its area, a region is looked at from the front.
const FACES_ALL_WAYS: f64 = 0.2;

/// Cosine above which a direction counts as that of the up axis.
const ALONG: f64 = 0.985;

/// Longest wait for a picture; software on a busy machine needs seconds.
const PATIENCE: Duration = Duration::from_secs(60);

/// A parallel view.
#[derive(Debug, Clone, Copy)]
pub(super) struct View {
    /// What is in the middle, metres.
    pub(super) middle_m: DVec3,
    /// Direction to the eye.
    pub(super) towards_eye: DVec3,
    /// What is up in the picture.
    pub(super) up: DVec3,
    /// Half of width and height, metres.
    pub(super) half_m: [f64; 2],
}

/// Content, device and what went wrong so far.
pub(super) struct Stage<'a> {
    store: &'a dyn Store,
    content: Content,
    renderer: Renderer,
    origin_m: DVec3,
    radius_m: f64,
    problems: Vec<String>,
}

impl<'a> Stage<'a> {
    /// Reads the surface and starts the device; the error says what there is none of.
    pub(super) fn new(store: &'a dyn Store) -> Result<Self, String> {
        let bytes = store.read(FILE_NAME).map_err(|error| error.to_string())?;
        let mut content = Content::open(FILE_NAME, &bytes).map_err(|error| error.to_string())?;
        // First the file itself, then the files it names.
        for _ in 0..2 {
            for (id, path, _) in content.wanted_files() {
                let bytes = store.read(&path).map_err(|error| error.to_string())?;
                match id.strip_prefix("buffer:") {
                    Some(uri) => content.supply_buffer(uri, bytes),
                    None => content.supply_surface(bytes),
                }
                .map_err(|error| error.to_string())?;
            }
        }
        let gpu = pollster::block_on(Gpu::headless()).map_err(|_| {
            "this machine offers no graphics device; install a Vulkan driver, of a graphics card or one in software"
                .to_owned()
        })?;
        let mut renderer = Renderer::new(gpu, wgpu::TextureFormat::Rgba8Unorm, SAMPLES);
        let ball = content.ball();
        match content.surface() {
            Some(surface) => renderer.set_geometry(surface, ball.centre_m.as_vec3(), &[]),
            None => return Err("there is no surface".to_owned()),
        }
        Ok(Self {
            store,
            content,
            renderer,
            origin_m: ball.centre_m.as_vec3().as_dvec3(),
            radius_m: ball.radius_m,
            problems: Vec::new(),
        })
    }

    pub(super) fn content(&self) -> &Content {
        &self.content
    }

    pub(super) fn device(&self) -> String {
        let info = &self.renderer.gpu().info;
        format!("{} ({})", info.adapter, info.name)
    }

    pub(super) fn problems(&self) -> &[String] {
        &self.problems
    }

    pub(super) fn shows(&self, appearance: Appearance, patch: usize) -> bool {
        let patches = self.content.surface().map_or(&[][..], |s| &s.patches);
        patches
            .get(patch)
            .is_some_and(|patch| self.content.shows(appearance, patch))
    }

    /// The region maps, for places and outlines.
    pub(super) fn load_labels(&mut self) {
        let labels = |i: &usize| self.content.images[*i].kind == ImageKind::Labels;
        let all: Vec<usize> = (0..self.content.images.len()).filter(labels).collect();
        self.load(all);
    }

    fn load(&mut self, images: Vec<usize>) {
        for index in images {
            if self.content.images[index].progress != Progress::Wanted {
                continue;
            }
            match self.texture(index) {
                Ok((id, values)) => {
                    let image = &mut self.content.images[index];
                    image.progress = Progress::Here(id);
                    image.values = values;
                }
                Err(reason) => {
                    self.content.images[index].progress = Progress::Failed;
                    self.problems
                        .push(format!("Not in the pictures: {reason}."));
                }
            }
        }
    }

    fn texture(&mut self, index: usize) -> Result<(TextureId, Option<Values>), String> {
        let image = &self.content.images[index];
        let (bytes, name) = match &image.source {
            Source::File(path) => {
                let bytes = self.store.read(path).map_err(|error| error.to_string())?;
                (bytes, path.clone())
            }
            Source::Embedded(_) => {
                let (bytes, _) = self.content.embedded(index).ok_or("an image of the mesh")?;
                (bytes.to_vec(), "an image of the mesh".to_owned())
            }
            // Nobody draws while a report is written.
            Source::Drawn => return Err("a drawing".to_owned()),
        };
        let refused = |error: &dyn std::fmt::Display| format!("{name}: {error:#}");
        if image.kind == ImageKind::Colour {
            let pixels = decode_colour(&bytes).map_err(|e| refused(&e))?.into_rgba8();
            let (width, height) = pixels.dimensions();
            let id = self.renderer.add_colour(width, height, pixels.as_raw());
            return Ok((id.map_err(|e| refused(&e))?, None));
        }
        let values = decode::grey(&bytes).map_err(|e| refused(&e))?;
        let [width, height] = values.size;
        let id = if image.kind == ImageKind::Labels {
            self.renderer.add_labels(width, height, &values.texels)
        } else {
            values.with_samples(|samples| self.renderer.add_band(width, height, samples))
        };
        Ok((id.map_err(|e| refused(&e))?, Some(values)))
    }

    /// Front, left, right, above, each as large as the whole surface needs.
    pub(super) fn standard_views(&self) -> Vec<(&'static str, View)> {
        let Basis { right, up, front } = self.content.basis();
        [
            ("front", front, up),
            ("left", -right, up),
            ("right", right, up),
            ("above, front at the bottom", up, -front),
        ]
        .into_iter()
        .map(|(name, towards_eye, up)| {
            let points = self.content.surface().into_iter().flat_map(|surface| {
                let patches = surface.patches.iter();
                patches.flat_map(|patch| patch.positions.iter().map(|p| p.as_dvec3()))
            });
            (name, self.view(points, towards_eye, up, MARGIN))
        })
        .collect()
    }

    fn view(
        &self,
        points: impl Iterator<Item = DVec3>,
        towards_eye: DVec3,
        up: DVec3,
        margin: f64,
    ) -> View {
        let across = up.cross(towards_eye);
        let (middle, half) = extent(points, across, up);
        // The depth of the middle is that of the surface's own.
        let middle_m =
            across * middle[0] + up * middle[1] + towards_eye * self.origin_m.dot(towards_eye);
        let least = self.radius_m * 1e-3;
        View {
            middle_m,
            towards_eye,
            up,
            half_m: half.map(|half| (half * (1.0 + 2.0 * margin)).max(least)),
        }
    }

    /// A square view of a region along its mean normal.
    pub(super) fn view_of(&self, spot: &Spot, margin: f64) -> View {
        let basis = self.content.basis();
        let faces = spot.facing.length() > FACES_ALL_WAYS * spot.area;
        let towards_eye = match spot.facing.try_normalize() {
            Some(facing) if faces => facing,
            _ => basis.front,
        };
        let wanted = if towards_eye.dot(basis.up).abs() > ALONG {
            -basis.front * towards_eye.dot(basis.up).signum()
        } else {
            basis.up
        };
        let up = wanted
            .reject_from_normalized(towards_eye)
            .normalize_or(basis.up);
        let mut view = self.view(spot.points_m.iter().copied(), towards_eye, up, margin);
        let half = view.half_m[0].max(view.half_m[1]);
        view.half_m = [half; 2];
        view
    }

    /// A direction in a word or two.
    pub(super) fn words_for(&self, towards_eye: DVec3) -> &'static str {
        let Basis { right, up, front } = self.content.basis();
        let [x, y, z] = [right, up, front].map(|axis| towards_eye.dot(axis));
        let most = x.abs().max(y.abs()).max(z.abs());
        if most == z.abs() {
            if z > 0.0 { "front" } else { "back" }
        } else if most == y.abs() {
            if y > 0.0 { "above" } else { "below" }
        } else if x > 0.0 {
            "right"
        } else {
            "left"
        }
    }

    /// A PNG of an appearance; `number` is that of the region to outline, 0 for none.
    pub(super) fn draw(
        &mut self,
        appearance: Appearance,
        view: &View,
        [width, height]: [u32; 2],
        number: u32,
    ) -> Option<Vec<u8>> {
        self.load(self.content.images_for(appearance));
        let result = self.pixels(appearance, view, [width, height], number);
        let png = result.and_then(|pixels| {
            let image =
                RgbaImage::from_raw(width, height, pixels).ok_or("a picture is incomplete")?;
            let opaque = image::DynamicImage::ImageRgba8(image).into_rgb8();
            let mut png = Cursor::new(Vec::new());
            opaque
                .write_to(&mut png, ImageFormat::Png)
                .map_err(|error| error.to_string())?;
            Ok(png.into_inner())
        });
        match png {
            Ok(png) => Some(png),
            Err(reason) => {
                self.problems
                    .push(format!("A picture is missing: {reason}."));
                None
            }
        }
    }

    fn pixels(
        &mut self,
        appearance: Appearance,
        view: &View,
        [width, height]: [u32; 2],
        number: u32,
    ) -> Result<Vec<u8>, String> {
        let paints = self.content.paints(appearance, appearance, &PLAIN);
        self.renderer
            .set_paints(0, paints)
            .map_err(|error| error.to_string())?;
        let frame = self.frame(view, number);
        let answer = self
            .renderer
            .snapshot(&frame, width, height)
            .map_err(|error| error.to_string())?;
        let started = Instant::now();
        loop {
            match answer.take(self.renderer.gpu()) {
                Some(Some(pixels)) => return Ok(pixels),
                Some(None) => return Err("the graphics device broke off".to_owned()),
                None if started.elapsed() > PATIENCE => {
                    return Err("the graphics device does not answer".to_owned());
                }
                None => std::thread::sleep(Duration::from_millis(1)),
            }
        }
    }

    fn frame(&self, view: &View, number: u32) -> Frame {
        let middle = (view.middle_m - self.origin_m).as_vec3();
        let (towards_eye, up) = (view.towards_eye.as_vec3(), view.up.as_vec3());
        let reach = 2.0 * self.radius_m as f32;
        // Clip space: right and up from -1 to 1, depth from 0 (near) to 1.
        let row = |direction: Vec3, half: f32, middle_at: f32| {
            (direction / half).extend(middle_at - middle.dot(direction) / half)
        };
        let [half_width, half_height] = view.half_m.map(|half| half as f32);
        let clip_from_scene = Mat4::from_rows(
            row(up.cross(towards_eye), half_width, 0.0),
            row(up, half_height, 0.0),
            row(-towards_eye, 2.0 * reach, 0.5),
            Vec4::W,
        );
        Frame {
            clip_from_scene,
            eye_in_scene_m: middle + towards_eye * reach * FAR_AWAY,
            device_pixel_ratio: 1.0,
            compare: Compare::One(Side::Left),
            light: None,
            section: None,
            backs_hidden: false,
            selected_region: number,
            surround_l: GROUND_L,
            under_lamp: false,
            overlay: 0.0,
            wide_gamut: false,
            divider_line: false,
            cut: None,
        }
    }
}

/// In a parallel view the eye is far away; relief is shaded towards it.
const FAR_AWAY: f32 = 1e3;
