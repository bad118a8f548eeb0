//! Pictures drawn to: colour with its samples, and depth.
//!
//! A browser gives the memory of what is forgotten back when it next collects garbage, of whose size on the
//! device it knows nothing: what is drawn to and done with is destroyed, once the device is through with it
//! (WebGPU, 6.1.2 `destroy()`: what was submitted before goes on).

use crate::device::Gpu;
use crate::pipelines::DEPTH;

/// Attachments of one size.
#[derive(Debug)]
pub(crate) struct Target {
    pub(crate) size: [u32; 2],
    /// Several samples a pixel, resolved at the end; none draws straight to the result.
    pub(crate) samples: Option<wgpu::TextureView>,
    pub(crate) depth: wgpu::TextureView,
    textures: [Option<wgpu::Texture>; 2],
}

impl Drop for Target {
    fn drop(&mut self) {
        self.textures
            .iter()
            .flatten()
            .for_each(wgpu::Texture::destroy);
    }
}

impl Target {
    pub(crate) fn new(
        gpu: &Gpu,
        size: [u32; 2],
        format: wgpu::TextureFormat,
        sample_count: u32,
    ) -> Self {
        let attachment = |label: &str, format| {
            gpu.device.create_texture(&wgpu::TextureDescriptor {
                label: Some(label),
                size: wgpu::Extent3d {
                    width: size[0],
                    height: size[1],
                    depth_or_array_layers: 1,
                },
                mip_level_count: 1,
                sample_count,
                dimension: wgpu::TextureDimension::D2,
                format,
                usage: wgpu::TextureUsages::RENDER_ATTACHMENT,
                view_formats: &[],
            })
        };
        let view = |texture: &wgpu::Texture| texture.create_view(&Default::default());
        let samples = (sample_count > 1).then(|| attachment("samples", format));
        let depth = attachment("depth", DEPTH);
        Self {
            size,
            samples: samples.as_ref().map(view),
            depth: view(&depth),
            textures: [samples, Some(depth)],
        }
    }
}

/// A finished picture, there until it has been submitted what it is needed for.
#[derive(Debug)]
pub(crate) struct Picture(pub(crate) wgpu::Texture);

impl Drop for Picture {
    fn drop(&mut self) {
        self.0.destroy();
    }
}

impl Picture {
    pub(crate) fn view(&self) -> wgpu::TextureView {
        self.0.create_view(&wgpu::TextureViewDescriptor::default())
    }
}

/// A finished picture that can be read by a shader and copied.
pub(crate) fn picture(gpu: &Gpu, size: [u32; 2], format: wgpu::TextureFormat) -> Picture {
    Picture(gpu.device.create_texture(&wgpu::TextureDescriptor {
        label: Some("picture"),
        size: wgpu::Extent3d {
            width: size[0],
            height: size[1],
            depth_or_array_layers: 1,
        },
        mip_level_count: 1,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format,
        usage: wgpu::TextureUsages::RENDER_ATTACHMENT
            | wgpu::TextureUsages::COPY_SRC
            | wgpu::TextureUsages::TEXTURE_BINDING,
        view_formats: &[],
    }))
}

/// Colour drawn to `view` and kept, or to several samples of which only what they resolve to is kept.
pub(crate) fn attachment<'a>(
    view: &'a wgpu::TextureView,
    resolve_target: Option<&'a wgpu::TextureView>,
    load: wgpu::LoadOp<wgpu::Color>,
) -> wgpu::RenderPassColorAttachment<'a> {
    wgpu::RenderPassColorAttachment {
        view,
        depth_slice: None,
        resolve_target,
        ops: wgpu::Operations {
            load,
            store: match resolve_target {
                Some(_) => wgpu::StoreOp::Discard,
                None => wgpu::StoreOp::Store,
            },
        },
    }
}
