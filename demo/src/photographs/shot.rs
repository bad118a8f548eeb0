//! Taking a photograph: rays through every pixel, the lamp's unevenness, noise, 16-bit codes.

use super::camera::{Lens, Station};
use super::chart;
use super::scene::{Light, Scene};
use crate::files::Png16;
use crate::noise::Random;
use anyhow::Result;
use glam::{DVec2, DVec3};
use rayon::prelude::*;
use std::path::Path;

/// What stands before the camera.
#[derive(Clone, Copy)]
pub(crate) enum Before<'a> {
    /// The boss.
    Boss(&'a Scene, Light),
    /// The colour chart, square to the camera.
    Chart,
    /// A white board.
    Board,
    /// The lens cap.
    Cap,
}

/// Something in one photograph that is not on the object.
#[derive(Clone, Copy)]
pub(crate) enum Flaw {
    /// A highlight: its middle and radius in metres.
    Highlight(DVec3, f64),
    /// The shadow of a stand, along y of the surface: its middle and half its width in metres.
    Shadow(f64, f64),
}

/// One photograph to take.
pub(crate) struct Shot<'a> {
    /// Seeds the noise.
    pub(crate) name: &'a str,
    /// The lens.
    pub(crate) lens: Lens,
    /// Where the camera stands.
    pub(crate) station: Station,
    /// What it sees.
    pub(crate) before: Before<'a>,
    /// What should not be there.
    pub(crate) flaws: &'a [Flaw],
    /// How far the image of a point spreads, in pixels to each side.
    pub(crate) blur_px: f64,
}

/// Rays through a pixel along each side.
const RAYS: usize = 2;
/// Code of a perfect white in the middle of the picture, as a share of the largest.
const EXPOSURE: f64 = 0.82;
/// Code without light, as a share of the largest.
const BLACK: f64 = 0.004;
/// Standard deviation of noise without light, and its square's growth with light, in shares of the
/// largest code: of a good camera at low sensitivity (common practice, no source).
const READ: f64 = 0.0006;
const SHOT: f64 = 1.2e-5;
/// Reflectance of the white board, in every band: it is the standard that bands are scaled to.
pub(crate) const BOARD: f64 = 0.9;
/// What is seen beside the object.
const BACKGROUND: f32 = 0.02;
/// The colour camera's channels from linear sRGB: its sensitivities overlap, and its raw white is
/// not neutral.
const CHANNELS: [[f64; 3]; 3] = [[0.55, 0.13, 0.02], [0.16, 0.74, 0.10], [0.03, 0.16, 0.45]];

impl Shot<'_> {
    /// Takes it and writes it as a PNG of linear codes.
    pub(crate) fn write(&self, path: &Path, seed: u64) -> Result<()> {
        let rows: Vec<Vec<u16>> = (0..self.lens.height_px)
            .into_par_iter()
            .map(|y| self.row(y, seed))
            .collect();
        Png16 {
            width: self.lens.width_px,
            height: self.lens.height_px,
            channels: if self.is_grey() { 1 } else { 3 },
            rows: &rows,
        }
        .write(path)
    }

    fn is_grey(&self) -> bool {
        match self.before {
            Before::Boss(_, light) => light != Light::Colour,
            _ => self.name.starts_with('g'),
        }
    }

    fn row(&self, y: usize, seed: u64) -> Vec<u16> {
        let mut random = Random::new(seed, &format!("{} {y}", self.name));
        let mut codes = Vec::with_capacity(3 * self.lens.width_px);
        for x in 0..self.lens.width_px {
            let pixel = DVec2::new(x as f64, y as f64);
            let light = self.light(pixel);
            let field = EXPOSURE * self.field(pixel + 0.5);
            let channels = if self.is_grey() { 1 } else { 3 };
            for row in &CHANNELS[..channels] {
                let own = if self.is_grey() {
                    light.x
                } else {
                    DVec3::from_array(*row).dot(light)
                };
                let clean = BLACK + field * own;
                let spread = (READ * READ + SHOT * clean.max(0.0)).sqrt();
                let noisy = clean + spread * f64::from(random.bell());
                codes.push((noisy.clamp(0.0, 1.0) * 65535.0).round() as u16);
            }
        }
        codes
    }

    /// The lens darkens towards the corners, the lamp stands on the left of the camera and goes
    /// with it.
    fn field(&self, pixel: DVec2) -> f64 {
        let size = DVec2::new(self.lens.width_px as f64, self.lens.height_px as f64);
        let from_middle = (pixel - 0.5 * size) / size.x;
        let corner = 1.0 - 0.45 * from_middle.length_squared();
        corner * (1.0 - 0.22 * from_middle.x + 0.08 * from_middle.y)
    }

    fn light(&self, corner: DVec2) -> DVec3 {
        match self.before {
            Before::Cap => return DVec3::ZERO,
            Before::Board => return DVec3::splat(BOARD),
            _ => {}
        }
        let reach = 1.0 + 2.0 * self.blur_px;
        let share = 1.0 / (RAYS * RAYS) as f64;
        let mut sum = DVec3::ZERO;
        for k in 0..RAYS * RAYS {
            let within = DVec2::new((k % RAYS) as f64 + 0.5, (k / RAYS) as f64 + 0.5);
            let off = (within / RAYS as f64 - 0.5) * reach + 0.5;
            sum += self.ray(self.lens.normalised(corner + off)) * share;
        }
        sum
    }

    fn ray(&self, normalised: DVec2) -> DVec3 {
        let Before::Boss(scene, light) = self.before else {
            return chart::light(normalised * self.lens.focal_px / self.lens.width_px as f64);
        };
        let Some(hit) = scene.hit(self.station.centre_m(), self.station.ray(normalised)) else {
            return DVec3::splat(f64::from(BACKGROUND));
        };
        let mut seen = DVec3::from_array(scene.light(&hit, light).map(f64::from));
        let place = hit.position_m.as_dvec3();
        for flaw in self.flaws {
            match *flaw {
                Flaw::Highlight(at, radius) if (place - at).length() < radius => {
                    seen = DVec3::splat(1.4);
                }
                Flaw::Shadow(at, half) if (place.x - at).abs() < half => seen *= 0.45,
                _ => {}
            }
        }
        seen
    }
}
