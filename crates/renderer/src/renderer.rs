//! Geometry, textures and paints together, and the passes that draw them.

mod passes;
mod tiled;

use std::collections::BTreeMap;

use ganosis_colorimetry::ToneMap;
use ganosis_surface::Surface;
use glam::Vec3;

pub use tiled::Asked;

use crate::RendererError;
use crate::device::Gpu;
use crate::frame::{Compare, Cut, Frame, FrameUniform};
use crate::geometry::{GpuPatch, Relief, Upload};
use crate::mips::MipMaker;
use crate::paint::{
    LayerContent, LayerPaint, MOST_LAYERS, PatchPaint, SidePaint, SurfaceUniform, Wrap,
};
use crate::pipelines::{Kind, LABELS_BINDING, Parts, Pipelines, SIDE_BINDINGS, Use};
use crate::readback::Readback;
use crate::region_table::RegionTable;
use crate::target::{Target, picture};
use crate::texture::{self, LayerTexture, Samples, TextureId};
use crate::tiles::Tiles;

/// Uniform offsets are multiples of this on every backend (WebGPU, limit
/// `minUniformBufferOffsetAlignment`, default 256).
const UNIFORM_STRIDE: usize = 768;

/// Memory for tiles (MiB), whatever the layers: with two pictures of a large screen it stays well below
/// what a tablet grants a page (a choice of ours).
pub const TILE_MIB: u32 = 192;

/// How many texels along the steeper axis are averaged where a surface is seen at a slant: the most that
/// devices offer as a rule; those that offer less take less (WebGPU, `GPUSamplerDescriptor.maxAnisotropy`).
const ANISOTROPY: u16 = 16;

/// Largest viewport for a part of a picture (px): what WebGPU grants every device as
/// `maxTextureDimension2D` (8192), or less on WebGL 2.
const WIDEST_VIEW_PX: u32 = 8192;

/// Draws the object.
#[derive(Debug)]
pub struct Renderer {
    gpu: Gpu,
    format: wgpu::TextureFormat,
    sample_count: u32,
    pipelines: Pipelines,
    mips: MipMaker,
    frame_buffer: wgpu::Buffer,
    band_colours: LayerTexture,
    pairs: [Pair; PAIRS],
    patches: Vec<GpuPatch>,
    textures: BTreeMap<TextureId, LayerTexture>,
    next_texture: u32,
    replaced: Option<TextureId>,
    blank: LayerTexture,
    blank_labels: LayerTexture,
    samplers: BTreeMap<(Wrap, Wrap, bool), wgpu::Sampler>,
    target: Option<Target>,
    tiles: Tiles,
    /// What the pipelines of this picture have.
    parts: Parts,
}

/// Vertices that are written to the device at once: some 10 MB (a choice of ours).
const PIECE: usize = 1 << 18;

/// How many pairs of sides there are: the second only where more than two states are compared.
const PAIRS: usize = 2;

/// Uniforms of a frame that one pass may need: of four panes, or of two halves with three dividers.
const FRAME_PLACES: usize = 5;

/// Two sides: the cover of every patch, and what holds for whole regions.
#[derive(Debug)]
struct Pair {
    paints: Vec<PatchPaint>,
    draws: Option<Draws>,
    region_table: RegionTable,
    frame_group: wgpu::BindGroup,
}

/// Bind groups of the present paints.
#[derive(Debug)]
struct Draws {
    groups: Vec<wgpu::BindGroup>,
}

