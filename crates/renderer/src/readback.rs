//! Bytes back from the GPU without blocking.

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

use crate::device::Gpu;

const WAITING: u8 = 0;
const MAPPED: u8 = 1;
const FAILED: u8 = 2;

/// Bytes on their way back. Ask [`Readback::take`] from a timer: on WebGL 2 the answer comes only
/// from a poll in a later task.
#[derive(Debug)]
pub struct Readback {
    buffer: wgpu::Buffer,
    state: Arc<AtomicU8>,
    row_bytes: usize,
    padded_row_bytes: usize,
    swap_red_blue: bool,
}

impl Drop for Readback {
    fn drop(&mut self) {
        // A picture's size, which would wait for the next collection of garbage.
        self.buffer.destroy();
    }
}

impl Readback {
    /// Copies a rectangle of a texture's first level, from a column, row and layer; `texel_bytes` a texel.
    pub(crate) fn of_texture(
        gpu: &Gpu,
        texture: &wgpu::Texture,
        origin: [u32; 3],
        size: [u32; 2],
        texel_bytes: u32,
    ) -> Self {
        let row = size[0] * texel_bytes;
        let padded =
            row.div_ceil(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT) * wgpu::COPY_BYTES_PER_ROW_ALIGNMENT;
        let buffer = gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("readback"),
            size: u64::from(padded) * u64::from(size[1]),
            usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
            mapped_at_creation: false,
        });
        let mut encoder = gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        encoder.copy_texture_to_buffer(
            wgpu::TexelCopyTextureInfo {
                texture,
                mip_level: 0,
                origin: wgpu::Origin3d {
                    x: origin[0],
                    y: origin[1],
                    z: origin[2],
                },
                aspect: wgpu::TextureAspect::All,
            },
            wgpu::TexelCopyBufferInfo {
                buffer: &buffer,
                layout: wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(padded),
                    rows_per_image: Some(size[1]),
                },
            },
            wgpu::Extent3d {
                width: size[0],
                height: size[1],
                depth_or_array_layers: 1,
            },
        );
        gpu.queue.submit([encoder.finish()]);
        let state = Arc::new(AtomicU8::new(WAITING));
        let flag = Arc::clone(&state);
        buffer.map_async(wgpu::MapMode::Read, .., move |result| {
            flag.store(
                if result.is_ok() { MAPPED } else { FAILED },
                Ordering::Release,
            );
        });
        let swap_red_blue = matches!(
            texture.format(),
            wgpu::TextureFormat::Bgra8Unorm | wgpu::TextureFormat::Bgra8UnormSrgb
        );
        Self {
            buffer,
            state,
            row_bytes: row as usize,
            padded_row_bytes: padded as usize,
            swap_red_blue,
        }
    }

    /// The rows without padding, once they are here; `Some(None)` when the device refused or is lost.
    pub fn take(&self, gpu: &Gpu) -> Option<Option<Vec<u8>>> {
        if self.state.load(Ordering::Acquire) == WAITING
            && (gpu.is_lost() || gpu.device.poll(wgpu::PollType::Poll).is_err())
        {
            return Some(None);
        }
        match self.state.load(Ordering::Acquire) {
            WAITING => None,
            MAPPED => Some(self.rows()),
            _ => Some(None),
        }
    }

    fn rows(&self) -> Option<Vec<u8>> {
        let view = self.buffer.get_mapped_range(..).ok()?;
        let mut rows = Vec::with_capacity(view.len());
        for row in view.chunks(self.padded_row_bytes) {
            rows.extend_from_slice(&row[..self.row_bytes]);
        }
        if self.swap_red_blue {
            for texel in rows.chunks_exact_mut(4) {
                texel.swap(0, 2);
            }
        }
        Some(rows)
    }
}
