//! Geometry, textures and paints together, and the passes that draw them.

use std::collections::BTreeMap;

use ganosis_surface::Surface;
use glam::Vec3;

use crate::RendererError;
use crate::device::Gpu;
use crate::frame::{Compare, Frame, FrameUniform, neutral_grey};
use crate::geometry::GpuPatch;
use crate::mips::MipMaker;
use crate::paint::{MOST_LAYERS, PatchPaint, Side, SidePaint, SurfaceUniform, Wrap};
use crate::pipelines::{LABELS_BINDING, Pipelines, SIDE_BINDINGS};
use crate::readback::Readback;
use crate::region_table::RegionTable;
use crate::target::{Target, attachment, picture};
use crate::texture::{self, LayerTexture, Samples, TextureId};

/// Uniform offsets are multiples of this on every backend (WebGPU, limit
/// `minUniformBufferOffsetAlignment`, default 256).
const UNIFORM_STRIDE: usize = 256;

/// How many texels along the steeper axis are averaged where a surface is seen at a slant.
const ANISOTROPY: u16 = 8;

/// Draws the object.
#[derive(Debug)]
pub struct Renderer {
    gpu: Gpu,
    format: wgpu::TextureFormat,
    sample_count: u32,
    pipelines: Pipelines,
    mips: MipMaker,
    frame_buffer: wgpu::Buffer,
    frame_group: wgpu::BindGroup,
    band_colours: LayerTexture,
    region_table: RegionTable,
    patches: Vec<GpuPatch>,
    textures: BTreeMap<TextureId, LayerTexture>,
    next_texture: u32,
    blank: LayerTexture,
    blank_labels: LayerTexture,
    samplers: BTreeMap<(Wrap, Wrap, bool), wgpu::Sampler>,
    paints: Vec<PatchPaint>,
    draws: Option<Draws>,
    target: Option<Target>,
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
        let pipelines = Pipelines::new(&gpu.device, format, sample_count);
        let mips = MipMaker::new(&gpu.device);
        let frame_buffer = gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("frame"),
            size: size_of::<FrameUniform>() as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let band_colours = band_colours(&gpu, &mips);
        let region_table = RegionTable::default();
        let frame_group = frame_group(
            &gpu,
            &pipelines,
            &frame_buffer,
            &band_colours,
            &region_table,
        );
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
            frame_group,
            band_colours,
            region_table,
            patches: Vec::new(),
            textures: BTreeMap::new(),
            next_texture: 0,
            blank,
            blank_labels,
            samplers: BTreeMap::new(),
            paints: Vec::new(),
            draws: None,
            target: None,
        }
    }

    /// The device.
    #[must_use]
    pub fn gpu(&self) -> &Gpu {
        &self.gpu
    }

    /// Replaces the geometry; positions are kept relative to `origin_m`, so that objects far from
    /// their coordinate origin keep their detail.
    pub fn set_geometry(&mut self, surface: &Surface, origin_m: Vec3) {
        let device = &self.gpu.device;
        self.patches = surface
            .patches
            .iter()
            .map(|p| GpuPatch::new(device, surface, p, origin_m))
            .collect();
        self.paints.clear();
        self.draws = None;
    }

    fn keep(&mut self, layer: LayerTexture) -> TextureId {
        let id = TextureId(self.next_texture);
        self.next_texture += 1;
        self.textures.insert(id, layer);
        id
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

    /// Sets the cover of every patch, in the order of the geometry.
    ///
    /// # Errors
    /// [`RendererError::Mismatch`] when there are not as many paints as patches.
    pub fn set_paints(&mut self, paints: Vec<PatchPaint>) -> Result<(), RendererError> {
        if paints.len() != self.patches.len() {
            return Err(RendererError::Mismatch {
                what: "the paints".to_owned(),
                detail: format!("{} paints for {} patches", paints.len(), self.patches.len()),
            });
        }
        if paints != self.paints {
            self.paints = paints;
            self.draws = None;
        }
        Ok(())
    }

    /// Sets what holds for whole regions; no texture of a layer is touched.
    pub fn set_region_table(&mut self, table: RegionTable) {
        if table == self.region_table {
            return;
        }
        self.frame_group = frame_group(
            &self.gpu,
            &self.pipelines,
            &self.frame_buffer,
            &self.band_colours,
            &table,
        );
        self.region_table = table;
    }

    /// Starts reading one texel of a colour texture, at `uv` (v = 0 is the top row), repeated
    /// beyond the border. Encoded RGBA comes back.
    #[must_use]
    pub fn read_texel(&self, id: TextureId, uv: [f32; 2]) -> Option<Readback> {
        let layer = self.textures.get(&id)?;
        let texel = |x: f32, n: u32| ((x.rem_euclid(1.0) * n as f32) as u32).min(n - 1);
        let origin = [texel(uv[0], layer.size[0]), texel(uv[1], layer.size[1])];
        Some(Readback::of_texture(
            &self.gpu,
            &layer.texture,
            origin,
            [1, 1],
            4,
        ))
    }

    /// Draws `frame` to a view of the given size.
    pub fn draw(&mut self, frame: &Frame, view: &wgpu::TextureView, width_px: u32, height_px: u32) {
        let size = [width_px, height_px];
        if self.draws.is_none() {
            self.draws = Some(self.build_draws());
        }
        let target = match self.target.take() {
            Some(target) if target.size == size => target,
            _ => Target::new(&self.gpu, size, self.format, self.sample_count),
        };
        let parts_differ = self
            .paints
            .iter()
            .any(|p| p.sides[0].shown != p.sides[1].shown);
        match frame.compare {
            Compare::Blend { .. } if parts_differ => self.draw_mixed(frame, view, &target),
            _ => self.draw_once(frame, view, &target),
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
        self.gpu.check_size("the picture", width_px, height_px)?;
        let texture = picture(&self.gpu, [width_px, height_px], self.format);
        let kept = self.target.take();
        self.draw(
            frame,
            &texture.create_view(&wgpu::TextureViewDescriptor::default()),
            width_px,
            height_px,
        );
        self.target = kept;
        Ok(Readback::of_texture(
            &self.gpu,
            &texture,
            [0, 0],
            [width_px, height_px],
            4,
        ))
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
        if self.draws.is_none() {
            self.draws = Some(self.build_draws());
        }
        let texture = picture(&self.gpu, size, self.format);
        let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
        let target = Target::new(&self.gpu, size, self.format, 1);
        self.write_frame(frame, size);
        let mut encoder = self
            .gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let nothing = wgpu::LoadOp::Clear(wgpu::Color::WHITE);
        let mut pass = begin_object_pass(&mut encoder, attachment(&view, None, nothing), &target);
        pass.set_pipeline(&self.pipelines.measure);
        self.draw_patches(&mut pass, &|paint| paint.sides.iter().all(|s| s.shown));
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
        Ok(Readback::of_texture(&self.gpu, &texture, [0, 0], size, 4))
    }

    /// Starts computing CIEDE2000 of pairs of CIELAB colours (six numbers a pair) on this device; see
    /// [`crate::check::differences_of`].
    ///
    /// # Errors
    /// No pair, a broken pair, or more pairs than a texture is wide.
    pub fn check_delta_e_2000(&self, pairs: &[f32]) -> Result<Readback, RendererError> {
        crate::check::delta_e_2000(&self.gpu, self.format, pairs)
    }

    /// Draws those patches that `wanted` names, with whatever pipeline is set.
    fn draw_patches(&self, pass: &mut wgpu::RenderPass<'_>, wanted: &dyn Fn(&PatchPaint) -> bool) {
        let Some(draws) = &self.draws else { return };
        pass.set_bind_group(0, &self.frame_group, &[]);
        for (i, (patch, paint)) in self.patches.iter().zip(&self.paints).enumerate() {
            if patch.index_count == 0 || !wanted(paint) {
                continue;
            }
            pass.set_bind_group(1, &draws.groups[i], &[(i * UNIFORM_STRIDE) as u32]);
            pass.set_vertex_buffer(0, patch.vertices.slice(..));
            pass.set_index_buffer(patch.indices.slice(..), wgpu::IndexFormat::Uint32);
            pass.draw_indexed(0..patch.index_count, 0, 0..1);
        }
    }

    fn write_frame(&self, frame: &Frame, size: [u32; 2]) {
        let uniform = FrameUniform::new(frame, size[0], size[1]);
        self.gpu
            .queue
            .write_buffer(&self.frame_buffer, 0, bytemuck::bytes_of(&uniform));
    }

    fn draw_once(&self, frame: &Frame, view: &wgpu::TextureView, target: &Target) {
        self.write_frame(frame, target.size);
        let mut encoder = self
            .gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        self.object_pass(&mut encoder, frame, view, target);
        if frame.divider_line && matches!(frame.compare, Compare::Swipe { .. }) {
            let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("divider"),
                color_attachments: &[Some(attachment(view, None, wgpu::LoadOp::Load))],
                ..Default::default()
            });
            pass.set_pipeline(&self.pipelines.divider);
            pass.set_bind_group(0, &self.frame_group, &[]);
            pass.draw(0..4, 0..1);
        }
        self.gpu.queue.submit([encoder.finish()]);
    }

    /// The two sides show different parts: each is drawn whole, then the pictures are mixed.
    fn draw_mixed(&self, frame: &Frame, view: &wgpu::TextureView, target: &Target) {
        let pictures = [Side::Left, Side::Right].map(|side| {
            let texture = picture(&self.gpu, target.size, self.format);
            let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
            self.draw_once(
                &Frame {
                    compare: Compare::One(side),
                    ..*frame
                },
                &view,
                target,
            );
            view
        });
        self.write_frame(frame, target.size);
        let group = self
            .gpu
            .device
            .create_bind_group(&wgpu::BindGroupDescriptor {
                label: Some("mix"),
                layout: &self.pipelines.mix_layout,
                entries: &[
                    wgpu::BindGroupEntry {
                        binding: 0,
                        resource: wgpu::BindingResource::TextureView(&pictures[0]),
                    },
                    wgpu::BindGroupEntry {
                        binding: 1,
                        resource: wgpu::BindingResource::TextureView(&pictures[1]),
                    },
                ],
            });
        let mut encoder = self
            .gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
            label: Some("mix"),
            color_attachments: &[Some(attachment(
                view,
                None,
                wgpu::LoadOp::Clear(wgpu::Color::BLACK),
            ))],
            ..Default::default()
        });
        pass.set_pipeline(&self.pipelines.mix);
        pass.set_bind_group(0, &self.frame_group, &[]);
        pass.set_bind_group(1, &group, &[]);
        pass.draw(0..3, 0..1);
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
    }

    fn object_pass(
        &self,
        encoder: &mut wgpu::CommandEncoder,
        frame: &Frame,
        view: &wgpu::TextureView,
        target: &Target,
    ) {
        let grey = f64::from(neutral_grey(frame.surround_l));
        let clear = wgpu::LoadOp::Clear(wgpu::Color {
            r: grey,
            g: grey,
            b: grey,
            a: 1.0,
        });
        let colour = match &target.samples {
            Some(samples) => attachment(samples, Some(view), clear),
            None => attachment(view, None, clear),
        };
        let mut pass = begin_object_pass(encoder, colour, target);
        for translucent in [false, true] {
            pass.set_pipeline(if translucent {
                &self.pipelines.translucent
            } else {
                &self.pipelines.opaque
            });
            self.draw_patches(&mut pass, &|paint| {
                let shown = match frame.compare {
                    Compare::One(Side::Left) => paint.sides[0].shown,
                    Compare::One(Side::Right) => paint.sides[1].shown,
                    _ => paint.sides.iter().any(|s| s.shown),
                };
                shown && paint.translucent == translucent
            });
        }
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

    fn build_draws(&mut self) -> Draws {
        let paints = self.paints.clone();
        let mut uniforms = vec![0_u8; paints.len().max(1) * UNIFORM_STRIDE];
        for (i, paint) in paints.iter().enumerate() {
            let uniform = SurfaceUniform::new(paint, self.patches[i].has_colours);
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
                resource: frame_buffer.as_entire_binding(),
            },
            view(1, &band_colours.view),
            view(2, &table),
        ],
    })
}

fn begin_object_pass<'a>(
    encoder: &'a mut wgpu::CommandEncoder,
    colour: wgpu::RenderPassColorAttachment<'_>,
    target: &Target,
) -> wgpu::RenderPass<'a> {
    encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
        label: Some("object"),
        color_attachments: &[Some(colour)],
        depth_stencil_attachment: Some(wgpu::RenderPassDepthStencilAttachment {
            view: &target.depth,
            depth_ops: Some(wgpu::Operations {
                load: wgpu::LoadOp::Clear(1.0),
                store: wgpu::StoreOp::Discard,
            }),
            stencil_ops: None,
        }),
        ..Default::default()
    })
}

/// The band map as a row of 256 texels.
fn band_colours(gpu: &Gpu, mips: &MipMaker) -> LayerTexture {
    let row: Vec<u8> = ganosis_colorimetry::band_map()
        .iter()
        .flat_map(|c| [c[0], c[1], c[2], 255])
        .collect();
    match texture::colour_from_bytes(gpu, mips, [256, 1], &row) {
        Ok(layer) => layer,
        Err(error) => unreachable!("256 × 1 texels fit every device: {error}"),
    }
}