impl Renderer {
    /// A renderer that draws to targets of `format`, with `sample_count` (1 or 4) samples a pixel.
    #[must_use]
    pub fn new(gpu: Gpu, format: wgpu::TextureFormat, sample_count: u32) -> Self {
        let tiles = Tiles::new(&gpu, TILE_MIB);
        let pipelines = Pipelines::new(&gpu.device, format, sample_count, &tiles.layout);
        let mips = MipMaker::default();
        let frame_buffer = gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("frame"),
            size: (FRAME_PLACES * UNIFORM_STRIDE) as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let band_colours = band_colours(&gpu);
        let pairs = std::array::from_fn(|_| {
            let region_table = RegionTable::default();
            Pair {
                paints: Vec::new(),
                draws: None,
                frame_group: frame_group(
                    &gpu,
                    &pipelines,
                    &frame_buffer,
                    &band_colours,
                    &region_table,
                ),
                region_table,
            }
        });
        // Sizes of one texel cannot fail.
        let blank = texture::colour_from_bytes(&gpu, &mips, [1, 1], &[255; 4]);
        let blank_labels = texture::labels(&gpu, [1, 1], &[0]);
        let (Ok(blank), Ok(blank_labels)) = (blank, blank_labels) else {
            unreachable!("a texture of one texel fits every device")
        };
        Self {
            gpu,
            format,
            sample_count,
            pipelines,
            mips,
            frame_buffer,
            band_colours,
            pairs,
            patches: Vec::new(),
            textures: BTreeMap::new(),
            next_texture: 0,
            replaced: None,
            blank,
            blank_labels,
            samplers: BTreeMap::new(),
            target: None,
            tiles,
            parts: Parts::default(),
        }
    }

    /// Makes what images of colour are prepared with, which takes a while in a browser; else the first image does.
    pub fn prepare_colour(&self) {
        self.mips.prepare(&self.gpu.device);
    }

    /// Memory for tiles (MiB) in place of [`TILE_MIB`], for images in tiles that are added from now on:
    /// 16 to 1024.
    pub fn set_tile_memory(&mut self, mib: u32) {
        self.tiles.set_budget(mib.clamp(16, 1024));
    }

    /// The device.
    #[must_use]
    pub fn gpu(&self) -> &Gpu {
        &self.gpu
    }

    /// Replaces the geometry; positions are kept relative to `origin_m`, so that objects far from
    /// their coordinate origin keep their detail. `relief` is one a vertex, all patches in a row, or none.
    pub fn set_geometry(&mut self, surface: &Surface, origin_m: Vec3, relief: &[Relief]) {
        let mut upload = self.begin_geometry(surface, origin_m);
        while self.write_geometry(&mut upload, surface, relief, PIECE) {}
        self.show_geometry(upload);
    }

    /// Begins to bring a geometry to the device piece by piece, while another is drawn.
    #[must_use]
    pub fn begin_geometry(&self, surface: &Surface, origin_m: Vec3) -> Upload {
        Upload::new(&self.gpu.device, surface, origin_m)
    }

    /// Writes up to `most` vertices of it; false when all is written, and [`Renderer::show_geometry`] may follow.
    pub fn write_geometry(
        &self,
        upload: &mut Upload,
        surface: &Surface,
        relief: &[Relief],
        most: usize,
    ) -> bool {
        upload.write(&self.gpu.queue, surface, relief, most)
    }

    /// Draws from now on what was brought.
    pub fn show_geometry(&mut self, upload: Upload) {
        self.patches = upload.end();
        for pair in &mut self.pairs {
            pair.paints.clear();
            pair.draws = None;
        }
    }

    fn keep(&mut self, layer: LayerTexture) -> TextureId {
        let id = self.replaced.take().unwrap_or_else(|| {
            self.next_texture += 1;
            TextureId(self.next_texture - 1)
        });
        if let Some(old) = self.textures.insert(id, layer) {
            for pair in &mut self.pairs {
                pair.draws = None;
            }
            old.texture.destroy();
        }
        id
    }

    /// The next image that is added takes the place and the id of this one, whose memory is given back
    /// at once: what somebody paints on comes many times.
    pub fn replace(&mut self, id: TextureId) {
        self.replaced = Some(id);
    }

    /// Adds a colour image: encoded RGBA, 8 bits, rows from the top.
    ///
    /// # Errors
    /// Sizes that do not fit the bytes or the device.
    pub fn add_colour(
        &mut self,
        width_px: u32,
        height_px: u32,
        rgba: &[u8],
    ) -> Result<TextureId, RendererError> {
        let layer = texture::colour_from_bytes(&self.gpu, &self.mips, [width_px, height_px], rgba)?;
        Ok(self.keep(layer))
    }

