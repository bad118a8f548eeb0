//! Regions out of a region map.

use std::io::Cursor;

use png::{BitDepth, ColorType, Decoder, Encoder, Limits, Transformations};

/// Most memory for one region map: 16384 x 16384 texels of 16 bit.
const LARGEST_BYTES: usize = 512 << 20;

/// The same greyscale PNG with 0 ("no region") for every texel that had one of
/// `numbers`. Other chunks of the file, which may hold texts, are not kept.
///
/// # Errors
/// What is wrong with the file.
pub(super) fn without(bytes: &[u8], numbers: &[u32]) -> Result<Vec<u8>, String> {
    let said = |error: &dyn std::fmt::Display| error.to_string();
    let limits = Limits {
        bytes: LARGEST_BYTES,
    };
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), limits);
    decoder.set_transformations(Transformations::IDENTITY);
    let mut reader = decoder.read_info().map_err(|e| said(&e))?;
    let info = reader.info();
    let (width, height) = (info.width, info.height);
    let depth = info.bit_depth;
    if info.color_type != ColorType::Grayscale
        || !matches!(depth, BitDepth::Eight | BitDepth::Sixteen)
    {
        return Err("it is no greyscale PNG of 8 or 16 bit".to_owned());
    }
    let size = reader
        .output_buffer_size()
        .filter(|size| *size <= LARGEST_BYTES)
        .ok_or("it is too large")?;
    let mut texels = vec![0; size];
    reader.next_frame(&mut texels).map_err(|e| said(&e))?;
    let gone = |number: u32| numbers.contains(&number);
    if depth == BitDepth::Eight {
        for texel in &mut texels {
            if gone(u32::from(*texel)) {
                *texel = 0;
            }
        }
    } else {
        for pair in texels.chunks_exact_mut(2) {
            if gone(u32::from(u16::from_be_bytes([pair[0], pair[1]]))) {
                pair.fill(0);
            }
        }
    }
    let mut out = Vec::new();
    let mut encoder = Encoder::new(&mut out, width, height);
    encoder.set_color(ColorType::Grayscale);
    encoder.set_depth(depth);
    let mut writer = encoder.write_header().map_err(|e| said(&e))?;
    writer.write_image_data(&texels).map_err(|e| said(&e))?;
    writer.finish().map_err(|e| said(&e))?;
    Ok(out)
}
