//! The passes that draw a frame.

use super::{PAIRS, Renderer, UNIFORM_STRIDE};
use crate::frame::{Compare, Frame, FrameUniform, neutral_grey};
use crate::paint::{PatchPaint, Side};

use crate::target::{Target, attachment, picture};

impl Renderer {
    /// Draws those patches that `wanted` names, with whatever pipeline is set.
    pub(super) fn draw_patches(
        &self,
        pass: &mut wgpu::RenderPass<'_>,
        pair: usize,
        wanted: &dyn Fn(&PatchPaint) -> bool,
    ) {
        let pair = &self.pairs[pair];
        let Some(draws) = &pair.draws else { return };
        pass.set_bind_group(0, &pair.frame_group, &[]);
        for (i, (patch, paint)) in self.patches.iter().zip(&pair.paints).enumerate() {
            if patch.index_count == 0 || !wanted(paint) {
                continue;
            }
            pass.set_bind_group(1, &draws.groups[i], &[(i * UNIFORM_STRIDE) as u32]);
            pass.set_vertex_buffer(0, patch.vertices.slice(..));
            pass.set_index_buffer(patch.indices.slice(..), wgpu::IndexFormat::Uint32);
            pass.draw_indexed(0..patch.index_count, 0, 0..1);
        }
    }

    pub(super) fn write_frame(&self, frame: &Frame, size: [u32; 2]) {
        let uniform = FrameUniform::new(frame, size[0], size[1]);
        self.gpu
            .queue
            .write_buffer(&self.frame_buffer, 0, bytemuck::bytes_of(&uniform));
    }

    pub(super) fn draw_once(&self, frame: &Frame, view: &wgpu::TextureView, target: &Target) {
        self.write_frame(frame, target.size);
        let mut encoder = self
            .gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        self.object_pass(&mut encoder, frame, 0, None, view, target);
        let divided = matches!(frame.compare, Compare::Swipe { .. } | Compare::Loupe { .. });
        if frame.divider_line && divided {
            let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("divider"),
                color_attachments: &[Some(attachment(view, None, wgpu::LoadOp::Load))],
                ..Default::default()
            });
            pass.set_pipeline(&self.pipelines.divider);
            pass.set_bind_group(0, &self.pairs[0].frame_group, &[]);
            pass.draw(0..4, 0..1);
        }
        self.gpu.queue.submit([encoder.finish()]);
    }

    /// The two sides show different parts: each is drawn whole, then the pictures are mixed.
    pub(super) fn draw_mixed(&self, frame: &Frame, view: &wgpu::TextureView, target: &Target) {
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
        pass.set_bind_group(0, &self.pairs[0].frame_group, &[]);
        pass.set_bind_group(1, &group, &[]);
        pass.draw(0..3, 0..1);
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
    }

    /// Each pane by itself, one side whole; `frame` has the camera of one pane.
    pub(super) fn draw_panes(
        &self,
        frame: &Frame,
        grid: [u32; 2],
        view: &wgpu::TextureView,
        target: &Target,
    ) {
        for number in 0..(grid[0] * grid[1]).min(2 * PAIRS as u32) {
            let side = if number % 2 == 0 {
                Side::Left
            } else {
                Side::Right
            };
            let one = Frame {
                compare: Compare::One(side),
                ..*frame
            };
            self.write_frame(&one, target.size);
            let mut encoder = self
                .gpu
                .device
                .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
            let pane = Pane {
                rect: pane_rect(target.size, grid, number),
                first: number == 0,
            };
            let pair = number as usize / 2;
            self.object_pass(&mut encoder, &one, pair, Some(pane), view, target);
            self.gpu.queue.submit([encoder.finish()]);
        }
    }

    fn object_pass(
        &self,
        encoder: &mut wgpu::CommandEncoder,
        frame: &Frame,
        pair: usize,
        pane: Option<Pane>,
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
        let load = match pane {
            Some(Pane { first: false, .. }) => wgpu::LoadOp::Load,
            _ => clear,
        };
        let colour = match &target.samples {
            Some(samples) => attachment(samples, Some(view), load),
            None => attachment(view, None, load),
        };
        let mut pass = begin_object_pass(encoder, colour, target);
        if let Some(Pane { rect, .. }) = pane {
            let [x, y, width, height] = rect;
            pass.set_viewport(x as f32, y as f32, width as f32, height as f32, 0.0, 1.0);
            pass.set_scissor_rect(x, y, width, height);
        }
        for translucent in [false, true] {
            pass.set_pipeline(if translucent {
                &self.pipelines.translucent
            } else {
                &self.pipelines.opaque
            });
            self.draw_patches(&mut pass, pair, &|paint| {
                let shown = match frame.compare {
                    Compare::One(Side::Left) => paint.sides[0].shown,
                    Compare::One(Side::Right) => paint.sides[1].shown,
                    _ => paint.sides.iter().any(|s| s.shown),
                };
                shown && paint.translucent == translucent
            });
        }
    }
}

/// Where one pane lies on the target, and whether it is the first to be drawn.
#[derive(Clone, Copy, Debug)]
struct Pane {
    /// x, y, width, height (px).
    rect: [u32; 4],
    first: bool,
}

/// The pane `number` of a grid over a target, row by row from the top left.
fn pane_rect(size: [u32; 2], grid: [u32; 2], number: u32) -> [u32; 4] {
    let at = [number % grid[0].max(1), number / grid[0].max(1)];
    let edge = |axis: usize, i: u32| size[axis] * i / grid[axis].max(1);
    let [x, y] = [0, 1].map(|axis| edge(axis, at[axis]).min(size[axis] - 1));
    let [right, bottom] = [0, 1].map(|axis| edge(axis, at[axis] + 1).min(size[axis]));
    [x, y, (right - x).max(1), (bottom - y).max(1)]
}

pub(super) fn begin_object_pass<'a>(
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
