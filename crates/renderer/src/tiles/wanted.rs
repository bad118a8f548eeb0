//! Which tiles a picture needs.

use ganosis_tiles::{Place, Pyramid, TILE_PX};

use super::{TileId, Tiles};
use crate::texture::TextureId;

/// What stands for no surface in the answer of the shader.
pub const NO_SHEET: u8 = 31;

/// Steps of u and v in the answer.
const STEPS: f32 = 1024.0;

/// An image that is shown on a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ask {
    /// Its base.
    pub image: TextureId,
    /// Number of the sheet, as in the paints.
    pub sheet: u8,
    /// Images of a lower rank are brought first.
    pub rank: u8,
}

/// A tile that is to be brought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Which one.
    pub tile: TileId,
    /// Its image's rank.
    pub rank: u8,
    /// How much of the picture it covers, what is looked at counting most.
    pub weight: f32,
}

/// A place in the picture: where on a sheet, and the texels a UV unit has at the wanted fineness.
struct Sample {
    sheet: u8,
    uv: [f32; 2],
    fineness: f32,
}

fn sample([r, g, b, a]: [u8; 4], pixels: f32) -> Option<Sample> {
    let sheet = a >> 3;
    if sheet >= NO_SHEET {
        return None;
    }
    let u = u32::from(r) | (u32::from(b & 3) << 8);
    let v = u32::from(g) | (u32::from((b >> 2) & 3) << 8);
    let eighths = u32::from(b >> 4) | (u32::from(a & 7) << 4);
    Some(Sample {
        sheet,
        uv: [u, v].map(|x| (x as f32 + 0.5) / STEPS),
        // The step was rounded down: the footprint may be finer by an eighth of a level.
        fineness: (0.125 * (eighths as f32 + 1.0)).exp2() * pixels,
    })
}

impl Tiles {
    /// Tiles that are looked at and not here. `rgba` is the answer of the shader, of `size` px, a pixel of
    /// which stands for `pixels` across of the picture.
    pub(crate) fn wanted(
        &mut self,
        asks: &[Ask],
        rgba: &[u8],
        size: [u32; 2],
        pixels: f32,
    ) -> Vec<Wanted> {
        self.round += 1;
        let pyramids: Vec<Option<Pyramid>> = asks
            .iter()
            .map(|ask| Some(self.image(ask.image)?.pyramid))
            .collect();
        let mut weights: Vec<Vec<f32>> = pyramids
            .iter()
            .map(|p| vec![0.0; p.map_or(0, |p| p.tiles() as usize)])
            .collect();
        for (i, texel) in rgba.as_chunks::<4>().0.iter().enumerate() {
            let Some(sample) = sample(*texel, pixels) else {
                continue;
            };
            let at = [i as u32 % size[0].max(1), i as u32 / size[0].max(1)];
            let off = [0, 1].map(|k| 2.0 * at[k] as f32 / size[k].max(1) as f32 - 1.0);
            // What lies in the middle is looked at: it counts twice what lies in a corner.
            let weight = 1.0 / (1.0 + 0.5 * (off[0] * off[0] + off[1] * off[1]));
            for (number, ask) in asks.iter().enumerate() {
                let pyramid = pyramids[number].filter(|_| ask.sheet == sample.sheet);
                for tile in pyramid.into_iter().flat_map(|p| needed(p, &sample)) {
                    weights[number][tile as usize] += weight;
                }
            }
        }
        let mut wanted: Vec<Wanted> = Vec::new();
        for (ask, weights) in asks.iter().zip(weights) {
            let Some(image) = self.images.iter().find(|image| image.id == ask.image) else {
                continue;
            };
            let Some(pool) = &mut self.pools[image.kind as usize] else {
                continue;
            };
            for (number, weight) in (0..).zip(weights).filter(|(_, w)| *w > 0.0) {
                if let Some(slot) = image.slot(number) {
                    pool.touch(slot, self.round);
                    continue;
                }
                wanted.push(Wanted {
                    tile: TileId {
                        image: ask.image,
                        number,
                    },
                    rank: ask.rank,
                    weight,
                });
            }
        }
        wanted
    }
}

/// Tiles that a place needs of the two levels between which it is filtered.
fn needed(pyramid: Pyramid, sample: &Sample) -> impl Iterator<Item = u32> + use<> {
    // The narrow side of a footprint decides, which lies along the shorter side of the image at most.
    let shortest = pyramid.size[0].min(pyramid.size[1]) as f32;
    let fine = (shortest / sample.fineness).log2().floor().max(0.0) as u32;
    let own = pyramid;
    let uv = sample.uv;
    (fine..(fine + 2).min(own.base_level())).flat_map(move |level| {
        let size = own.size_of(level);
        // The answer is rounded, and the pixels around need the same tile or the next.
        let spread = [0, 1].map(|k| 0.5 / STEPS + 4.0 / size[k] as f32);
        let tile = |k: usize, side: f32| {
            let texel =
                ((uv[k] + side * spread[k]) * size[k] as f32).clamp(0.0, size[k] as f32 - 1.0);
            texel as u32 / TILE_PX
        };
        let (columns, rows) = (tile(0, -1.0)..=tile(0, 1.0), tile(1, -1.0)..=tile(1, 1.0));
        columns.flat_map(move |x| {
            rows.clone()
                .filter_map(move |y| own.number(Place { level, x, y }))
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1024 texels of an image of 4096 px across a footprint of 1/1024: level 2, which is the base's
    /// neighbour, and nothing finer.
    #[test]
    fn a_place_needs_the_levels_around_its_footprint() {
        let pyramid = Pyramid::new([4096, 4096]);
        let place = |fineness| Sample {
            sheet: 0,
            uv: [0.26, 0.26],
            fineness,
        };
        let levels = |fineness| -> Vec<u32> {
            let place = place(fineness);
            let numbers = needed(pyramid, &place);
            let mut levels: Vec<u32> = numbers
                .filter_map(|n| Some(pyramid.place(n)?.level))
                .collect();
            levels.dedup();
            levels
        };
        assert_eq!(levels(1024.0), [2]);
        assert_eq!(levels(4096.0), [0, 1]);
        assert_eq!(levels(100_000.0), [0, 1], "enlarged");
        assert_eq!(levels(300.0), [] as [u32; 0], "the base does");
    }

    /// Bits as the shader packs them.
    #[test]
    fn the_answer_is_unpacked() {
        let (u, v, fine, sheet) = (1023_u32, 257_u32, 87_u32, 5_u32);
        let bytes = [
            (u & 255) as u8,
            (v & 255) as u8,
            ((u >> 8) | ((v >> 8) << 2) | ((fine & 15) << 4)) as u8,
            ((fine >> 4) | (sheet << 3)) as u8,
        ];
        let found = sample(bytes, 1.0).expect("a surface");
        assert_eq!(
            (found.sheet, found.uv),
            (5, [1023.5 / 1024.0, 257.5 / 1024.0])
        );
        assert!((found.fineness - 11.0_f32.exp2()).abs() < 0.01);
        assert!(sample([255; 4], 1.0).is_none());
    }
}
