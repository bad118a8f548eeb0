//! Pipelines and the layouts of their bind groups.

use std::future::Future as _;
use std::task::{Context, Poll, Waker};

use crate::frame::FrameUniform;
use crate::geometry::VERTEX_BUFFERS;
use crate::paint::{MOST_LAYERS, SurfaceUniform};
use crate::shader::{OfObject, kept, module, module_of_object};

/// Depth of the object's passes. Near planes are set so that its 24 bits are enough (`camera` of the viewer);
/// four samples of it are less to write than those of 32 bits.
pub(crate) const DEPTH: wgpu::TextureFormat = wgpu::TextureFormat::Depth24Plus;

/// A pipeline whose vertex shader makes its own vertices: a triangle over the whole target, or a strip.
/// `over` is the number of samples of the object's pass, for what is drawn at the end of that.
pub(crate) fn self_made_pipeline(
    device: &wgpu::Device,
    label: &str,
    shader: &wgpu::ShaderModule,
    layout: Option<&wgpu::PipelineLayout>,
    topology: wgpu::PrimitiveTopology,
    format: wgpu::TextureFormat,
    over: Option<u32>,
) -> wgpu::RenderPipeline {
    device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
        label: Some(label),
        layout,
        vertex: wgpu::VertexState {
            module: shader,
            entry_point: Some("vertex"),
            compilation_options: Default::default(),
            buffers: &[],
        },
        primitive: wgpu::PrimitiveState {
            topology,
            ..Default::default()
        },
        depth_stencil: over.map(|_| wgpu::DepthStencilState {
            format: DEPTH,
            depth_write_enabled: Some(false),
            depth_compare: Some(wgpu::CompareFunction::Always),
            stencil: wgpu::StencilState::default(),
            bias: wgpu::DepthBiasState::default(),
        }),
        multisample: wgpu::MultisampleState {
            count: over.unwrap_or(1),
            ..Default::default()
        },
        fragment: Some(wgpu::FragmentState {
            module: shader,
            entry_point: Some("fragment"),
            compilation_options: Default::default(),
            targets: &[Some(format.into())],
        }),
        multiview_mask: None,
        cache: None,
    })
}

/// What a pipeline of the object is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Use {
    Opaque,
    Translucent,
    /// Numbers for statistics instead of colours, one sample a pixel.
    Measure,
    /// Numbers that say which tiles are needed.
    Wanted,
}

/// What of the shader a pipeline has: constants of `shaders/draw/surface.wgsl`, `lib/paint.wgsl` and `lib/tiles.wgsl`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Parts {
    /// Images cut into tiles.
    pub(crate) tiled: bool,
    /// Layers of other than sRGB colour.
    pub(crate) converted: bool,
    /// More than one layer a side.
    pub(crate) deep: bool,
    /// Light on the object.
    pub(crate) lit: bool,
    /// Differences in place of colours.
    pub(crate) difference: bool,
    /// Anything else but plain paint.
    pub(crate) rich: bool,
    /// Of a vertex only its place and its first UVs are needed: not with light or rich.
    pub(crate) plain: bool,
    /// All images of both sides have one size and lie alike.
    pub(crate) alike: bool,
    /// Triangles seen from behind are left out.
    pub(crate) fronts: bool,
}

impl Parts {
    /// Whether `shaders/draw/plain.wgsl` has all that is needed.
    fn is_plain_paint(self) -> bool {
        let more = self.converted || self.deep || self.lit || self.difference || self.rich;
        self.plain && !more
    }
}

/// A device that refuses more often is not at it: what it says then counts (a choice of ours).
const MOST_REFUSALS: u32 = 4;

/// What a pipeline draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Object(Use, Parts),
    /// The line of a swipe, the rim of a loupe.
    Divider,
    /// Two or three pictures mixed.
    Mix,
}

/// Everything drawn with.
#[derive(Debug)]
pub(crate) struct Pipelines {
    pub(crate) frame_layout: wgpu::BindGroupLayout,
    pub(crate) paint_layout: wgpu::BindGroupLayout,
    pub(crate) mix_layout: wgpu::BindGroupLayout,
    surface_layout: wgpu::PipelineLayout,
    /// The object's shaders, once something needs them.
    shaders: [Option<wgpu::ShaderModule>; 2],
    format: wgpu::TextureFormat,
    sample_count: u32,
    /// Made when first needed.
    made: Vec<(Kind, wgpu::RenderPipeline)>,
    /// What the device has not made when it was asked last, and how often it was asked.
    refused: Option<(Kind, u32)>,
}

impl Pipelines {
    pub(crate) fn new(
        device: &wgpu::Device,
        format: wgpu::TextureFormat,
        sample_count: u32,
        tile_layout: &wgpu::BindGroupLayout,
    ) -> Self {
        let frame_layout = frame_layout(device);
        let paint_layout = paint_layout(device);
        let mix_layout = mix_layout(device);
        let groups = [Some(&frame_layout), Some(&paint_layout), Some(tile_layout)];
        Self {
            surface_layout: layout_of(device, &groups),
            frame_layout,
            paint_layout,
            mix_layout,
            shaders: [None, None],
            format,
            sample_count,
            made: Vec::new(),
            refused: None,
        }
    }

