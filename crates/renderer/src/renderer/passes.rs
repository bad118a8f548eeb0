//! The passes that draw a frame.

use super::{PAIRS, Renderer, UNIFORM_STRIDE};
use crate::frame::{Compare, Frame, FrameUniform, WHOLE, neutral_grey, shared};
use crate::paint::{PatchPaint, Side};
use crate::pipelines::{Kind, Use};
use crate::readback::Readback;

use crate::target::{Picture, Target, attachment, picture};

impl Renderer {
    /// Draws those patches that `wanted` names, with a pipeline that is prepared.
    fn draw_patches(
        &self,
        pass: &mut wgpu::RenderPass<'_>,
        kind: Use,
        Drawn { pair, place }: Drawn,
        wanted: &dyn Fn(&PatchPaint) -> bool,
    ) {
        let pair = &self.pairs[pair];
        let pipeline = self.pipelines.of(Kind::Object(kind, self.parts));
        let (Some(draws), Some(pipeline)) = (&pair.draws, pipeline) else {
            return;
        };
        pass.set_pipeline(pipeline);
        pass.set_bind_group(0, &pair.frame_group, &[place * UNIFORM_STRIDE as u32]);
        pass.set_bind_group(2, self.tiles.group(), &[]);
        for (i, (patch, paint)) in self.patches.iter().zip(&pair.paints).enumerate() {
            if patch.index_count == 0 || !wanted(paint) {
                continue;
            }
            pass.set_bind_group(1, &draws.groups[i], &[(i * UNIFORM_STRIDE) as u32]);
            pass.set_vertex_buffer(0, patch.places.slice(..));
            pass.set_vertex_buffer(1, patch.rest.slice(..));
            pass.set_index_buffer(patch.indices.slice(..), wgpu::IndexFormat::Uint32);
            pass.draw_indexed(0..patch.index_count, 0, 0..1);
        }
    }

    pub(super) fn write_frame(&self, frame: &Frame, size: [u32; 2]) {
        self.write_uniform(0, &FrameUniform::new(frame, size[0], size[1]));
    }

    fn write_uniform(&self, place: u32, uniform: &FrameUniform) {
        let offset = u64::from(place) * UNIFORM_STRIDE as u64;
        self.gpu
            .queue
            .write_buffer(&self.frame_buffer, offset, bytemuck::bytes_of(uniform));
    }

