//! Applying a calibration to a photograph.

use ganosis_colorimetry::matrix::apply;
use rayon::prelude::*;

use crate::fit::{Model, ModelKind, Tone};
use crate::icc::OutputSpace;
use crate::photo::{Encoding, Field, Photo};

/// How many pixels had a channel outside the output space, and were limited to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Limited {
    /// Below 0: more colourful than the space.
    pub below: usize,
    /// Above 1: lighter than white or more colourful than the space.
    pub above: usize,
}

/// Steps of the encoding table; with linear interpolation it is exact to less than half a 16-bit
/// code (held by a test), and small enough for the first cache.
const TABLE_STEPS: usize = 4096;

/// A float this large has its integer in the low bits: adding it rounds to the nearest integer
/// (IEEE 754 binary32 has 23 bits of fraction), and the compiler can do many at once.
const ROUNDER: f32 = 8_388_608.0;

/// The encoding as a table over the square root of light, where every transfer function is smooth:
/// at each step its value and the difference to the next, beginning at index 1. Longer than it needs
/// to be, so that a masked index is always inside.
struct Encoder {
    steps: Box<[[f32; 2]; 2 * TABLE_STEPS]>,
}

impl Encoder {
    fn new(space: OutputSpace) -> Self {
        let code = |i: usize| {
            let root = i as f64 / TABLE_STEPS as f64;
            space.encode(root * root) * 65535.0
        };
        let mut steps = Box::new([[0.0; 2]; 2 * TABLE_STEPS]);
        for (i, step) in steps.iter_mut().skip(1).enumerate().take(TABLE_STEPS + 1) {
            *step = [code(i) as f32, (code(i + 1) - code(i)) as f32];
        }
        Self { steps }
    }

    /// The code at `at`: the square root of light within 0..1, times the steps.
    #[inline]
    fn code(&self, at: f32) -> u16 {
        // The step below, plus 1; exactly on a step either neighbour gives the same.
        let next = at + 0.5 + ROUNDER;
        let index = next.to_bits() as usize & (2 * TABLE_STEPS - 1);
        let low = next - ROUNDER - 1.0;
        let [a, difference] = self.steps[index];
        (a + difference * (at - low) + ROUNDER).to_bits() as u16
    }
}

/// Pixels that are corrected together, channel by channel, so that the compiler can use its vectors.
const BLOCK_PX: usize = 128;

/// A channel of a block.
type Lane = [f32; BLOCK_PX];

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

    /// Camera light to linear light of the output space.
    fn linear(&self, block: &mut [Lane; 3]) {
        for (lane, gain) in block.iter_mut().zip(self.gains) {
            for value in lane.iter_mut() {
                *value *= gain;
            }
            if let Some(tone) = self.tone {
                for value in lane.iter_mut() {
                    *value = tone.apply(f64::from(*value)) as f32;
                }
            }
        }
        let m = &self.out_of_term;
        let is_root = self.kind == ModelKind::RootPolynomial;
        let [red, green, blue] = block;
        for ((r, g), b) in red.iter_mut().zip(green).zip(blue) {
            let v = [*r, *g, *b];
            let mut out = [0, 1, 2].map(|c| v[0] * m[0][c] + v[1] * m[1][c] + v[2] * m[2][c]);
            if is_root {
                let root = |x: f32| x.max(0.0).sqrt();
                let t = [root(v[0] * v[1]), root(v[1] * v[2]), root(v[0] * v[2])];
                for (c, o) in out.iter_mut().enumerate() {
                    *o += t[0] * m[3][c] + t[1] * m[4][c] + t[2] * m[5][c];
                }
            }
            [*r, *g, *b] = out;
        }
    }
}

/// Less than half a 16-bit code outside is rounding.
const ROUNDING: f32 = 0.5 / 65535.0;

/// Within 0..1; what is no number becomes 0.
#[inline]
#[expect(
    clippy::manual_clamp,
    reason = "clamp keeps what is no number, and is slower"
)]
fn within(value: f32) -> f32 {
    value.max(0.0).min(1.0)
}