    /// Makes a pipeline, unless it is there.
    pub(crate) fn prepare(&mut self, device: &wgpu::Device, kind: Kind) {
        if self.of(kind).is_none() {
            let made = self.make(device, kind);
            self.made.push((kind, made));
        }
    }

    /// As [`Pipelines::prepare`], a step at a call, for a device that may refuse at first since it is still
    /// at it: then it is asked again.
    pub(crate) fn prepare_patiently(&mut self, device: &wgpu::Device, kind: Kind) {
        let shader = shader_of(kind);
        if let Some(shader) = shader
            && self.shaders[shader as usize].is_none()
        {
            // Reading it takes about as long as all the rest.
            self.shaders[shader as usize] = Some(module_of_object(device, shader));
            return;
        }
        let before = self.refused.take();
        let asked = before.map_or(0, |(same, asked)| if same == kind { asked } else { 0 });
        if asked >= MOST_REFUSALS {
            return self.prepare(device, kind);
        }
        let scope = device.push_error_scope(wgpu::ErrorFilter::Internal);
        let made = self.make(device, kind);
        // Where it is known at once, it is known now; WebGPU makes pipelines while the page goes on.
        let mut heard = std::pin::pin!(scope.pop());
        match heard.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
            Poll::Ready(Some(_)) => {
                self.refused = Some((kind, asked + 1));
                // The library keeps a refusal as long as the module is the same.
                if let Some(shader) = shader {
                    self.shaders[shader as usize] = None;
                }
            }
            _ => self.made.push((kind, made)),
        }
    }

    /// A pipeline that was prepared.
    pub(crate) fn of(&self, kind: Kind) -> Option<&wgpu::RenderPipeline> {
        let found = self.made.iter().find(|(known, _)| *known == kind);
        found.map(|(_, pipeline)| pipeline)
    }

    fn make(&mut self, device: &wgpu::Device, kind: Kind) -> wgpu::RenderPipeline {
        let frame = Some(&self.frame_layout);
        match kind {
            Kind::Object(kind, parts) => self.object(device, kind, parts),
            Kind::Divider => {
                let shader = module(device, "divider", &kept!("draw_divider"));
                self_made_pipeline(
                    device,
                    "divider",
                    &shader,
                    Some(&layout_of(device, &[frame])),
                    wgpu::PrimitiveTopology::TriangleStrip,
                    self.format,
                    Some(self.sample_count),
                )
            }
            Kind::Mix => {
                let shader = module(device, "mix", &kept!("draw_mix"));
                self_made_pipeline(
                    device,
                    "mix",
                    &shader,
                    Some(&layout_of(device, &[frame, Some(&self.mix_layout)])),
                    wgpu::PrimitiveTopology::TriangleList,
                    self.format,
                    None,
                )
            }
        }
    }

    fn object(&mut self, device: &wgpu::Device, kind: Use, parts: Parts) -> wgpu::RenderPipeline {
        let shader = shader_of(Kind::Object(kind, parts)).unwrap_or(OfObject::Surface);
        let surface =
            self.shaders[shader as usize].get_or_insert_with(|| module_of_object(device, shader));
        let flag = |on: bool| f64::from(u8::from(on));
        let constants = [
            ("TILED", flag(parts.tiled)),
            ("ALIKE", flag(parts.alike)),
            ("CONVERTED", flag(parts.converted)),
            ("DEEP", flag(parts.deep)),
            ("LIT", flag(parts.lit)),
            ("DIFFERENCE", flag(parts.difference)),
            ("RICH", flag(parts.rich)),
            ("PLAIN", flag(parts.plain)),
        ];
        // Plain paint knows the first two only.
        let constants = match shader {
            OfObject::Plain => &constants[..2],
            OfObject::Surface => &constants[..],
        };
        let plain = parts.plain && kind != Use::Measure;
        let entry = match (kind, plain, shader) {
            (Use::Opaque | Use::Translucent, _, OfObject::Plain) => "fragment_plain",
            (Use::Opaque | Use::Translucent, true, _) => "fragment_by_place",
            (Use::Opaque | Use::Translucent, false, _) => "fragment",
            (Use::Measure, _, _) => "fragment_measure",
            (Use::Wanted, true, _) => "fragment_wanted_plain",
            (Use::Wanted, false, _) => "fragment_wanted",
        };
        let (samples, blend) = match kind {
            Use::Opaque => (self.sample_count, None),
            Use::Translucent => (self.sample_count, Some(wgpu::BlendState::ALPHA_BLENDING)),
            Use::Measure | Use::Wanted => (1, None),
        };
        device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
            label: Some("surface"),
            layout: Some(&self.surface_layout),
            vertex: wgpu::VertexState {
                module: surface,
                entry_point: Some(if plain { "vertex_plain" } else { "vertex" }),
                compilation_options: Default::default(),
                buffers: &VERTEX_BUFFERS[..if plain { 1 } else { 2 }],
            },
            // Both faces, where not known better: photogrammetry meshes are open and often turned inside out.
            primitive: wgpu::PrimitiveState {
                cull_mode: parts.fronts.then_some(wgpu::Face::Back),
                ..Default::default()
            },
            depth_stencil: Some(wgpu::DepthStencilState {
                format: DEPTH,
                depth_write_enabled: Some(blend.is_none()),
                depth_compare: Some(wgpu::CompareFunction::LessEqual),
                stencil: wgpu::StencilState::default(),
                bias: wgpu::DepthBiasState::default(),
            }),
            multisample: wgpu::MultisampleState {
                count: samples,
                ..Default::default()
            },
            fragment: Some(wgpu::FragmentState {
                module: surface,
                entry_point: Some(entry),
                compilation_options: wgpu::PipelineCompilationOptions {
                    constants,
                    ..Default::default()
                },
                targets: &[Some(wgpu::ColorTargetState {
                    format: self.format,
                    blend,
                    write_mask: if blend.is_some() {
                        wgpu::ColorWrites::COLOR
                    } else {
                        wgpu::ColorWrites::ALL
                    },
                })],
            }),
            multiview_mask: None,
            cache: None,
        })
    }
}

