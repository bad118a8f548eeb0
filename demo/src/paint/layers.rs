//! All layers of a sheet in one pass over bands of rows, so that memory stays flat at any size.

use super::remains::{Usual, aged, even_light, fresh, modelling, survival, underdrawing};
use super::scheme::{Paint, Scheme};
use super::stone::stone;
use super::texel::{Place, place};
use crate::files::PngRows;
use crate::maths::mix;
use crate::noise::{fractal, value};
use crate::sculpt::Sculpture;
use crate::surface::mesh::Mesh;
use crate::surface::raster::{EMPTY, by_band, draw};
use crate::surface::unwrap::Sheet;
use anyhow::Result;
use ganosis_colorimetry::rgb::encode_srgb;
use glam::{Vec2, Vec3};
use rayon::prelude::*;
use std::path::Path;

/// Rows worked on at a time.
const ROWS: usize = 128;

/// Layers in the order of their files.
pub(crate) const LAYERS: [(&str, png::ColorType, png::BitDepth); 9] = [
    ("layers/as-found", png::ColorType::Rgb, png::BitDepth::Eight),
    (
        "layers/evidence-based",
        png::ColorType::Rgb,
        png::BitDepth::Eight,
    ),
    (
        "layers/hypothesis-a",
        png::ColorType::Rgb,
        png::BitDepth::Eight,
    ),
    (
        "layers/hypothesis-b",
        png::ColorType::Rgb,
        png::BitDepth::Eight,
    ),
    ("layers/irfc", png::ColorType::Rgb, png::BitDepth::Eight),
    (
        "layers/vis",
        png::ColorType::Grayscale,
        png::BitDepth::Eight,
    ),
    (
        "layers/uvl",
        png::ColorType::Grayscale,
        png::BitDepth::Eight,
    ),
    (
        "layers/irr",
        png::ColorType::Grayscale,
        png::BitDepth::Sixteen,
    ),
    ("regions", png::ColorType::Grayscale, png::BitDepth::Eight),
];

/// Everything that the painter needs.
pub(crate) struct Painter<'a> {
    /// The carving.
    pub(crate) sculpture: &'a Sculpture,
    /// Boss and bill.
    pub(crate) meshes: [&'a Mesh; 2],
    /// Seed of the noise.
    pub(crate) seed: u32,
    /// What was there.
    pub(crate) truth: Scheme,
    /// The three reconstructed states.
    pub(crate) states: [Scheme; 3],
    /// Priming under paint.
    pub(crate) priming: Paint,
    /// Bole under gold.
    pub(crate) bole: Paint,
    /// How a coat lies in each region.
    pub(crate) usual: Usual,
    /// Encoding table, linear to 8-bit sRGB.
    pub(crate) encode: Vec<u8>,
}

/// Steps of the encoding table: fine enough that no code is missed in the darks.
const STEPS: usize = 8192;

/// The table from linear light to 8-bit sRGB.
pub(crate) fn encoding() -> Vec<u8> {
    (0..=STEPS)
        .map(|i| (encode_srgb(i as f64 / STEPS as f64) * 255.0).round() as u8)
        .collect()
}

/// One texel in all layers.
struct Texel {
    colours: [Vec3; 5],
    vis: f32,
    uvl: f32,
    irr: f32,
    region: u8,
}

