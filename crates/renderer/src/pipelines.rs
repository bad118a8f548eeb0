//! Pipelines and the layouts of their bind groups.

use crate::frame::FrameUniform;
use crate::geometry::VERTEX_BUFFERS;
use crate::paint::{MOST_LAYERS, SurfaceUniform};

/// Depth of the object's passes. Near planes are set so that its 24 bits are enough (`camera` of the viewer);
/// four samples of it are less to write than those of 32 bits.
pub(crate) const DEPTH: wgpu::TextureFormat = wgpu::TextureFormat::Depth24Plus;

/// A shader module from linked WGSL.
pub(crate) fn module(
    device: &wgpu::Device,
    label: &str,
    source: &'static str,
) -> wgpu::ShaderModule {
    device.create_shader_module(wgpu::ShaderModuleDescriptor {
        label: Some(label),
        source: wgpu::ShaderSource::Wgsl(source.into()),
    })
}

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

/// What of the shader a pipeline has: constants of `shaders/draw/surface.wgsl` and `lib/tiles.wgsl`.
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
    /// Of a vertex only its place and its first UVs: not with light or rich.
    pub(crate) plain: bool,
    /// All images of both sides have one size and lie alike.
    pub(crate) alike: bool,
    /// Triangles seen from behind are left out.
    pub(crate) fronts: bool,
}

/// Everything drawn with.
#[derive(Debug)]
pub(crate) struct Pipelines {
    pub(crate) frame_layout: wgpu::BindGroupLayout,
    pub(crate) paint_layout: wgpu::BindGroupLayout,
    pub(crate) mix_layout: wgpu::BindGroupLayout,
    pub(crate) divider: wgpu::RenderPipeline,
    pub(crate) mix: wgpu::RenderPipeline,
    surface: wgpu::ShaderModule,
    surface_layout: wgpu::PipelineLayout,
    format: wgpu::TextureFormat,
    sample_count: u32,
    /// Made when first needed.
    objects: Vec<(Use, Parts, wgpu::RenderPipeline)>,
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
        let surface = module(
            device,
            "surface",
            include_str!(concat!(env!("OUT_DIR"), "/draw_surface.wgsl")),
        );
        let divider = module(
            device,
            "divider",
            include_str!(concat!(env!("OUT_DIR"), "/draw_divider.wgsl")),
        );
        let mix = module(
            device,
            "mix",
            include_str!(concat!(env!("OUT_DIR"), "/draw_mix.wgsl")),
        );
        let layout = |groups: &[Option<&wgpu::BindGroupLayout>]| {
            device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
                label: None,
                bind_group_layouts: groups,
                immediate_size: 0,
            })
        };
        let surface_layout = layout(&[Some(&frame_layout), Some(&paint_layout), Some(tile_layout)]);
        let divider_layout = layout(&[Some(&frame_layout)]);
        let mix_pipeline_layout = layout(&[Some(&frame_layout), Some(&mix_layout)]);
        Self {
            divider: self_made_pipeline(
                device,
                "divider",
                &divider,
                Some(&divider_layout),
                wgpu::PrimitiveTopology::TriangleStrip,
                format,
                Some(sample_count),
            ),
            mix: self_made_pipeline(
                device,
                "mix",
                &mix,
                Some(&mix_pipeline_layout),
                wgpu::PrimitiveTopology::TriangleList,
                format,
                None,
            ),
            frame_layout,
            paint_layout,
            mix_layout,
            surface,
            surface_layout,
            format,
            sample_count,
            objects: Vec::new(),
        }
    }

    /// Makes a pipeline of the object, unless it is there.
    pub(crate) fn prepare(&mut self, device: &wgpu::Device, kind: Use, parts: Parts) {
        if self.of(kind, parts).is_none() {
            let made = self.object(device, kind, parts);
            self.objects.push((kind, parts, made));
        }
    }

    /// A pipeline that [`Pipelines::prepare`] has made.
    pub(crate) fn of(&self, kind: Use, parts: Parts) -> Option<&wgpu::RenderPipeline> {
        let mut objects = self.objects.iter();
        let found = objects.find(|(k, p, _)| (*k, *p) == (kind, parts));
        found.map(|(_, _, pipeline)| pipeline)
    }

    fn object(&self, device: &wgpu::Device, kind: Use, parts: Parts) -> wgpu::RenderPipeline {
        let flag = |on: bool| f64::from(u8::from(on));
        let constants = [
            ("TILED", flag(parts.tiled)),
            ("CONVERTED", flag(parts.converted)),
            ("DEEP", flag(parts.deep)),
            ("LIT", flag(parts.lit)),
            ("DIFFERENCE", flag(parts.difference)),
            ("RICH", flag(parts.rich)),
            ("PLAIN", flag(parts.plain)),
            ("ALIKE", flag(parts.alike)),
        ];
        let plain = parts.plain && kind != Use::Measure;
        let entry = match (kind, plain) {
            (Use::Opaque | Use::Translucent, false) => "fragment",
            (Use::Opaque | Use::Translucent, true) => "fragment_plain",
            (Use::Measure, _) => "fragment_measure",
            (Use::Wanted, false) => "fragment_wanted",
            (Use::Wanted, true) => "fragment_wanted_plain",
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
                module: &self.surface,
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
                module: &self.surface,
                entry_point: Some(entry),
                compilation_options: wgpu::PipelineCompilationOptions {
                    constants: &constants,
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