    /// Commands for passes with this frame's uniform.
    fn begin(&self, frame: &Frame, target: &Target) -> wgpu::CommandEncoder {
        self.write_frame(frame, target.size);
        self.gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default())
    }

    /// The object with the sides of one pair, over the surround, and the divider or the rim over it.
    pub(super) fn draw_pair(
        &self,
        frame: &Frame,
        pair: usize,
        view: &wgpu::TextureView,
        target: &Target,
    ) {
        let mut encoder = self.begin(frame, target);
        let mut pass = begin_surround_pass(&mut encoder, frame, view, target);
        set_viewport(&mut pass, whole_viewport(frame, target));
        self.draw_object(&mut pass, frame, Drawn { pair, place: 0 });
        if matches!(frame.compare, Compare::Swipe { .. } | Compare::Loupe { .. }) {
            self.draw_divider(&mut pass, frame, 0);
        }
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
    }

    /// The line of a swipe's divider, or the rim of a loupe, over what a pass has drawn: in a pass of its
    /// own samples would be stored and loaded again.
    fn draw_divider(&self, pass: &mut wgpu::RenderPass<'_>, frame: &Frame, place: u32) {
        let line = self.pipelines.of(Kind::Divider);
        let Some(pipeline) = line.filter(|_| frame.divider_line) else {
            return;
        };
        pass.set_pipeline(pipeline);
        let offset = place * UNIFORM_STRIDE as u32;
        pass.set_bind_group(0, &self.pairs[0].frame_group, &[offset]);
        pass.draw(0..4, 0..1);
    }

    /// Strips beside one another: those of the first pair up to the second divider, then the others, and
    /// the dividers over both.
    pub(super) fn draw_strips(
        &self,
        frame: &Frame,
        positions: [f32; 3],
        angle_rad: f32,
        view: &wgpu::TextureView,
        target: &Target,
    ) {
        let swipe = |position: f32, within: [f32; 2]| Frame {
            compare: Compare::Swipe {
                position,
                angle_rad,
                within,
            },
            ..*frame
        };
        let [first, second, third] = positions;
        let halves = [
            swipe(first, [WHOLE[0], second]),
            swipe(third, [second, WHOLE[1]]),
        ];
        let mut encoder = self.begin(frame, target);
        let mut pass = begin_surround_pass(&mut encoder, frame, view, target);
        set_viewport(&mut pass, whole_viewport(frame, target));
        let mut place = 0;
        let [width, height] = target.size;
        for (pair, half) in halves.iter().enumerate() {
            self.write_uniform(place, &FrameUniform::new(half, width, height));
            self.draw_object(&mut pass, half, Drawn { pair, place });
            place += 1;
        }
        for position in positions.into_iter().filter(|p| *p <= 1.0) {
            let line = swipe(position, WHOLE);
            self.write_uniform(place, &FrameUniform::new(&line, width, height));
            self.draw_divider(&mut pass, &line, place);
            place += 1;
        }
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
    }

    /// Each of two or three sides is drawn whole, then the pictures are mixed.
    pub(super) fn draw_mixed(
        &self,
        frame: &Frame,
        count: usize,
        view: &wgpu::TextureView,
        target: &Target,
    ) {
        const SIDES: [(usize, Side); 3] = [(0, Side::Left), (0, Side::Right), (1, Side::Left)];
        let drawn: Vec<Picture> = SIDES[..count]
            .iter()
            .map(|(pair, side)| {
                let picture = picture(&self.gpu, target.size, self.format);
                let whole = Frame {
                    compare: Compare::One(*side),
                    ..*frame
                };
                self.draw_pair(&whole, *pair, &picture.view(), target);
                picture
            })
            .collect();
        let mut pictures: Vec<wgpu::TextureView> = drawn.iter().map(Picture::view).collect();
        // A share of nothing is left of the one that is not there.
        pictures.resize(SIDES.len(), pictures[0].clone());
        self.write_frame(frame, target.size);
        let entries: Vec<wgpu::BindGroupEntry<'_>> = (0..)
            .zip(&pictures)
            .map(|(binding, picture)| wgpu::BindGroupEntry {
                binding,
                resource: wgpu::BindingResource::TextureView(picture),
            })
            .collect();
        let group = self
            .gpu
            .device
            .create_bind_group(&wgpu::BindGroupDescriptor {
                label: Some("mix"),
                layout: &self.pipelines.mix_layout,
                entries: &entries,
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
        let Some(pipeline) = self.pipelines.of(Kind::Mix) else {
            return;
        };
        pass.set_pipeline(pipeline);
        pass.set_bind_group(0, &self.pairs[0].frame_group, &[0]);
        pass.set_bind_group(1, &group, &[]);
        pass.draw(0..3, 0..1);
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
    }

    /// Each pane with one side whole, in one pass: samples are loaded and resolved once; `frame` has the
    /// camera of one pane.
    pub(super) fn draw_panes(
        &self,
        frame: &Frame,
        grid: [u32; 2],
        view: &wgpu::TextureView,
        target: &Target,
    ) {
        let (whole, origin) = frame
            .cut
            .map_or((target.size, [0, 0]), |c| (c.whole_px, c.origin_px));
        let mut encoder = self
            .gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let mut pass = begin_surround_pass(&mut encoder, frame, view, target);
        for number in 0..(grid[0] * grid[1]).min(2 * PAIRS as u32) {
            let pane = pane_rect(whole, grid, number);
            let [x, y, width, height] = shared(pane, origin, target.size);
            if width == 0 || height == 0 {
                continue;
            }
            let side = if number % 2 == 0 {
                Side::Left
            } else {
                Side::Right
            };
            let one = Frame {
                compare: Compare::One(side),
                ..*frame
            };
            let uniform = FrameUniform::new(&one, target.size[0], target.size[1]);
            self.write_uniform(number, &uniform.cut_from(frame.cut, pane, target.size));
            let seen = [x - origin[0], y - origin[1], width, height];
            let viewport = frame.cut.map(|c| c.viewport(pane, target.size));
            set_viewport(&mut pass, Some(viewport.unwrap_or(seen.map(|v| v as f32))));
            pass.set_scissor_rect(seen[0], seen[1], seen[2], seen[3]);
            let drawn = Drawn {
                pair: number as usize / 2,
                place: number,
            };
            self.draw_object(&mut pass, &one, drawn);
        }
        // OpenGL ES 3.0, 4.3.3: samples are resolved within the scissor only.
        pass.set_scissor_rect(0, 0, target.size[0], target.size[1]);
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
    }

    /// Draws numbers instead of colours, with a pipeline that is prepared, to a picture of its own, and
    /// starts reading it: white is where nothing is.
    pub(super) fn draw_numbers(
        &self,
        frame: &Frame,
        kind: Use,
        size: [u32; 2],
        wanted: &dyn Fn(&PatchPaint) -> bool,
    ) -> Readback {
        let picture = picture(&self.gpu, size, self.format);
        let view = picture.view();
        let target = Target::new(&self.gpu, size, self.format, 1);
        let mut encoder = self.begin(frame, &target);
        let nothing = wgpu::LoadOp::Clear(wgpu::Color::WHITE);
        let mut pass = begin_object_pass(&mut encoder, attachment(&view, None, nothing), &target);
        set_viewport(&mut pass, whole_viewport(frame, &target));
        self.draw_patches(&mut pass, kind, Drawn { pair: 0, place: 0 }, wanted);
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
        Readback::of_texture(&self.gpu, &picture.0, [0; 3], size, 4)
    }

    /// Everything of the object that the sides of a pair show, what is translucent last.
    fn draw_object(&self, pass: &mut wgpu::RenderPass<'_>, frame: &Frame, drawn: Drawn) {
        for translucent in [false, true] {
            let kind = if translucent {
                Use::Translucent
            } else {
                Use::Opaque
            };
            self.draw_patches(pass, kind, drawn, &|paint| {
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

/// Which of the object is drawn.
#[derive(Clone, Copy, Debug)]
struct Drawn {
    /// Whose sides.
    pair: usize,
    /// Where the frame's uniform lies in its buffer, in strides.
    place: u32,
}

/// Of a part of a picture without panes.
fn whole_viewport(frame: &Frame, target: &Target) -> Option<[f32; 4]> {
    let cut = frame.cut?;
    Some(cut.viewport([0, 0, cut.whole_px[0], cut.whole_px[1]], target.size))
}

fn set_viewport(pass: &mut wgpu::RenderPass<'_>, viewport: Option<[f32; 4]>) {
    if let Some([x, y, width, height]) = viewport {
        pass.set_viewport(x, y, width, height, 0.0, 1.0);
    }
}

/// The pane `number` of a grid over a target, row by row from the top left.
fn pane_rect(size: [u32; 2], grid: [u32; 2], number: u32) -> [u32; 4] {
    let at = [number % grid[0].max(1), number / grid[0].max(1)];
    let edge = |axis: usize, i: u32| size[axis] * i / grid[axis].max(1);
    let [x, y] = [0, 1].map(|axis| edge(axis, at[axis]).min(size[axis] - 1));
    let [right, bottom] = [0, 1].map(|axis| edge(axis, at[axis] + 1).min(size[axis]));
    [x, y, (right - x).max(1), (bottom - y).max(1)]
}

/// A pass over the surround.
fn begin_surround_pass<'a>(
    encoder: &'a mut wgpu::CommandEncoder,
    frame: &Frame,
    view: &wgpu::TextureView,
    target: &Target,
) -> wgpu::RenderPass<'a> {
    let grey = f64::from(neutral_grey(frame.surround_l));
    let surround = wgpu::LoadOp::Clear(wgpu::Color {
        r: grey,
        g: grey,
        b: grey,
        a: 1.0,
    });
    let colour = match &target.samples {
        Some(samples) => attachment(samples, Some(view), surround),
        None => attachment(view, None, surround),
    };
    begin_object_pass(encoder, colour, target)
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