    /// Adds a colour image that the browser has decoded.
    ///
    /// # Errors
    /// A size that does not fit the device.
    #[cfg(target_arch = "wasm32")]
    pub fn add_colour_bitmap(
        &mut self,
        bitmap: &web_sys::ImageBitmap,
    ) -> Result<TextureId, RendererError> {
        let layer = texture::colour_from_bitmap(&self.gpu, &self.mips, bitmap)?;
        Ok(self.keep(layer))
    }

    /// Adds a band image.
    ///
    /// # Errors
    /// Sizes that do not fit the samples or the device.
    pub fn add_band(
        &mut self,
        width_px: u32,
        height_px: u32,
        samples: Samples<'_>,
    ) -> Result<TextureId, RendererError> {
        let layer = texture::band(&self.gpu, [width_px, height_px], samples)?;
        Ok(self.keep(layer))
    }

    /// Adds the region numbers of a sheet.
    ///
    /// # Errors
    /// Sizes that do not fit the numbers or the device.
    pub fn add_labels(
        &mut self,
        width_px: u32,
        height_px: u32,
        numbers: &[u16],
    ) -> Result<TextureId, RendererError> {
        let layer = texture::labels(&self.gpu, [width_px, height_px], numbers)?;
        Ok(self.keep(layer))
    }

    /// Writes a part of a region map, in texels from the upper left corner, row by row. The caller knows
    /// that it lies in the map.
    pub fn write_labels(&self, id: TextureId, origin: [u32; 2], size: [u32; 2], numbers: &[u16]) {
        if let Some(layer) = self.textures.get(&id) {
            texture::write_labels(&self.gpu, layer, origin, size, numbers);
        }
    }

    /// Sets the cover of every patch, in the order of the geometry, for a pair of sides: the first is
    /// `0`, that of a third and fourth state `1`.
    ///
    /// # Errors
    /// [`RendererError::Mismatch`] when there are not as many paints as patches, or no such pair.
    pub fn set_paints(
        &mut self,
        pair: usize,
        paints: Vec<PatchPaint>,
    ) -> Result<(), RendererError> {
        if paints.len() != self.patches.len() {
            return Err(RendererError::Mismatch {
                what: "the paints".to_owned(),
                detail: format!("{} paints for {} patches", paints.len(), self.patches.len()),
            });
        }
        let Some(pair) = self.pairs.get_mut(pair) else {
            return Err(RendererError::Mismatch {
                what: "the paints".to_owned(),
                detail: format!("there are {PAIRS} pairs of sides"),
            });
        };
        if paints != pair.paints {
            pair.paints = paints;
            pair.draws = None;
        }
        Ok(())
    }

    /// Sets what holds for whole regions, for a pair of sides as in [`Renderer::set_paints`]; no
    /// texture of a layer is touched.
    pub fn set_region_table(&mut self, pair: usize, table: RegionTable) {
        let Some(pair) = self.pairs.get_mut(pair).filter(|p| p.region_table != table) else {
            return;
        };
        pair.frame_group = frame_group(
            &self.gpu,
            &self.pipelines,
            &self.frame_buffer,
            &self.band_colours,
            &table,
        );
        pair.region_table = table;
    }

    /// Starts reading one texel of a colour texture, at `uv` (v = 0 is the top row), repeated
    /// beyond the border. Encoded RGBA comes back.
    #[must_use]
    pub fn read_texel(&self, id: TextureId, uv: [f32; 2]) -> Option<Readback> {
        let layer = self.textures.get(&id)?;
        let texel = |x: f32, n: u32| ((x.rem_euclid(1.0) * n as f32) as u32).min(n - 1);
        if let Some((texture, origin, _)) = self.tiles.texel(id, uv) {
            return Some(Readback::of_texture(&self.gpu, texture, origin, [1, 1], 4));
        }
        let origin = [texel(uv[0], layer.size[0]), texel(uv[1], layer.size[1]), 0];
        Some(Readback::of_texture(
            &self.gpu,
            &layer.texture,
            origin,
            [1, 1],
            4,
        ))
    }