/// The shader of the object that a pipeline needs, if any.
fn shader_of(kind: Kind) -> Option<OfObject> {
    match kind {
        Kind::Object(Use::Measure, _) => Some(OfObject::Surface),
        Kind::Object(_, parts) if parts.is_plain_paint() => Some(OfObject::Plain),
        Kind::Object(..) => Some(OfObject::Surface),
        Kind::Divider | Kind::Mix => None,
    }
}

fn layout_of(
    device: &wgpu::Device,
    groups: &[Option<&wgpu::BindGroupLayout>],
) -> wgpu::PipelineLayout {
    device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
        label: None,
        bind_group_layouts: groups,
        immediate_size: 0,
    })
}

fn uniform_entry(binding: u32, size: usize, dynamic: bool) -> wgpu::BindGroupLayoutEntry {
    wgpu::BindGroupLayoutEntry {
        binding,
        visibility: wgpu::ShaderStages::VERTEX_FRAGMENT,
        ty: wgpu::BindingType::Buffer {
            ty: wgpu::BufferBindingType::Uniform,
            has_dynamic_offset: dynamic,
            min_binding_size: wgpu::BufferSize::new(size as u64),
        },
        count: None,
    }
}

fn texture_entry(binding: u32, sample_type: wgpu::TextureSampleType) -> wgpu::BindGroupLayoutEntry {
    wgpu::BindGroupLayoutEntry {
        binding,
        visibility: wgpu::ShaderStages::FRAGMENT,
        ty: wgpu::BindingType::Texture {
            sample_type,
            view_dimension: wgpu::TextureViewDimension::D2,
            multisampled: false,
        },
        count: None,
    }
}

pub(crate) fn sampler_entry(binding: u32) -> wgpu::BindGroupLayoutEntry {
    wgpu::BindGroupLayoutEntry {
        binding,
        visibility: wgpu::ShaderStages::FRAGMENT,
        ty: wgpu::BindingType::Sampler(wgpu::SamplerBindingType::Filtering),
        count: None,
    }
}

const FILTERED: wgpu::TextureSampleType = wgpu::TextureSampleType::Float { filterable: true };

fn frame_layout(device: &wgpu::Device) -> wgpu::BindGroupLayout {
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("frame"),
        entries: &[
            uniform_entry(0, size_of::<FrameUniform>(), true),
            texture_entry(1, FILTERED),
            texture_entry(2, wgpu::TextureSampleType::Float { filterable: false }),
        ],
    })
}

/// Bindings of group 1: the uniform, for each side its textures and their sampler, the region map.
pub(crate) const LABELS_BINDING: u32 = 2 * SIDE_BINDINGS + 1;
/// Textures and one sampler.
pub(crate) const SIDE_BINDINGS: u32 = MOST_LAYERS as u32 + 1;

fn paint_layout(device: &wgpu::Device) -> wgpu::BindGroupLayout {
    let mut entries = vec![uniform_entry(0, size_of::<SurfaceUniform>(), true)];
    for first in [1, 1 + SIDE_BINDINGS] {
        entries.extend((0..MOST_LAYERS as u32).map(|i| texture_entry(first + i, FILTERED)));
        entries.push(sampler_entry(first + MOST_LAYERS as u32));
    }
    entries.push(texture_entry(LABELS_BINDING, wgpu::TextureSampleType::Uint));
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("paint"),
        entries: &entries,
    })
}

fn mix_layout(device: &wgpu::Device) -> wgpu::BindGroupLayout {
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("mix"),
        entries: &[0, 1, 2].map(|binding| texture_entry(binding, FILTERED)),
    })
}