/// Counts the pixels outside the space, and brings all to where the table is read.
fn limit(block: &mut [Lane; 3], used: usize) -> Limited {
    let [r, g, b] = &*block;
    let (mut below, mut above) = (0_u32, 0_u32);
    for ((r, g), b) in r[..used].iter().zip(&g[..used]).zip(&b[..used]) {
        below += u32::from(r.min(*g).min(*b) < -ROUNDING);
        above += u32::from(r.max(*g).max(*b) > 1.0 + ROUNDING);
    }
    for lane in block.iter_mut() {
        for value in lane.iter_mut() {
            *value = within(*value).sqrt() * TABLE_STEPS as f32;
        }
    }
    Limited {
        below: below as usize,
        above: above as usize,
    }
}

/// Corrects samples in their own memory on all cores: they become 16-bit codes of the output space.
pub struct Corrector<'a> {
    step: Step,
    encoder: Encoder,
    is_linear: bool,
    light_of_code: Vec<f32>,
    field: Option<&'a Field>,
    width_px: usize,
}

impl<'a> Corrector<'a> {
    /// For `photo`, whose samples are not touched yet.
    pub fn new(photo: &Photo, field: Option<&'a Field>, model: &Model, space: OutputSpace) -> Self {
        Self {
            step: Step::new(model, space),
            encoder: Encoder::new(space),
            is_linear: photo.encoding == Encoding::Linear,
            light_of_code: photo.encoding.light_of_code(),
            field,
            width_px: photo.width_px,
        }
    }

    /// Whole rows, the first of which is `first_row` of the photograph.
    pub fn rows(&self, samples: &mut [u16], first_row: usize) -> Limited {
        samples
            .par_chunks_mut(3 * self.width_px.max(1))
            .enumerate()
            .map(|(y, row)| {
                let mut limited = Limited::default();
                for (i, pixels) in row.chunks_mut(3 * BLOCK_PX).enumerate() {
                    limited = limited.and(self.block(pixels, i * BLOCK_PX, first_row + y));
                }
                limited
            })
            .reduce(Limited::default, Limited::and)
    }

    /// Linear camera values of pixels of the row `y`, from the column `x`.
    fn lights(&self, pixels: &[u16], x: usize, y: usize, block: &mut [Lane; 3]) {
        let [red, green, blue] = block;
        let pixels = pixels.chunks_exact(3);
        let lanes = pixels.zip(red.iter_mut().zip(green).zip(blue));
        let decoded = |code: u16| self.light_of_code[usize::from(code)];
        match self.field {
            Some(field) => {
                for (i, (pixel, ((r, g), b))) in lanes.enumerate() {
                    let raw = [0, 1, 2].map(|c| f64::from(decoded(pixel[c])));
                    let light = field.apply(raw, x + i, y, &self.light_of_code);
                    [*r, *g, *b] = light.map(|v| v as f32);
                }
            }
            None if self.is_linear => {
                for (pixel, ((r, g), b)) in lanes {
                    [*r, *g, *b] = [0, 1, 2].map(|c| f32::from(pixel[c]) * (1.0 / 65535.0));
                }
            }
            None => {
                for (pixel, ((r, g), b)) in lanes {
                    [*r, *g, *b] = [0, 1, 2].map(|c| decoded(pixel[c]));
                }
            }
        }
    }

    fn block(&self, pixels: &mut [u16], x: usize, y: usize) -> Limited {
        let mut block = [[0.0; BLOCK_PX]; 3];
        self.lights(pixels, x, y, &mut block);
        self.step.linear(&mut block);
        let limited = limit(&mut block, pixels.len() / 3);
        let [red, green, blue] = &block;
        let at = red.iter().zip(green).zip(blue);
        for (pixel, ((&r, &g), &b)) in pixels.chunks_exact_mut(3).zip(at) {
            pixel.copy_from_slice(&[r, g, b].map(|at| self.encoder.code(at)));
        }
        limited
    }
}

impl Limited {
    /// Both together.
    pub(crate) fn and(self, other: Self) -> Self {
        Self {
            below: self.below + other.below,
            above: self.above + other.above,
        }
    }
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
                let at = (light as f32).sqrt() * TABLE_STEPS as f32;
                let got = f64::from(encoder.code(at));
                assert!(
                    (got - wanted).abs() < 1.0,
                    "{space:?} {light}: {got} {wanted}"
                );
            }
        }
    }
}
