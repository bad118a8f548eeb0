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

/// One row from the two that [`sources`] names.
#[must_use]
pub(crate) fn halved(
    rows: [&[u8]; 2],
    weight: f32,
    widths: [u32; 2],
    texel: Texel,
    kind: Kind,
) -> Vec<u8> {
    let bytes = texel.bytes();
    let mut out = Vec::with_capacity(widths[1] as usize * bytes);
    for x in 0..widths[1] as usize {
        let ([left, right], across) = sources(x, widths[0], widths[1]);
        if kind == Kind::Labels {
            out.extend_from_slice(&rows[0][left * bytes..(left + 1) * bytes]);
            continue;
        }
        let four = [(0, left), (0, right), (1, left), (1, right)]
            .map(|(r, c)| &rows[r][c * bytes..(c + 1) * bytes]);
        let shares = [
            (1.0 - across) * (1.0 - weight),
            across * (1.0 - weight),
            (1.0 - across) * weight,
            across * weight,
        ];
        match texel {
            Texel::Rgba8 => out.extend(mean_colour(four, shares)),
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

fn mean(values: [f32; 4], shares: [f32; 4]) -> f32 {
    values.iter().zip(shares).map(|(v, s)| v * s).sum()
}

/// Colour in linear light, alpha as it is.
fn mean_colour(four: [&[u8]; 4], shares: [f32; 4]) -> [u8; 4] {
    let light = light();
    let [r, g, b] = [0, 1, 2].map(|c| code(mean(four.map(|t| light[usize::from(t[c])]), shares)));
    [
        r,
        g,
        b,
        (mean(four.map(|t| f32::from(t[3])), shares) + 0.5) as u8,
    ]
}

/// Linear light of each code (IEC 61966-2-1; Display P3 has the same curve).
fn light() -> &'static [f32; 256] {
    static LIGHT: OnceLock<[f32; 256]> = OnceLock::new();
    LIGHT.get_or_init(|| std::array::from_fn(|code| decoded(code as f64 / 255.0)))
}

/// Linear light of an encoded value 0..1 (IEC 61966-2-1).
fn decoded(v: f64) -> f32 {
    let light = if v <= 0.04045 {
        v / 12.92
    } else {
        ((v + 0.055) / 1.055).powf(2.4)
    };
    light as f32
}

/// The code of linear light, rounded: the table has the light half way between codes.
fn code(light: f32) -> u8 {
    static TABLE: OnceLock<(Vec<f32>, Vec<u8>)> = OnceLock::new();
    let (between, first) = TABLE.get_or_init(|| {
        let between: Vec<f32> = (0..255)
            .map(|c| decoded((f64::from(c) + 0.5) / 255.0))
            .collect();
        let first = (0..=STEPS)
            .map(|s| {
                let light = s as f32 / STEPS as f32;
                between.partition_point(|b| *b < light) as u8
            })
            .collect();
        (between, first)
    });
    let mut found = usize::from(first[(light.clamp(0.0, 1.0) * STEPS as f32) as usize]);
    while found < 255 && between[found] < light {
        found += 1;
    }
    found as u8
}

/// Steps of the table that says where to begin: codes lie 1 / (255 · 12.92) apart at the dark end.
const STEPS: usize = 4096;

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
        let row = halved(rows, 0.5, [2, 1], Texel::Rgba8, Kind::Colour);
        assert_eq!(row, [188, 188, 188, 128]);
    }

    #[test]
    fn every_code_comes_back() {
        for wanted in 0..=255_u8 {
            assert_eq!(code(light()[usize::from(wanted)]), wanted);
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
        assert_eq!(
            halved(rows, 0.5, [4, 2], Texel::Grey8, Kind::Labels),
            [3, 200]
        );
    }
}
