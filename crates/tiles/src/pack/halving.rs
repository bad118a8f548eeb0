//! A level from the one above, as a GPU makes the levels of a texture.

use std::sync::OnceLock;

use super::rows::{Kind, Texel};

/// Rows of the level above that row `y` is made of, and the weight of the second; the same for columns.
///
/// Twin of `shaders/draw/mip.wgsl`: the mean of the two texels on either side of the middle of the new
/// one, which lie unevenly where the side is odd.
#[must_use]
pub(crate) fn sources(at: usize, above: u32, below: u32) -> ([usize; 2], f32) {
    let last = above as usize - 1;
    let middle = (at as f32 + 0.5) * above as f32 / below as f32 - 0.5;
    let low = middle.floor().max(0.0);
    let low_index = (low as usize).min(last);
    ([low_index, (low_index + 1).min(last)], middle - low)
}

/// Makes the rows of a level from those of the level above.
#[derive(Debug)]
pub(crate) struct Halving {
    /// Where the texels of a row come from, as [`sources`] has it.
    columns: Vec<([usize; 2], f32)>,
    /// Texels lie in pairs, and of every pair both count alike.
    even: bool,
    texel: Texel,
    kind: Kind,
}

impl Halving {
    /// From rows of `widths[0]` texels to rows of `widths[1]`.
    pub(crate) fn new(widths: [u32; 2], texel: Texel, kind: Kind) -> Self {
        let [above, below] = widths;
        Self {
            columns: (0..below as usize)
                .map(|x| sources(x, above, below))
                .collect(),
            even: above == 2 * below,
            texel,
            kind,
        }
    }

    /// One row from the two that [`sources`] names.
    #[must_use]
    pub(crate) fn row(&self, rows: [&[u8]; 2], weight: f32) -> Vec<u8> {
        if self.kind == Kind::Labels {
            let bytes = self.texel.bytes();
            let lefts = self.columns.iter().map(|([left, _], _)| left * bytes);
            return lefts
                .flat_map(|at| &rows[0][at..at + bytes])
                .copied()
                .collect();
        }
        if self.even && weight == 0.5 {
            return pairs(rows, self.texel);
        }
        self.weighed(rows, weight)
    }

    fn weighed(&self, rows: [&[u8]; 2], weight: f32) -> Vec<u8> {
        let bytes = self.texel.bytes();
        let codes = Codes::get();
        let mut out = Vec::with_capacity(self.columns.len() * bytes);
        for &([left, right], across) in &self.columns {
            let four = [(0, left), (0, right), (1, left), (1, right)]
                .map(|(r, c): (usize, usize)| &rows[r][c * bytes..(c + 1) * bytes]);
            let shares = [
                (1.0 - across) * (1.0 - weight),
                across * (1.0 - weight),
                (1.0 - across) * weight,
                across * weight,
            ];
            match self.texel {
                Texel::Rgba8 => out.extend(mean_colour(codes, four, shares)),
                Texel::Grey8 => out.push((mean(four.map(|t| f32::from(t[0])), shares) + 0.5) as u8),
                Texel::Grey16 => {
                    let value = mean(
                        four.map(|t| f32::from(u16::from_le_bytes([t[0], t[1]]))),
                        shares,
                    );
                    out.extend(((value + 0.5) as u16).to_le_bytes());
                }
            }
        }
        out
    }
}

/// As [`Halving::weighed`] where all four texels have a quarter: to the same codes, since a quarter of a
/// number of binary digits is exact.
fn pairs(rows: [&[u8]; 2], texel: Texel) -> Vec<u8> {
    match texel {
        Texel::Rgba8 => {
            let codes = Codes::get();
            let mut out = vec![0; rows[0].len() / 2];
            let [upper, lower] = rows.map(|row| row.as_chunks::<8>().0);
            let texels = out.as_chunks_mut::<4>().0;
            for ((texel, a), b) in texels.iter_mut().zip(upper).zip(lower) {
                for c in 0..3 {
                    let quarter = |code: u8| codes.quarters[usize::from(code)];
                    let light =
                        quarter(a[c]) + quarter(a[c + 4]) + quarter(b[c]) + quarter(b[c + 4]);
                    texel[c] = codes.code(light);
                }
                texel[3] = quarter_of([a[3], a[7], b[3], b[7]].map(u32::from)) as u8;
            }
            out
        }
        Texel::Grey8 => {
            let [upper, lower] = rows.map(|row| row.as_chunks::<2>().0.iter());
            upper
                .zip(lower)
                .map(|(a, b)| quarter_of([a[0], a[1], b[0], b[1]].map(u32::from)) as u8)
                .collect()
        }
        Texel::Grey16 => {
            let value = |l: u8, h: u8| u32::from(u16::from_le_bytes([l, h]));
            let [upper, lower] = rows.map(|row| row.as_chunks::<4>().0.iter());
            let four = upper.zip(lower).map(|(a, b)| {
                [
                    value(a[0], a[1]),
                    value(a[2], a[3]),
                    value(b[0], b[1]),
                    value(b[2], b[3]),
                ]
            });
            four.flat_map(|four| (quarter_of(four) as u16).to_le_bytes())
                .collect()
        }
    }
}

/// The mean, rounded to nearest and upwards from the middle.
fn quarter_of(four: [u32; 4]) -> u32 {
    (four.iter().sum::<u32>() + 2) / 4
}

fn mean(values: [f32; 4], shares: [f32; 4]) -> f32 {
    values.iter().zip(shares).map(|(v, s)| v * s).sum()
}