impl Painter<'_> {
    fn texel(&self, place: &Place) -> Texel {
        let seed = self.seed;
        let stone = stone(seed, place);
        let model = modelling(place);
        let kept = survival(seed, place);
        let sky = even_light(place);
        let mut found = stone.found * mix(0.45, 1.0, model) * sky;
        let drawn = underdrawing(place);
        let grain = 1.0 + 0.04 * value(seed ^ 51, place.p * 12.0);
        let mut irr = mix(0.78, 0.30, stone.dirt) * grain;
        let glue = (fractal(seed ^ 52, place.p * 0.27, 4) * 3.0 - 0.35).clamp(0.0, 1.0);
        let mut uvl = mix(0.30 + 0.45 * glue, 0.05, stone.dirt) * grain + 0.2 * place.fresh;
        if let Some(paint) = self.truth.of(place.region) {
            let under = if paint.metal {
                &self.bole
            } else {
                &self.priming
            };
            let aged = aged(seed, place, fresh(seed, place, paint, &self.usual))
                * mix(0.5, 1.0, model)
                * sky;
            let grime = 0.10 + 0.42 * stone.dirt;
            let tone = |c: Vec3| c.lerp(Vec3::new(0.085, 0.068, 0.05), grime * 0.75);
            found = found.lerp(
                tone(under.colour * mix(0.4, 0.78, model)),
                kept.under * 0.85,
            );
            found = found.lerp(tone(aged), kept.paint);
            irr = mix(irr, under.infrared * mix(1.0, 0.25, drawn), kept.under);
            irr = mix(irr, paint.infrared * mix(1.0, 0.45, drawn), kept.paint);
            uvl = mix(uvl, under.luminescence, kept.under);
            uvl = mix(uvl, paint.luminescence, kept.paint);
        }
        let painted = |s: &Scheme| match s.of(place.region) {
            Some(paint) => fresh(seed, place, paint, &self.usual),
            None => stone.bare(self.usual.pooled(place)),
        };
        let vis = found.dot(Vec3::new(0.2126, 0.7152, 0.0722));
        let irr = irr * mix(0.5, 1.0, model);
        Texel {
            colours: [
                found,
                painted(&self.states[0]),
                painted(&self.states[1]),
                painted(&self.states[2]),
                Vec3::new(irr, found.x, found.y),
            ],
            vis,
            uvl: uvl * mix(0.6, 1.0, model),
            irr,
            region: place.region.number(),
        }
    }

    fn code(&self, linear: f32) -> u8 {
        self.encode[(linear.clamp(0.0, 1.0) * STEPS as f32 + 0.5) as usize]
    }

    fn put(&self, texel: &Texel, out: &mut [Vec<u8>]) {
        for (layer, c) in texel.colours.iter().enumerate() {
            out[layer].extend([self.code(c.x), self.code(c.y), self.code(c.z)]);
        }
        let byte = |v: f32| (v.clamp(0.0, 1.0) * 255.0 + 0.5) as u8;
        out[5].push(byte(texel.vis));
        out[6].push(byte(texel.uvl));
        out[7].extend(((texel.irr.clamp(0.0, 1.0) * 65535.0 + 0.5) as u16).to_be_bytes());
        out[8].push(texel.region);
    }

    /// Between the charts: mid stone, so that nothing shines through at small sizes.
    fn blank() -> Texel {
        let c = Vec3::new(0.40, 0.35, 0.27);
        Texel {
            colours: [c; 5],
            vis: 0.35,
            uvl: 0.2,
            irr: 0.5,
            region: 0,
        }
    }

    fn rows(&self, sheet: &Sheet, band: &[u32], first: usize, size: usize) -> Vec<Vec<u8>> {
        let rows: Vec<Vec<Vec<u8>>> = band
            .par_chunks(size)
            .enumerate()
            .map(|(y, row)| {
                let mut out = vec![Vec::new(); LAYERS.len()];
                for (x, &triangle) in row.iter().enumerate() {
                    let texel = if triangle == EMPTY {
                        Self::blank()
                    } else {
                        let at = Vec2::new(x as f32 + 0.5, (first + y) as f32 + 0.5);
                        self.texel(&place(
                            self.sculpture,
                            &self.meshes,
                            sheet,
                            triangle,
                            at,
                            size,
                        ))
                    };
                    self.put(&texel, &mut out);
                }
                out
            })
            .collect();
        (0..LAYERS.len())
            .map(|layer| rows.iter().flat_map(|r| r[layer].iter().copied()).collect())
            .collect()
    }

    /// Paints a sheet and writes all its images; gives back the region map.
    pub(crate) fn write(
        &self,
        dir: &Path,
        sheet: &Sheet,
        size: usize,
        say: &dyn Fn(&str),
    ) -> Result<Vec<u8>> {
        let bleed = (size / 512).max(2);
        let bands = by_band(sheet, size, ROWS, bleed);
        let mut files = LAYERS
            .iter()
            .map(|(folder, colour, depth)| {
                PngRows::create(
                    &dir.join(folder).join(format!("{}.png", sheet.id)),
                    size,
                    *colour,
                    *depth,
                )
            })
            .collect::<Result<Vec<_>>>()?;
        let mut regions = Vec::with_capacity(size * size);
        for (i, list) in bands.iter().enumerate() {
            let band = draw(sheet, list, size, i * ROWS, ROWS, bleed);
            let layers = self.rows(sheet, &band.triangle, band.first, size);
            regions.extend_from_slice(&layers[LAYERS.len() - 1]);
            files
                .par_iter_mut()
                .zip(&layers)
                .try_for_each(|(file, rows)| file.write(rows))?;
            if (i + 1) % (bands.len() / 4).max(1) == 0 {
                say(&format!(
                    "sheet {}: {} %",
                    sheet.id,
                    (i + 1) * 100 / bands.len()
                ));
            }
        }
        files.into_iter().try_for_each(PngRows::finish)?;
        Ok(regions)
    }
}
