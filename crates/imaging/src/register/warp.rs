//! A photograph read through a map.

use rayon::prelude::*;

use crate::geometry::Homography;
use crate::photo::Photo;

/// A photograph moved over another.
#[derive(Debug, Clone, PartialEq)]
pub struct Warped {
    /// As encoded as the one moved; codes are 0 where that shows nothing.
    pub photo: Photo,
    /// Pixels that show nothing.
    pub empty_px: usize,
}

/// Reach of the kernel in pixels.
const LOBES: isize = 3;

/// Reads `moving` at each pixel of a picture of `width_px` × `height_px`, through `map` from that
/// picture to `moving`, by the windowed sinc of C. E. Duchon, "Lanczos filtering in one and two
/// dimensions", Journal of Applied Meteorology 18(8), 1979, with three lobes, in linear light, limited
/// to what codes can hold. Where the kernel reaches over the edge, the edge is repeated; where the
/// position itself is outside, the pixel stays 0.
///
/// The map should not make the picture much smaller: the kernel does not widen.
pub fn warp(moving: &Photo, map: &Homography, width_px: usize, height_px: usize) -> Warped {
    let light = moving.encoding.light_of_code();
    let mut samples = vec![0; 3 * width_px * height_px];
    let empty_px = samples
        .par_chunks_exact_mut((3 * width_px).max(1))
        .enumerate()
        .map(|(y, row)| {
            let mut empty = 0;
            for (x, pixel) in row.chunks_exact_mut(3).enumerate() {
                let at = map.apply([x as f64 + 0.5, y as f64 + 0.5]);
                match read(moving, &light, at) {
                    Some(value) => {
                        for (code, light_there) in pixel.iter_mut().zip(value) {
                            *code = code_of(&light, light_there);
                        }
                    }
                    None => empty += 1,
                }
            }
            empty
        })
        .sum();
    Warped {
        photo: Photo {
            name: moving.name.clone(),
            width_px,
            height_px,
            bits: 16,
            samples,
            encoding: moving.encoding.clone(),
            encoding_from: moving.encoding_from.clone(),
            icc_profile: moving.icc_profile.clone(),
        },
        empty_px,
    }
}

fn read(photo: &Photo, light: &[f32], [x, y]: [f64; 2]) -> Option<[f32; 3]> {
    let within = |v: f64, size: usize| (0.0..=size as f64).contains(&v);
    if !within(x, photo.width_px) || !within(y, photo.height_px) {
        return None;
    }
    let (x, y) = (x - 0.5, y - 0.5);
    let (wx, wy) = (weights(x - x.floor()), weights(y - y.floor()));
    let first = |v: f64| v.floor() as isize - LOBES + 1;
    let clamp = |at: isize, size: usize| at.clamp(0, size as isize - 1) as usize;
    let mut sum = [0.0; 3];
    for (k, by) in wy.into_iter().enumerate() {
        let row = clamp(first(y) + k as isize, photo.height_px) * photo.width_px;
        for (l, along) in wx.into_iter().enumerate() {
            let at = 3 * (row + clamp(first(x) + l as isize, photo.width_px));
            for (sum, &code) in sum.iter_mut().zip(&photo.samples[at..at + 3]) {
                *sum += by * along * light[usize::from(code)];
            }
        }
    }
    Some(sum)
}

/// Weights of the six pixels around a position `t` beyond the third, with the sum 1.
fn weights(t: f64) -> [f32; 2 * LOBES as usize] {
    let sinc = |v: f64| {
        let a = std::f64::consts::PI * v;
        if a.abs() < 1e-9 { 1.0 } else { a.sin() / a }
    };
    let raw: [f64; 2 * LOBES as usize] = std::array::from_fn(|k| {
        let off = t + (LOBES - 1) as f64 - k as f64;
        sinc(off) * sinc(off / LOBES as f64)
    });
    let sum: f64 = raw.iter().sum();
    raw.map(|w| (w / sum) as f32)
}

/// The code whose light is nearest; `light` rises with the code.
fn code_of(light: &[f32], wanted: f32) -> u16 {
    let above = light.partition_point(|&l| l < wanted).min(light.len() - 1);
    let below = above.saturating_sub(1);
    let nearest = if (wanted - light[below]).abs() < (light[above] - wanted).abs() {
        below
    } else {
        above
    };
    nearest as u16
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::Encoding;

    fn photo(
        encoding: Encoding,
        width: usize,
        height: usize,
        code: impl Fn(usize, usize) -> u16,
    ) -> Photo {
        let samples = (0..width * height)
            .flat_map(|i| [code(i % width, i / width); 3])
            .collect();
        Photo {
            name: "p.tif".to_owned(),
            width_px: width,
            height_px: height,
            bits: 16,
            samples,
            encoding,
            encoding_from: "declared".to_owned(),
            icc_profile: None,
        }
    }

    fn shift(x: f64, y: f64) -> Homography {
        Homography::from_rows([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
    }

    #[test]
    fn whole_pixels_move_without_change_in_any_encoding() {
        for encoding in [Encoding::Linear, Encoding::Srgb] {
            let moving = photo(encoding, 20, 16, |x, y| {
                ((x * 3001 + y * 907) % 65536) as u16
            });
            let moved = warp(&moving, &shift(2.0, -1.0), 20, 16);
            for y in 1..16 {
                for x in 0..18 {
                    let (to, from) = (3 * (y * 20 + x), 3 * ((y - 1) * 20 + x + 2));
                    assert_eq!(moved.photo.samples[to], moving.samples[from], "{x} {y}");
                }
            }
            assert_eq!(moved.empty_px, 16 * 20 - 18 * 15);
        }
    }

    #[test]
    fn a_wave_moves_by_part_of_a_pixel_as_its_formula_says() {
        // Sixteen pixels a period.
        let wave = |x: f64| 30000.0 + 20000.0 * (std::f64::consts::TAU * x / 16.0).sin();
        let moving = photo(Encoding::Linear, 64, 16, |x, _| {
            wave(x as f64).round() as u16
        });
        let moved = warp(&moving, &shift(0.37, 0.0), 64, 16);
        for x in 8..56 {
            let got = f64::from(moved.photo.samples[3 * (8 * 64 + x)]);
            // Three lobes change such a wave by 0.6 % of its height, by the sum of their weights.
            assert!((got - wave(x as f64 + 0.37)).abs() < 125.0, "{x}: {got}");
        }
    }
}