    /// Makes one pipeline that drawing `frame` needs and that is not there yet; false when all are there.
    /// Making one can take long: whoever draws for somebody who waits makes one at a time, before anything
    /// is drawn that a browser would wait for too.
    pub fn prepare_next(&mut self, frame: &Frame) -> bool {
        let parts = self.parts_for(frame);
        let wanted = Kind::Object(Use::Wanted, tiled::wanted_parts(frame));
        // Differences that are shown are counted too.
        let counted = Kind::Object(Use::Measure, measured(parts));
        let missing = self
            .kinds(frame, parts)
            .chain(parts.tiled.then_some(wanted))
            .chain(frame.is_difference().then_some(counted))
            .find(|kind| self.pipelines.of(*kind).is_none());
        if let Some(kind) = missing {
            self.pipelines.prepare_patiently(&self.gpu.device, kind);
        }
        missing.is_some()
    }

    /// What a frame of the present paints is drawn with.
    fn kinds(&self, frame: &Frame, parts: Parts) -> impl Iterator<Item = Kind> + use<> {
        let mut paints = self.pairs.iter().flat_map(|pair| &pair.paints);
        let translucent = paints.any(|paint| paint.translucent);
        let (line, mixed) = match frame.compare {
            Compare::Swipe { .. } | Compare::Loupe { .. } | Compare::Strips { .. } => {
                (frame.divider_line, false)
            }
            Compare::Blend { .. } | Compare::Mix { .. } => (false, self.is_mixed(frame)),
            _ => (false, false),
        };
        let some = [
            Some(Kind::Object(Use::Opaque, parts)),
            translucent.then_some(Kind::Object(Use::Translucent, parts)),
            line.then_some(Kind::Divider),
            mixed.then_some(Kind::Mix),
        ];
        some.into_iter().flatten()
    }

    /// Whether sides are drawn whole and their pictures mixed: several states, or parts in one of two only.
    fn is_mixed(&self, frame: &Frame) -> bool {
        let mut paints = self.pairs[0].paints.iter();
        match frame.compare {
            Compare::Mix { .. } => true,
            Compare::Blend { .. } => paints.any(|p| p.sides[0].shown != p.sides[1].shown),
            _ => false,
        }
    }

    /// Draws `frame` to a view of the given size.
    pub fn draw(&mut self, frame: &Frame, view: &wgpu::TextureView, width_px: u32, height_px: u32) {
        let size = [width_px, height_px];
        self.tiles.flush(&self.gpu);
        self.build_draws();
        self.parts = self.parts_for(frame);
        for kind in self.kinds(frame, self.parts) {
            self.pipelines.prepare(&self.gpu.device, kind);
        }
        let target = match self.target.take() {
            Some(target) if target.size == size => target,
            _ => Target::new(&self.gpu, size, self.format, self.sample_count),
        };
        match frame.compare {
            Compare::Blend { .. } if self.is_mixed(frame) => {
                self.draw_mixed(frame, 2, view, &target)
            }
            Compare::Mix { .. } => self.draw_mixed(frame, 3, view, &target),
            Compare::Strips {
                positions,
                angle_rad,
            } => self.draw_strips(frame, positions, angle_rad, view, &target),
            Compare::Panes { grid } => self.draw_panes(frame, grid, view, &target),
            _ => self.draw_pair(frame, 0, view, &target),
        }
        self.target = Some(target);
    }

    /// Draws `frame` to a picture of its own and starts reading it: RGBA, rows from the top.
    ///
    /// # Errors
    /// [`RendererError::TooLarge`] for a size the device cannot hold.
    pub fn snapshot(
        &mut self,
        frame: &Frame,
        width_px: u32,
        height_px: u32,
    ) -> Result<Readback, RendererError> {
        let whole = [width_px, height_px];
        self.snapshot_tile(frame, whole, [0, 0], whole)
    }

