//! Mip chains of colour textures, averaged in linear light by the GPU.

use std::cell::OnceCell;

use crate::device::Gpu;
use crate::pipelines::self_made_pipeline;
use crate::shader::{kept, module};
use crate::target::attachment;

/// Draws each level from the one above.
#[derive(Debug, Default)]
pub(crate) struct MipMaker {
    /// Made when first needed: a browser that has WebGL 2 waits for it.
    made: OnceCell<Made>,
}

#[derive(Debug)]
struct Made {
    pipeline: wgpu::RenderPipeline,
    sampler: wgpu::Sampler,
}

impl Made {
    fn new(device: &wgpu::Device) -> Self {
        let shader = module(device, "mip", &kept!("draw_mip"));
        Self {
            pipeline: self_made_pipeline(
                device,
                "mip",
                &shader,
                None,
                wgpu::PrimitiveTopology::TriangleList,
                wgpu::TextureFormat::Rgba8UnormSrgb,
                None,
            ),
            sampler: device.create_sampler(&wgpu::SamplerDescriptor {
                mag_filter: wgpu::FilterMode::Linear,
                min_filter: wgpu::FilterMode::Linear,
                ..Default::default()
            }),
        }
    }
}

impl MipMaker {
    /// Makes what is drawn with, unless it is there.
    pub(crate) fn prepare(&self, device: &wgpu::Device) {
        self.made.get_or_init(|| Made::new(device));
    }

    /// Fills the levels below the first.
    pub(crate) fn fill(&self, gpu: &Gpu, texture: &wgpu::Texture) {
        if texture.mip_level_count() == 1 {
            return;
        }
        let Made { pipeline, sampler } = self.made.get_or_init(|| Made::new(&gpu.device));
        let mut encoder = gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let level_view = |level| {
            texture.create_view(&wgpu::TextureViewDescriptor {
                base_mip_level: level,
                mip_level_count: Some(1),
                ..Default::default()
            })
        };
        for level in 1..texture.mip_level_count() {
            let above = level_view(level - 1);
            let bind_group = gpu.device.create_bind_group(&wgpu::BindGroupDescriptor {
                label: Some("mip"),
                layout: &pipeline.get_bind_group_layout(0),
                entries: &[
                    wgpu::BindGroupEntry {
                        binding: 0,
                        resource: wgpu::BindingResource::TextureView(&above),
                    },
                    wgpu::BindGroupEntry {
                        binding: 1,
                        resource: wgpu::BindingResource::Sampler(sampler),
                    },
                ],
            });
            let view = level_view(level);
            let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("mip"),
                color_attachments: &[Some(attachment(
                    &view,
                    None,
                    wgpu::LoadOp::Clear(wgpu::Color::BLACK),
                ))],
                ..Default::default()
            });
            pass.set_pipeline(pipeline);
            pass.set_bind_group(0, &bind_group, &[]);
            pass.draw(0..3, 0..1);
        }
        gpu.queue.submit([encoder.finish()]);
    }
}
