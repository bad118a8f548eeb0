//! Applying a calibration to a photograph.

use std::io::{Seek, Write};

use ganosis_colorimetry::matrix::apply;
use rayon::prelude::*;
use tiff::encoder::colortype::RGB16;
use tiff::encoder::{TiffEncoder, TiffValue};
use tiff::tags::{Tag, Type};

use crate::error::{ImagingError, Result};
use crate::fit::{Model, ModelKind, Tone};
use crate::icc::OutputSpace;
use crate::photo::{Field, Photo};

/// How many pixels had a channel outside the output space, and were limited to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Limited {
    /// Below 0: more colourful than the space.
    pub below: usize,
    /// Above 1: lighter than white or more colourful than the space.
    pub above: usize,
}

/// Steps of the encoding table; with linear interpolation it is exact to less than half a 16-bit
/// code (held by a test).
const TABLE_STEPS: usize = 16384;

/// The encoding as a table over the square root of light, where every transfer function is smooth.
struct Encoder {
    codes: Vec<f32>,
}

impl Encoder {
    fn new(space: OutputSpace) -> Self {
        let codes = (0..=TABLE_STEPS + 1)
            .map(|i| {
                let root = i as f64 / TABLE_STEPS as f64;
                (space.encode(root * root) * 65535.0) as f32
            })
            .collect();
        Self { codes }
    }

    /// The code for light within 0..1.
    #[inline]
    fn code(&self, light: f32) -> u16 {
        let at = light.sqrt() * TABLE_STEPS as f32;
        let low = at as usize;
        let (a, b) = (self.codes[low], self.codes[low + 1]);
        (a + (b - a) * (at - low as f32) + 0.5) as u16
    }
}

/// The model as one f32 matrix from terms to the output space.
struct Step {
    kind: ModelKind,
    gains: [f32; 3],
    tone: Option<Tone>,
    out_of_term: [[f32; 3]; 6],
}

impl Step {
    fn new(model: &Model, space: OutputSpace) -> Self {
        let to_space = space.linear_from_xyz_d50();
        let mut out_of_term = [[0.0; 3]; 6];
        for (out, &xyz) in out_of_term.iter_mut().zip(&model.xyz_d50_of_term) {
            *out = apply(&to_space, xyz).map(|v| v as f32);
        }
        Self {
            kind: model.kind,
            gains: model.white_balance.map(|v| v as f32),
            tone: model.tone,
            out_of_term,
        }
    }

    #[inline]
    fn linear(&self, light: [f32; 3]) -> [f32; 3] {
        let mut v = light;
        for (value, gain) in v.iter_mut().zip(self.gains) {
            *value *= gain;
        }
        if let Some(tone) = self.tone {
            v = v.map(|x| tone.apply(f64::from(x)) as f32);
        }
        let m = &self.out_of_term;
        let mut out = [0, 1, 2].map(|c| v[0] * m[0][c] + v[1] * m[1][c] + v[2] * m[2][c]);
        if self.kind == ModelKind::RootPolynomial {
            let root = |x: f32| x.max(0.0).sqrt();
            let t = [root(v[0] * v[1]), root(v[1] * v[2]), root(v[0] * v[2])];
            for (c, o) in out.iter_mut().enumerate() {
                *o += t[0] * m[3][c] + t[1] * m[4][c] + t[2] * m[5][c];
            }
        }
        out
    }
}

/// Corrects a photograph in its own memory, row by row on all cores: its samples become 16-bit codes
/// of `space`.
pub fn correct_in_place(
    photo: &mut Photo,
    field: Option<&Field>,
    model: &Model,
    space: OutputSpace,
) -> Limited {
    let light_of_code = photo.encoding.light_of_code();
    let encoder = Encoder::new(space);
    let step = Step::new(model, space);
    let row_samples = 3 * photo.width_px.max(1);
    photo
        .samples
        .par_chunks_mut(row_samples)
        .enumerate()
        .map(|(y, row)| {
            let mut limited = Limited::default();
            for (x, pixel) in row.chunks_exact_mut(3).enumerate() {
                let mut light = [0, 1, 2].map(|c| light_of_code[usize::from(pixel[c])]);
                if let Some(field) = field {
                    let raw = light.map(f64::from);
                    light = field.apply(raw, x, y, &light_of_code).map(|v| v as f32);
                }
                let out = step.linear(light);
                // Less than half a 16-bit code outside is rounding.
                limited.below += usize::from(out.iter().any(|&v| v < -0.5 / 65535.0));
                limited.above += usize::from(out.iter().any(|&v| v > 1.0 + 0.5 / 65535.0));
                for (sample, value) in pixel.iter_mut().zip(out) {
                    *sample = encoder.code(value.clamp(0.0, 1.0));
                }
            }
            limited
        })
        .reduce(Limited::default, |a, b| Limited {
            below: a.below + b.below,
            above: a.above + b.above,
        })
}

/// Bytes of the TIFF field type UNDEFINED, which ICC.1:2022 annex B.4 asks for.
struct Undefined<'a>(&'a [u8]);

impl TiffValue for Undefined<'_> {
    const BYTE_LEN: u8 = 1;
    const FIELD_TYPE: Type = Type::UNDEFINED;

    fn count(&self) -> usize {
        self.0.len()
    }

    fn data(&self) -> std::borrow::Cow<'_, [u8]> {
        std::borrow::Cow::Borrowed(self.0)
    }
}

/// Writes a corrected photograph as an uncompressed 16-bit TIFF with its ICC profile and one line on
/// what was done.
pub fn write_tiff<W: Write + Seek>(
    writer: W,
    photo: &Photo,
    space: OutputSpace,
    description: &str,
) -> Result<()> {
    write(writer, photo, space, description).map_err(|e| {
        ImagingError::new(
            format!("the corrected photograph could not be written: {e}"),
            photo.name.clone(),
            "Check that there is room on the disk.",
        )
    })
}

fn write<W: Write + Seek>(
    writer: W,
    photo: &Photo,
    space: OutputSpace,
    description: &str,
) -> tiff::TiffResult<()> {
    let mut encoder = TiffEncoder::new(writer)?;
    let size = |px: usize| u32::try_from(px).map_err(tiff::TiffError::from);
    let mut image = encoder.new_image::<RGB16>(size(photo.width_px)?, size(photo.height_px)?)?;
    // The TIFF field type ASCII has no other letters.
    let ascii: String = description
        .chars()
        .map(|c| if c.is_ascii() { c } else { '?' })
        .collect();
    image
        .encoder()
        .write_tag(Tag::ImageDescription, ascii.as_str())?;
    image
        .encoder()
        .write_tag(Tag::IccProfile, Undefined(&space.profile()))?;
    image.write_data(&photo.samples)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_encoding_table_is_exact_to_the_code() {
        for space in [OutputSpace::Romm, OutputSpace::Srgb, OutputSpace::P3] {
            let encoder = Encoder::new(space);
            for i in 0..=200_000 {
                let light = f64::from(i) / 200_000.0;
                let wanted = space.encode(light) * 65535.0;
                let got = f64::from(encoder.code(light as f32));
                assert!(
                    (got - wanted).abs() < 1.0,
                    "{space:?} {light}: {got} {wanted}"
                );
            }
        }
    }
}