    /// Draws the part of `size` px at `origin` of a picture of `whole` px, which may be larger than the
    /// device can hold, and starts reading it: tiles beside one another are the whole picture.
    ///
    /// # Errors
    /// [`RendererError::TooLarge`] for a part the device cannot hold; [`RendererError::Mismatch`] for
    /// one that is not inside the picture.
    pub fn snapshot_tile(
        &mut self,
        frame: &Frame,
        whole: [u32; 2],
        origin: [u32; 2],
        size: [u32; 2],
    ) -> Result<Readback, RendererError> {
        let ends = [0, 1].map(|axis| origin[axis].saturating_add(size[axis]));
        if size.contains(&0) || ends[0] > whole[0] || ends[1] > whole[1] {
            return Err(RendererError::Mismatch {
                what: "the part of the picture".to_owned(),
                detail: format!("{size:?} px at {origin:?} do not lie inside {whole:?} px"),
            });
        }
        self.gpu.check_size("the picture", size[0], size[1])?;
        let widest = self.gpu.info.largest_texture_px.min(WIDEST_VIEW_PX);
        let picture = picture(&self.gpu, size, self.format);
        let kept = self.target.take();
        let part = Frame {
            cut: Some(Cut {
                whole_px: whole,
                origin_px: origin,
                reach_px: size.map(|s| widest.saturating_sub(s) / 2),
            }),
            ..*frame
        };
        self.draw(&part, &picture.view(), size[0], size[1]);
        self.target = kept;
        Ok(Readback::of_texture(&self.gpu, &picture.0, [0; 3], size, 4))
    }

    /// Draws the differences between the two sides as numbers and starts reading them: four bytes a
    /// pixel, see [`crate::differences`].
    ///
    /// # Errors
    /// [`RendererError::TooLarge`] for a size the device cannot hold.
    pub fn measure_differences(
        &mut self,
        frame: &Frame,
        width_px: u32,
        height_px: u32,
    ) -> Result<Readback, RendererError> {
        self.gpu.check_size("the picture", width_px, height_px)?;
        let size = [width_px, height_px];
        self.tiles.flush(&self.gpu);
        self.build_draws();
        self.parts = measured(self.parts_for(frame));
        self.prepare(Use::Measure);
        Ok(self.draw_numbers(frame, Use::Measure, size, &|paint| {
            paint.sides.iter().all(|s| s.shown)
        }))
    }

    /// Starts computing CIEDE2000 of pairs of CIELAB colours (six numbers a pair) on this device; see
    /// [`crate::check::differences_of`].
    ///
    /// # Errors
    /// No pair, a broken pair, or more pairs than a texture is wide.
    pub fn check_delta_e_2000(&self, pairs: &[f32]) -> Result<Readback, RendererError> {
        crate::check::delta_e_2000(&self.gpu, self.format, pairs)
    }

    fn sampler(&mut self, wrap: [Wrap; 2], nearest: bool) -> wgpu::Sampler {
        let device = &self.gpu.device;
        self.samplers
            .entry((wrap[0], wrap[1], nearest))
            .or_insert_with(|| {
                let mode = |w| match w {
                    Wrap::Repeat => wgpu::AddressMode::Repeat,
                    Wrap::Mirror => wgpu::AddressMode::MirrorRepeat,
                    Wrap::Clamp => wgpu::AddressMode::ClampToEdge,
                };
                let linear = if nearest {
                    wgpu::FilterMode::Nearest
                } else {
                    wgpu::FilterMode::Linear
                };
                device.create_sampler(&wgpu::SamplerDescriptor {
                    label: Some("layer"),
                    address_mode_u: mode(wrap[0]),
                    address_mode_v: mode(wrap[1]),
                    mag_filter: linear,
                    min_filter: linear,
                    mipmap_filter: if nearest {
                        wgpu::MipmapFilterMode::Nearest
                    } else {
                        wgpu::MipmapFilterMode::Linear
                    },
                    anisotropy_clamp: if nearest { 1 } else { ANISOTROPY },
                    ..Default::default()
                })
            })
            .clone()
    }

