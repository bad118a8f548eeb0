//! Drawn micrographs and cross-sections, as an analyst would photograph them.

use crate::files::small_png;
use crate::maths::{mix, smoothstep};
use crate::noise::{cells, fractal, value};
use anyhow::Result;
use ganosis_colorimetry::rgb::encode_srgb;
use glam::Vec3;

const WIDTH: usize = 480;
const HEIGHT: usize = 320;

fn draw(pixel: impl Fn(f32, f32) -> Vec3) -> Result<Vec<u8>> {
    let mut rgb = Vec::with_capacity(WIDTH * HEIGHT * 3);
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let c = pixel(x as f32 + 0.5, y as f32 + 0.5);
            let bar = y > HEIGHT - 22 && y < HEIGHT - 16 && (WIDTH - 140..WIDTH - 20).contains(&x);
            let c = if bar {
                Vec3::splat(0.95)
            } else {
                c.clamp(Vec3::ZERO, Vec3::ONE)
            };
            rgb.extend(
                c.to_array()
                    .map(|v| (encode_srgb(f64::from(v)) * 255.0).round() as u8),
            );
        }
    }
    small_png(WIDTH, HEIGHT, &rgb)
}

/// A surface under the microscope: stone, a film of the second paint, grains of the first.
pub(crate) fn micrograph(seed: u32, grains: Vec3, film: Vec3) -> Result<Vec<u8>> {
    draw(|x, y| {
        let p = Vec3::new(x, y, 0.0);
        let stone = Vec3::new(0.42, 0.36, 0.27) * (1.0 + 0.4 * fractal(seed, p * 0.03, 5));
        let cover = smoothstep(-0.22, -0.10, fractal(seed ^ 1, p * 0.008, 5) + 0.05);
        let crack = cells(seed ^ 2, p * 0.016);
        let gap = smoothstep(0.03, 0.07, crack.second - crack.distance);
        let mut c = stone.lerp(
            film * (0.85 + 0.3 * fractal(seed ^ 3, p * 0.05, 4)),
            cover * mix(0.35, 1.0, gap),
        );
        for (scale, keep) in [(0.045, 3), (0.085, 2)] {
            let warp = Vec3::new(value(seed ^ 4, p * 0.06), value(seed ^ 5, p * 0.06), 0.0) * 3.0;
            let grain = cells(seed ^ keep, (p + warp) * scale);
            if grain.id % 5 < keep {
                let facet = 0.72 + 0.6 * ((grain.id >> 9) & 255) as f32 / 255.0;
                let inside = smoothstep(0.40, 0.33, grain.distance);
                let light = 1.0 + 0.6 * smoothstep(0.22, 0.0, grain.distance);
                c = c.lerp(grains * facet * light, inside * cover);
            }
        }
        c * vignette(x, y)
    })
}

/// A polished section: stone at the bottom, then layers from the last of the list up.
pub(crate) fn section(seed: u32, layers: &[(Vec3, f32)]) -> Result<Vec<u8>> {
    draw(|x, y| {
        let p = Vec3::new(x, y, 3.0);
        let wave = |k: u32| 12.0 * fractal(seed ^ k, Vec3::new(x * 0.011, k as f32 * 5.0, 0.0), 4);
        let mut c = Vec3::new(0.035, 0.036, 0.04) * (1.0 + 0.5 * value(seed, p * 0.4));
        let mut top = 236.0 - layers.iter().map(|l| l.1).sum::<f32>() * 270.0;
        for (k, (colour, thick)) in layers.iter().enumerate() {
            let grain = cells(seed ^ (k as u32 + 9), p * 0.12);
            let tone = 0.72 + 0.55 * (grain.id & 255) as f32 / 255.0;
            let edge = top + wave(k as u32 + 1);
            c = c.lerp(*colour * tone, smoothstep(edge - 1.0, edge + 1.0, y));
            top += thick * 270.0;
        }
        let stone = Vec3::new(0.55, 0.49, 0.39) * (0.8 + 0.5 * fractal(seed ^ 40, p * 0.06, 4));
        let edge = top + 1.6 * wave(30);
        c.lerp(stone, smoothstep(edge - 1.0, edge + 1.0, y)) * vignette(x, y)
    })
}

fn vignette(x: f32, y: f32) -> f32 {
    let r = ((x / WIDTH as f32 - 0.5).powi(2) + (y / HEIGHT as f32 - 0.5).powi(2)).sqrt();
    1.06 - 0.45 * r
}
