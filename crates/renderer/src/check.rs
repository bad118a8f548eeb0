//! Colour arithmetic as the present device does it, so that it can be held against published values.

use crate::RendererError;
use crate::device::Gpu;
use crate::pipelines::self_made_pipeline;
use crate::readback::Readback;
use crate::shader::{kept, module};
use crate::target::{attachment, picture};
use crate::texture::float_table;

/// Units of a difference in the answer of the shader.
const UNITS: f64 = 1e5;

/// Starts computing CIEDE2000 of pairs of CIELAB colours (six numbers a pair).
///
/// # Errors
/// No pair, a broken pair, or more pairs than a texture is wide.
pub(crate) fn delta_e_2000(
    gpu: &Gpu,
    format: wgpu::TextureFormat,
    pairs: &[f32],
) -> Result<Readback, RendererError> {
    let count = (pairs.len() / 6) as u32;
    if count == 0 || !pairs.len().is_multiple_of(6) {
        return Err(RendererError::Mismatch {
            what: "the pairs of colours".to_owned(),
            detail: format!("{} numbers are not six a pair", pairs.len()),
        });
    }
    gpu.check_size("the row of pairs", count, 2)?;
    let input = upload(gpu, pairs, count);
    let shader = module(
        &gpu.device,
        "check of differences",
        &kept!("check_delta_e_2000"),
    );
    let pipeline = self_made_pipeline(
        &gpu.device,
        "check of differences",
        &shader,
        None,
        wgpu::PrimitiveTopology::TriangleList,
        format,
        None,
    );
    let group = gpu.device.create_bind_group(&wgpu::BindGroupDescriptor {
        label: Some("check of differences"),
        layout: &pipeline.get_bind_group_layout(0),
        entries: &[wgpu::BindGroupEntry {
            binding: 0,
            resource: wgpu::BindingResource::TextureView(&input),
        }],
    });
    let output = picture(gpu, [count, 1], format);
    let view = output.view();
    let mut encoder = gpu
        .device
        .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
    let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
        label: Some("check of differences"),
        color_attachments: &[Some(attachment(
            &view,
            None,
            wgpu::LoadOp::Clear(wgpu::Color::BLACK),
        ))],
        ..Default::default()
    });
    pass.set_pipeline(&pipeline);
    pass.set_bind_group(0, &group, &[]);
    pass.draw(0..3, 0..1);
    drop(pass);
    gpu.queue.submit([encoder.finish()]);
    Ok(Readback::of_texture(gpu, &output.0, [0; 3], [count, 1], 4))
}

fn upload(gpu: &Gpu, pairs: &[f32], count: u32) -> wgpu::TextureView {
    let row = |first: usize| {
        pairs
            .chunks_exact(6)
            .flat_map(move |p| [p[first], p[first + 1], p[first + 2], 0.0])
    };
    let texels: Vec<f32> = row(0).chain(row(3)).collect();
    float_table(gpu, "pairs of colours", [count, 2], &texels)
}

/// The differences in bytes as read back.
#[must_use]
pub fn differences_of(bytes: &[u8]) -> Vec<f64> {
    bytes
        .chunks_exact(4)
        .map(|p| f64::from(u32::from_le_bytes([p[0], p[1], p[2], 0])) / UNITS)
        .collect()
}