    fn prepare(&mut self, kind: Use) {
        let device = &self.gpu.device;
        let kind = Kind::Object(kind, self.parts);
        self.pipelines.prepare(device, kind);
    }

    /// What pipelines need for a frame with the present paints.
    fn parts_for(&self, frame: &Frame) -> Parts {
        let paints = || self.pairs.iter().flat_map(|pair| &pair.paints);
        let sides = || paints().flat_map(|paint| &paint.sides);
        let lines = |layer: &LayerPaint| matches!(layer.content, LayerContent::Band(look) if look.lines > 1);
        let lit = frame.light.is_some() && !frame.is_difference();
        let rich = frame.is_rich() || sides().flat_map(SidePaint::stack).any(lines);
        let is_plain =
            |side: &SidePaint| !side.shown || (!side.raw_uvs && side.stack().count() > 0);
        Parts {
            tiled: sides()
                .flat_map(SidePaint::stack)
                .map(|layer| layer.texture)
                .chain(paints().filter_map(|paint| paint.labels))
                .any(|id| self.tiles.told(id)[0] > 0),
            converted: sides()
                .flat_map(SidePaint::stack)
                .any(|layer| layer.content != LayerContent::Srgb),
            deep: sides().any(|side| side.stack().count() > 1),
            lit,
            difference: frame.is_difference(),
            rich,
            plain: !lit
                && !rich
                && sides().all(is_plain)
                && self.patches.iter().all(|patch| !patch.has_colours),
            alike: paints().all(|paint| self.is_alike(paint)),
            // Through holes in the paint its inner side is seen.
            fronts: frame.backs_hidden
                && frame.section.is_none()
                && paints().all(|paint| !paint.translucent && paint.alpha_cutoff <= 0.0),
        }
    }

    /// Whether all images of both sides have one size and lie alike: a place on one is the place on all.
    fn is_alike(&self, paint: &PatchPaint) -> bool {
        let painted = || paint.sides.iter().filter(|side| side.stack().count() > 0);
        let lying = |side: &SidePaint| (side.uv, side.raw_uvs);
        let like = |id| {
            let [first, rest @ ..] = self.tiles.told(id);
            let whole = self.textures.get(&id).map(|t| t.size);
            (first > 0, rest, whole.filter(|_| first == 0))
        };
        let layers = || {
            painted()
                .flat_map(SidePaint::stack)
                .map(|l| like(l.texture))
        };
        // The shader finds the place as the left side lies, on its lowest layer.
        paint.sides[0].stack().count() > 0
            && painted().all(|side| lying(side) == lying(&paint.sides[0]))
            && layers().all(|other| Some(other) == layers().next())
    }

    fn build_draws(&mut self) {
        for pair in 0..PAIRS {
            if self.pairs[pair].draws.is_none() && !self.pairs[pair].paints.is_empty() {
                let draws = self.draws_of(pair);
                self.pairs[pair].draws = Some(draws);
            }
        }
    }

    fn draws_of(&mut self, pair: usize) -> Draws {
        let paints = self.pairs[pair].paints.clone();
        let mut uniforms = vec![0_u8; paints.len().max(1) * UNIFORM_STRIDE];
        for (i, paint) in paints.iter().enumerate() {
            let tiled = |id| self.tiles.told(id);
            let uniform = SurfaceUniform::new(paint, self.patches[i].has_colours, &tiled);
            let bytes = bytemuck::bytes_of(&uniform);
            uniforms[i * UNIFORM_STRIDE..][..bytes.len()].copy_from_slice(bytes);
        }
        let buffer = wgpu::util::DeviceExt::create_buffer_init(
            &self.gpu.device,
            &wgpu::util::BufferInitDescriptor {
                label: Some("paints"),
                contents: &uniforms,
                usage: wgpu::BufferUsages::UNIFORM,
            },
        );
        let groups = paints
            .iter()
            .map(|paint| self.paint_group(paint, &buffer))
            .collect();
        Draws { groups }
    }