/// Colour in linear light, alpha as it is.
fn mean_colour(codes: &Codes, four: [&[u8]; 4], shares: [f32; 4]) -> [u8; 4] {
    let light = |code: u8| codes.light[usize::from(code)];
    let [r, g, b] = [0, 1, 2].map(|c| codes.code(mean(four.map(|t| light(t[c])), shares)));
    [
        r,
        g,
        b,
        (mean(four.map(|t| f32::from(t[3])), shares) + 0.5) as u8,
    ]
}

/// Linear light of an encoded value 0..1 (IEC 61966-2-1; Display P3 has the same curve).
fn decoded(v: f64) -> f32 {
    let light = if v <= 0.04045 {
        v / 12.92
    } else {
        ((v + 0.055) / 1.055).powf(2.4)
    };
    light as f32
}

/// Codes to linear light and back. Light is counted in [`STEPS`], a power of two: that changes no digit of it.
struct Codes {
    light: [f32; 256],
    /// A quarter of it.
    quarters: [f32; 256],
    /// The light half way from each code to the next; of the last, more than there is.
    between: [f32; 256],
    /// The code where each step begins, half a step below its number. As long as a mask of bits needs it.
    first: Box<[u8; 2 * STEPS]>,
}

/// Steps of the table that says where to begin: half ways between codes lie 1 / (255 · 12.92) apart at
/// the dark end, farther elsewhere, so that there is one at most in a step.
const STEPS: usize = 4096;

/// Numbers from here on are whole (IEEE 754 binary32: 24 binary digits), and the last digits count from it.
const WHOLE: f32 = 8_388_608.0;

impl Codes {
    fn get() -> &'static Self {
        static CODES: OnceLock<Codes> = OnceLock::new();
        CODES.get_or_init(|| {
            let steps = |v: f64| decoded(v) * STEPS as f32;
            let light: [f32; 256] = std::array::from_fn(|code| steps(code as f64 / 255.0));
            let mut between: [f32; 256] =
                std::array::from_fn(|code| steps((code as f64 + 0.5) / 255.0));
            between[255] = f32::INFINITY;
            let first = std::array::from_fn(|step| {
                let begins = step as f32 - 0.5;
                between.partition_point(|b| *b < begins) as u8
            });
            Self {
                light,
                quarters: light.map(|l| l * 0.25),
                between,
                first: Box::new(first),
            }
        })
    }

    /// The code of linear light (in steps, not negative), rounded.
    fn code(&self, light: f32) -> u8 {
        // The nearest whole number, without the questions that a conversion asks.
        let step = (light + WHOLE).to_bits() as usize % (2 * STEPS);
        let first = self.first[step];
        first + u8::from(self.between[usize::from(first)] < light)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// sRGB of half the light is code 188 (IEC 61966-2-1: 1.055 · 0.5^(1/2.4) − 0.055 = 0.7354).
    #[test]
    fn black_and_white_meet_in_linear_light() {
        let rows: [&[u8]; 2] = [
            &[0, 0, 0, 255, 255, 255, 255, 255],
            &[0, 0, 0, 0, 255, 255, 255, 0],
        ];
        let halving = Halving::new([2, 1], Texel::Rgba8, Kind::Colour);
        assert_eq!(halving.row(rows, 0.5), [188, 188, 188, 128]);
        assert_eq!(halving.weighed(rows, 0.5), [188, 188, 188, 128]);
    }

    #[test]
    fn every_code_comes_back() {
        for wanted in 0..=255_u8 {
            let codes = Codes::get();
            assert_eq!(codes.code(codes.light[usize::from(wanted)]), wanted);
        }
    }

    /// An odd side: the middle of five texels for two new ones lies at 0.75 and 3.25.
    #[test]
    fn odd_sides_are_weighed() {
        assert_eq!(sources(0, 5, 2), ([0, 1], 0.75));
        assert_eq!(sources(1, 5, 2), ([3, 4], 0.25));
        assert_eq!(sources(0, 1, 1), ([0, 0], 0.0));
    }

    #[test]
    fn region_numbers_are_taken_never_averaged() {
        let rows: [&[u8]; 2] = [&[3, 9, 200, 9], &[7, 7, 7, 7]];
        let halving = Halving::new([4, 2], Texel::Grey8, Kind::Labels);
        assert_eq!(halving.row(rows, 0.5), [3, 200]);
    }

    /// Against the definition: the nearest code is that whose half ways to its neighbours lie around.
    #[test]
    fn light_becomes_the_nearest_code() {
        let codes = Codes::get();
        for i in 0..=200_000_u32 {
            let light = i as f32 / 200_000.0;
            let below = |code: &u8| decoded((f64::from(*code) + 0.5) / 255.0) < light;
            let wanted = (0..255).filter(below).count() as u8;
            assert_eq!(codes.code(light * STEPS as f32), wanted, "{light}");
        }
    }

    /// The quick way and the general one, over texels of all values.
    #[test]
    fn even_sides_come_to_the_same_texels_as_any() {
        let noise = |seed: u32| -> Vec<u8> {
            let hashed = |i: u32| (i ^ seed).wrapping_mul(0x9E37_79B9).rotate_left(13);
            (0..4096)
                .map(|i| (hashed(i).wrapping_mul(0x85EB_CA6B) >> 24) as u8)
                .collect()
        };
        let [upper, lower] = [noise(1), noise(77)];
        for texel in [Texel::Rgba8, Texel::Grey8, Texel::Grey16] {
            let width = 4096 / texel.bytes() as u32;
            let halving = Halving::new([width, width / 2], texel, Kind::Colour);
            let rows = [&upper[..], &lower[..]];
            assert_eq!(
                halving.row(rows, 0.5),
                halving.weighed(rows, 0.5),
                "{texel:?}"
            );
        }
    }
}
