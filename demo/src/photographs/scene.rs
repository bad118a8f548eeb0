//! What the cameras see: the boss as found, by exact rays.

use anyhow::{Context, Result, bail, ensure};
use ganosis_colorimetry::rgb::decode_srgb;
use ganosis_surface::pick::{Hit, Picker};
use ganosis_surface::{Bounds, gltf_in};
use glam::{DVec3, Vec2};
use std::path::Path;

/// Node of the restored bill, which is not there when photographs are taken.
pub(crate) const RESTORED: &str = "bill";

/// The layers that are photographed, in the order of [`Light`].
const LAYERS: [&str; 4] = ["as-found", "vis", "uvl", "irr"];

/// What a camera is sensitive to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Light {
    /// Colour.
    Colour,
    /// Daylight, grey.
    Visible,
    /// Luminescence under ultraviolet lamps.
    Luminescence,
    /// Infrared.
    Infrared,
}

/// A layer's image of one sheet.
struct Page {
    side_px: usize,
    channels: usize,
    codes: Vec<u16>,
}

/// The boss with its layers.
pub(crate) struct Scene {
    picker: Picker,
    is_there: Vec<bool>,
    sheet_of_patch: Vec<usize>,
    /// By layer, then by sheet.
    pages: Vec<Vec<Page>>,
    light_of_code: Vec<f32>,
    /// Extent of the surface.
    pub(crate) bounds: Bounds,
}

impl Scene {
    /// Reads surface and layers from the dossier that was made.
    pub(crate) fn read(dossier: &Path) -> Result<Self> {
        let path = dossier.join("surface.glb");
        let bytes = std::fs::read(&path).with_context(|| path.display().to_string())?;
        let surface = gltf_in::read(&bytes, &|_| None)?;
        let is_there = surface.patches.iter();
        let is_there = is_there.map(|p| !p.node_path.iter().any(|n| n == RESTORED));
        let pages = LAYERS.iter().map(|layer| {
            let sheets = surface.sheets.iter();
            let page = |name: &str| page(&dossier.join(format!("layers/{layer}/{name}.png")));
            sheets.map(|sheet| page(&sheet.name)).collect()
        });
        Ok(Self {
            picker: Picker::new(&surface),
            is_there: is_there.collect(),
            sheet_of_patch: surface.patches.iter().map(|p| p.sheet).collect(),
            pages: pages.collect::<Result<_>>()?,
            light_of_code: (0..=u16::MAX)
                .map(|c| decode_srgb(f64::from(c) / 65535.0) as f32)
                .collect(),
            bounds: surface.bounds().context("the surface has no triangles")?,
        })
    }

    /// What a ray meets first.
    pub(crate) fn hit(&self, from_m: DVec3, direction: DVec3) -> Option<Hit> {
        let there = |patch: usize| self.is_there[patch];
        self.picker
            .ray(from_m.as_vec3(), direction.as_vec3(), &there)
    }

    /// Linear light there; of a grey band three equal values.
    pub(crate) fn light(&self, hit: &Hit, of: Light) -> [f32; 3] {
        let page = &self.pages[of as usize][self.sheet_of_patch[hit.patch]];
        let decode = |code: u16| match of {
            Light::Colour => self.light_of_code[usize::from(code)],
            _ => f32::from(code) / 65535.0,
        };
        page.at(hit.uv, &decode)
    }
}

impl Page {
    /// Between the centres of texels, in linear light.
    fn at(&self, uv: Vec2, decode: &dyn Fn(u16) -> f32) -> [f32; 3] {
        let side = self.side_px as f32;
        let at = (uv * side - 0.5).clamp(Vec2::ZERO, Vec2::splat(side - 1.0));
        let low = at.floor();
        let part = at - low;
        let (x, y) = (low.x as usize, low.y as usize);
        let mut sum = [0.0; 3];
        for (dy, wy) in [(0, 1.0 - part.y), (1, part.y)] {
            for (dx, wx) in [(0, 1.0 - part.x), (1, part.x)] {
                let column = (x + dx).min(self.side_px - 1);
                let row = (y + dy).min(self.side_px - 1);
                let first = (row * self.side_px + column) * self.channels;
                for (c, sum) in sum.iter_mut().enumerate() {
                    let code = self.codes[first + c.min(self.channels - 1)];
                    *sum += wx * wy * decode(code);
                }
            }
        }
        sum
    }
}

fn page(path: &Path) -> Result<Page> {
    let place = || path.display().to_string();
    let file = std::fs::File::open(path).with_context(place)?;
    let reader = png::Decoder::new(std::io::BufReader::new(file)).read_info();
    let mut reader = reader.with_context(place)?;
    let size = reader.output_buffer_size().with_context(place)?;
    let mut bytes = vec![0; size];
    let frame = reader.next_frame(&mut bytes).with_context(place)?;
    ensure!(
        frame.width == frame.height,
        "{}: sheets are square",
        place()
    );
    let channels = match frame.color_type {
        png::ColorType::Grayscale => 1,
        png::ColorType::Rgb => 3,
        other => bail!("{}: layers have no {other:?}", place()),
    };
    let codes = match frame.bit_depth {
        png::BitDepth::Eight => bytes.iter().map(|&b| u16::from(b) * 257).collect(),
        _ => bytes
            .chunks_exact(2)
            .map(|b| u16::from_be_bytes([b[0], b[1]]))
            .collect(),
    };
    Ok(Page {
        side_px: frame.width as usize,
        channels,
        codes,
    })
}