    fn paint_group(&mut self, paint: &PatchPaint, buffer: &wgpu::Buffer) -> wgpu::BindGroup {
        let samplers = [0, 1].map(|i| self.sampler(paint.sides[i].wrap, paint.sides[i].nearest));
        let sides = [0, 1].map(|i| self.side_views(&paint.sides[i]));
        let labels = self.view_of(paint.labels, &self.blank_labels);
        let mut entries = vec![wgpu::BindGroupEntry {
            binding: 0,
            resource: wgpu::BindingResource::Buffer(wgpu::BufferBinding {
                buffer,
                offset: 0,
                size: wgpu::BufferSize::new(size_of::<SurfaceUniform>() as u64),
            }),
        }];
        let mut put = |binding: u32, resource| {
            entries.push(wgpu::BindGroupEntry { binding, resource });
        };
        for (side, first) in [(0, 1), (1, 1 + SIDE_BINDINGS)] {
            for (i, view) in (0_u32..).zip(&sides[side]) {
                put(first + i, wgpu::BindingResource::TextureView(view));
            }
            put(
                first + MOST_LAYERS as u32,
                wgpu::BindingResource::Sampler(&samplers[side]),
            );
        }
        put(LABELS_BINDING, wgpu::BindingResource::TextureView(&labels));
        self.gpu
            .device
            .create_bind_group(&wgpu::BindGroupDescriptor {
                label: Some("paint"),
                layout: &self.pipelines.paint_layout,
                entries: &entries,
            })
    }

    fn view_of(&self, id: Option<TextureId>, blank: &LayerTexture) -> wgpu::TextureView {
        id.and_then(|id| self.textures.get(&id))
            .unwrap_or(blank)
            .view
            .clone()
    }

    /// Textures of a side's layers from the lowest up, blank where there is none.
    fn side_views(&self, side: &SidePaint) -> [wgpu::TextureView; MOST_LAYERS] {
        let mut stack = side.stack();
        std::array::from_fn(|_| self.view_of(stack.next().map(|l| l.texture), &self.blank))
    }
}

/// What the pipeline has that counts the differences of such a frame.
fn measured(parts: Parts) -> Parts {
    Parts {
        rich: true,
        ..parts
    }
}

/// Group 0.
fn frame_group(
    gpu: &Gpu,
    pipelines: &Pipelines,
    frame_buffer: &wgpu::Buffer,
    band_colours: &LayerTexture,
    table: &RegionTable,
) -> wgpu::BindGroup {
    let table = table.upload(gpu);
    let view = |binding, view| wgpu::BindGroupEntry {
        binding,
        resource: wgpu::BindingResource::TextureView(view),
    };
    gpu.device.create_bind_group(&wgpu::BindGroupDescriptor {
        label: Some("frame"),
        layout: &pipelines.frame_layout,
        entries: &[
            wgpu::BindGroupEntry {
                binding: 0,
                resource: wgpu::BindingResource::Buffer(wgpu::BufferBinding {
                    buffer: frame_buffer,
                    offset: 0,
                    size: wgpu::BufferSize::new(size_of::<FrameUniform>() as u64),
                }),
            },
            view(1, &band_colours.view),
            view(2, &table),
        ],
    })
}

/// The tone maps, a row of 256 texels each.
fn band_colours(gpu: &Gpu) -> LayerTexture {
    let rows: Vec<u8> = ToneMap::ALL
        .iter()
        .flat_map(|map| map.colours())
        .flat_map(|c| [c[0], c[1], c[2], 255])
        .collect();
    match texture::colour_table(gpu, [256, ToneMap::ALL.len() as u32], &rows) {
        Ok(layer) => layer,
        Err(error) => unreachable!("256 × 4 texels fit every device: {error}"),
    }
}
