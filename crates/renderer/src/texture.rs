//! Textures of layers and region maps.

use crate::RendererError;
use crate::device::Gpu;
use crate::mips::MipMaker;

/// Handle of a texture in a [`crate::Renderer`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TextureId(pub u32);

/// The texels of a band image, a row after the other from the top.
#[derive(Clone, Copy, Debug)]
pub enum Samples<'a> {
    /// 8 bits a texel.
    Eight(&'a [u8]),
    /// 16 bits a texel.
    Sixteen(&'a [u16]),
}

/// A texture with what is needed to read it back.
#[derive(Debug)]
pub(crate) struct LayerTexture {
    pub(crate) texture: wgpu::Texture,
    pub(crate) view: wgpu::TextureView,
    pub(crate) size: [u32; 2],
}

fn mip_levels(width: u32, height: u32) -> u32 {
    32 - width.max(height).leading_zeros()
}

fn make(
    gpu: &Gpu,
    label: &str,
    size: [u32; 2],
    levels: u32,
    format: wgpu::TextureFormat,
    usage: wgpu::TextureUsages,
) -> LayerTexture {
    let texture = gpu.device.create_texture(&wgpu::TextureDescriptor {
        label: Some(label),
        size: wgpu::Extent3d {
            width: size[0],
            height: size[1],
            depth_or_array_layers: 1,
        },
        mip_level_count: levels,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format,
        usage: usage
            | wgpu::TextureUsages::TEXTURE_BINDING
            | wgpu::TextureUsages::COPY_DST
            | wgpu::TextureUsages::COPY_SRC,
        view_formats: &[],
    });
    let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
    LayerTexture {
        texture,
        view,
        size,
    }
}

fn write(
    gpu: &Gpu,
    texture: &wgpu::Texture,
    level: u32,
    size: [u32; 2],
    texel_bytes: u32,
    bytes: &[u8],
) {
    gpu.queue.write_texture(
        wgpu::TexelCopyTextureInfo {
            texture,
            mip_level: level,
            origin: wgpu::Origin3d::ZERO,
            aspect: wgpu::TextureAspect::All,
        },
        bytes,
        wgpu::TexelCopyBufferLayout {
            offset: 0,
            bytes_per_row: Some(size[0] * texel_bytes),
            rows_per_image: Some(size[1]),
        },
        wgpu::Extent3d {
            width: size[0],
            height: size[1],
            depth_or_array_layers: 1,
        },
    );
}

/// Colour is kept encoded; the hardware decodes it when it samples, so that filtering happens in
/// linear light (IEC 61966-2-1; Display P3 has the same curve).
pub(crate) const COLOUR: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8UnormSrgb;

fn empty_colour(gpu: &Gpu, size: [u32; 2], levels: u32) -> LayerTexture {
    make(
        gpu,
        "colour layer",
        size,
        levels,
        COLOUR,
        wgpu::TextureUsages::RENDER_ATTACHMENT,
    )
}

/// Colours that are read by the texel and never filtered, from encoded RGBA bytes.
pub(crate) fn colour_table(
    gpu: &Gpu,
    size: [u32; 2],
    rgba: &[u8],
) -> Result<LayerTexture, RendererError> {
    encoded(gpu, "the table of colours", size, 1, rgba)
}

/// A colour image from encoded RGBA bytes.
pub(crate) fn colour_from_bytes(
    gpu: &Gpu,
    mips: &MipMaker,
    size: [u32; 2],
    rgba: &[u8],
) -> Result<LayerTexture, RendererError> {
    let layer = encoded(gpu, "the image", size, mip_levels(size[0], size[1]), rgba)?;
    mips.fill(gpu, &layer.texture);
    Ok(layer)
}

/// Encoded RGBA bytes as the first of so many levels.
fn encoded(
    gpu: &Gpu,
    what: &'static str,
    size: [u32; 2],
    levels: u32,
    rgba: &[u8],
) -> Result<LayerTexture, RendererError> {
    gpu.check_size(what, size[0], size[1])?;
    expect_length(what, rgba.len(), size, 4)?;
    let layer = empty_colour(gpu, size, levels);
    write(gpu, &layer.texture, 0, size, 4, rgba);
    Ok(layer)
}

/// A colour image that the browser has decoded; its code values go to the GPU unchanged.
#[cfg(target_arch = "wasm32")]
pub(crate) fn colour_from_bitmap(
    gpu: &Gpu,
    mips: &MipMaker,
    bitmap: &web_sys::ImageBitmap,
) -> Result<LayerTexture, RendererError> {
    let size = [bitmap.width(), bitmap.height()];
    gpu.check_size("the image", size[0], size[1])?;
    let layer = empty_colour(gpu, size, mip_levels(size[0], size[1]));
    copy_bitmap(gpu, bitmap, &layer.texture, wgpu::Origin3d::ZERO, size);
    mips.fill(gpu, &layer.texture);
    Ok(layer)
}

/// Copies a decoded image to a place of a texture; its code values stay as they are.
#[cfg(target_arch = "wasm32")]
pub(crate) fn copy_bitmap(
    gpu: &Gpu,
    bitmap: &web_sys::ImageBitmap,
    texture: &wgpu::Texture,
    origin: wgpu::Origin3d,
    size: [u32; 2],
) {
    gpu.queue.copy_external_image_to_texture(
        &wgpu::CopyExternalImageSourceInfo {
            source: wgpu::ExternalImageSource::ImageBitmap(bitmap.clone()),
            origin: wgpu::Origin2d::ZERO,
            flip_y: false,
        },
        wgpu::CopyExternalImageDestInfo {
            texture,
            mip_level: 0,
            origin,
            aspect: wgpu::TextureAspect::All,
            color_space: wgpu::PredefinedColorSpace::Srgb,
            premultiplied_alpha: false,
        },
        wgpu::Extent3d {
            width: size[0],
            height: size[1],
            depth_or_array_layers: 1,
        },
    );
}

/// A band image; 16-bit samples keep 11 bits (half float, IEEE 754 binary16).
pub(crate) fn band(
    gpu: &Gpu,
    size: [u32; 2],
    samples: Samples<'_>,
) -> Result<LayerTexture, RendererError> {
    gpu.check_size("the band image", size[0], size[1])?;
    let levels = mip_levels(size[0], size[1]);
    let (format, mut values) = match samples {
        Samples::Eight(s) => {
            expect_length("the band image", s.len(), size, 1)?;
            (
                wgpu::TextureFormat::R8Unorm,
                s.iter().map(|&v| f32::from(v) / 255.0).collect::<Vec<_>>(),
            )
        }
        Samples::Sixteen(s) => {
            expect_length("the band image", s.len(), size, 1)?;
            (
                wgpu::TextureFormat::R16Float,
                s.iter().map(|&v| f32::from(v) / 65535.0).collect(),
            )
        }
    };
    let layer = make(
        gpu,
        "band layer",
        size,
        levels,
        format,
        wgpu::TextureUsages::empty(),
    );
    let mut level_size = size;
    for level in 0..levels {
        let (bytes, texel_bytes) = match format {
            wgpu::TextureFormat::R8Unorm => (
                values
                    .iter()
                    .map(|v| (v * 255.0).round() as u8)
                    .collect::<Vec<u8>>(),
                1,
            ),
            _ => (
                values
                    .iter()
                    .flat_map(|&v| half_from_unit(v).to_le_bytes())
                    .collect(),
                2,
            ),
        };
        write(gpu, &layer.texture, level, level_size, texel_bytes, &bytes);
        if level + 1 < levels {
            (values, level_size) = halved(&values, level_size);
        }
    }
    Ok(layer)
}

/// A table of numbers, RGBA of 32-bit floats, read by the texel and never filtered.
pub(crate) fn float_table(
    gpu: &Gpu,
    label: &str,
    size: [u32; 2],
    texels: &[f32],
) -> wgpu::TextureView {
    wgpu::util::DeviceExt::create_texture_with_data(
        &gpu.device,
        &gpu.queue,
        &wgpu::TextureDescriptor {
            label: Some(label),
            size: wgpu::Extent3d {
                width: size[0],
                height: size[1],
                depth_or_array_layers: 1,
            },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: wgpu::TextureFormat::Rgba32Float,
            usage: wgpu::TextureUsages::TEXTURE_BINDING,
            view_formats: &[],
        },
        wgpu::util::TextureDataOrder::LayerMajor,
        bytemuck::cast_slice(texels),
    )
    .create_view(&wgpu::TextureViewDescriptor::default())
}

/// Region numbers, one a texel, never filtered.
pub(crate) fn labels(
    gpu: &Gpu,
    size: [u32; 2],
    numbers: &[u16],
) -> Result<LayerTexture, RendererError> {
    gpu.check_size("the region map", size[0], size[1])?;
    expect_length("the region map", numbers.len(), size, 1)?;
    let layer = make(
        gpu,
        "region map",
        size,
        1,
        wgpu::TextureFormat::R16Uint,
        wgpu::TextureUsages::empty(),
    );
    write(
        gpu,
        &layer.texture,
        0,
        size,
        2,
        bytemuck::cast_slice(numbers),
    );
    Ok(layer)
}

/// Writes a part of a region map.
pub(crate) fn write_labels(
    gpu: &Gpu,
    layer: &LayerTexture,
    [x, y]: [u32; 2],
    size: [u32; 2],
    numbers: &[u16],
) {
    let fits =
        (0..2).all(|k| u64::from([x, y][k]) + u64::from(size[k]) <= u64::from(layer.size[k]));
    let whole = numbers.len() == size[0] as usize * size[1] as usize;
    if !fits || !whole || numbers.is_empty() {
        return;
    }
    gpu.queue.write_texture(
        wgpu::TexelCopyTextureInfo {
            texture: &layer.texture,
            mip_level: 0,
            origin: wgpu::Origin3d { x, y, z: 0 },
            aspect: wgpu::TextureAspect::All,
        },
        bytemuck::cast_slice(numbers),
        wgpu::TexelCopyBufferLayout {
            offset: 0,
            bytes_per_row: Some(size[0] * 2),
            rows_per_image: Some(size[1]),
        },
        wgpu::Extent3d {
            width: size[0],
            height: size[1],
            depth_or_array_layers: 1,
        },
    );
}

fn expect_length(
    what: &str,
    found: usize,
    size: [u32; 2],
    per_texel: usize,
) -> Result<(), RendererError> {
    let wanted = size[0] as usize * size[1] as usize * per_texel;
    if found == wanted {
        return Ok(());
    }
    Err(RendererError::Mismatch {
        what: what.to_owned(),
        detail: format!(
            "{} × {} px need {wanted} values, there are {found}",
            size[0], size[1]
        ),
    })
}

/// The mean of 2×2 values; an odd last row or column is taken twice.
fn halved(values: &[f32], size: [u32; 2]) -> (Vec<f32>, [u32; 2]) {
    let [w, h] = size.map(|s| s as usize);
    let (nw, nh) = ((w / 2).max(1), (h / 2).max(1));
    let at = |x: usize, y: usize| values[y.min(h - 1) * w + x.min(w - 1)];
    let mut out = Vec::with_capacity(nw * nh);
    for y in 0..nh {
        for x in 0..nw {
            let sum = at(2 * x, 2 * y)
                + at(2 * x + 1, 2 * y)
                + at(2 * x, 2 * y + 1)
                + at(2 * x + 1, 2 * y + 1);
            out.push(sum / 4.0);
        }
    }
    (out, [nw as u32, nh as u32])
}

/// IEEE 754 binary16 of a value 0..1, rounded to nearest.
pub(crate) fn half_from_unit(value: f32) -> u16 {
    let bits = value.clamp(0.0, 1.0).to_bits();
    let exponent = (bits >> 23) as i32 - 127;
    if exponent < -14 {
        // Subnormal: steps of 2^-24.
        return (value.max(0.0) * 16_777_216.0).round() as u16;
    }
    let rounded = bits + 0x1000;
    let exponent = (rounded >> 23) as i32 - 127 + 15;
    ((exponent << 10) as u16) | ((rounded >> 13) & 0x3ff) as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEEE 754-2019, table 3.5: binary16 has bias 15 and 10 stored bits.
    #[test]
    fn halves_of_exact_values_have_the_bits_of_the_standard() {
        for (value, bits) in [
            (0.0, 0x0000),
            (1.0, 0x3c00),
            (0.5, 0x3800),
            (0.25, 0x3400),
            (0.333_251_95, 0x3555),
        ] {
            assert_eq!(half_from_unit(value), bits, "{value}");
        }
        assert_eq!(half_from_unit(5.960_464_5e-8), 1, "smallest subnormal");
    }

    #[test]
    fn a_halved_image_keeps_its_mean() {
        let (out, size) = halved(&[0.0, 1.0, 0.5, 0.5], [2, 2]);
        assert_eq!((out, size), (vec![0.5], [1, 1]));
    }
}
