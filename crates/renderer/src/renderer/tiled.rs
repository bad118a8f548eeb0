//! Images in tiles: what is added, asked for and put into the pool.

use super::Renderer;
use crate::RendererError;
use crate::frame::{Compare, Cut, Frame};
use crate::paint::Side;
use crate::pipelines::{Kind, Parts, Use};
use crate::readback::Readback;
use crate::texture::{Samples, TextureId};
use crate::tiles::{Ask, PoolKind, TileId, Wanted};

/// A pixel of the picture that asks for tiles stands for so many across: a tile of 256 texels is then
/// seen by a thousand of them where texels and pixels are alike.
const PIXELS: u32 = 4;

/// The asking for tiles under way.
#[derive(Debug)]
pub struct Asked {
    /// Its answer.
    pub readback: Readback,
    size: [u32; 2],
    asks: Vec<Ask>,
}

impl Renderer {
    /// Says that a texture is the base of an image of `size` px that is cut into tiles.
    pub fn set_tiled(&mut self, id: TextureId, size: [u32; 2]) {
        let Some(base) = self.textures.get(&id) else {
            return;
        };
        let kind = PoolKind::of(base.texture.format());
        self.tiles.add(&self.gpu, id, kind, size);
        for pair in &mut self.pairs {
            pair.draws = None;
        }
    }

    /// Whether what [`Renderer::ask_for_tiles`] draws with is made.
    #[must_use]
    pub fn can_ask_for_tiles(&self, frame: &Frame) -> bool {
        let wanted = Kind::Object(Use::Wanted, wanted_parts(frame));
        self.pipelines.of(wanted).is_some()
    }

    /// Draws which tiles of the images `asks` the part of `size` px at `origin` of a picture of `whole` px needs, and starts
    /// reading it; see [`Renderer::tiles_wanted`]. Of panes one is drawn, which the others are like.
    ///
    /// # Errors
    /// [`RendererError::TooLarge`] for a size the device cannot hold.
    pub fn ask_for_tiles(
        &mut self,
        frame: &Frame,
        asks: Vec<Ask>,
        whole: [u32; 2],
        origin: [u32; 2],
        size: [u32; 2],
    ) -> Result<Asked, RendererError> {
        let (whole, origin, size) = match frame.compare {
            Compare::Panes { grid } => {
                let pane = [0, 1].map(|k| whole[k].div_ceil(grid[k].max(1)));
                (pane, [0, 0], pane)
            }
            _ => (whole, origin, size),
        };
        let whole = whole.map(|s| s.div_ceil(PIXELS));
        let origin = origin.map(|s| s / PIXELS);
        let size = [0, 1].map(|k| {
            size[k]
                .div_ceil(PIXELS)
                .min(whole[k].saturating_sub(origin[k]))
                .max(1)
        });
        self.gpu.check_size("the picture", size[0], size[1])?;
        let cut = Cut {
            whole_px: whole,
            origin_px: origin,
            reach_px: [0, 0],
        };
        let frame = &Frame {
            compare: Compare::One(Side::Left),
            cut: (size != whole).then_some(cut),
            ..*frame
        };
        self.build_draws();
        self.parts = wanted_parts(frame);
        self.prepare(Use::Wanted);
        let readback = self.draw_numbers(frame, Use::Wanted, size, &|paint| {
            paint.sides.iter().any(|s| s.shown)
        });
        Ok(Asked {
            readback,
            size,
            asks,
        })
    }

    /// Tiles that are needed and not here: `rgba` is the answer to `asked`. Those that are here count as
    /// looked at.
    pub fn tiles_wanted(&mut self, asked: &Asked, rgba: &[u8]) -> Vec<Wanted> {
        self.tiles
            .wanted(&asked.asks, rgba, asked.size, PIXELS as f32)
    }

    /// Puts a tile of encoded RGBA into the pool; what had to go for it comes back, or itself where
    /// everything in the pool is looked at.
    ///
    /// # Errors
    /// A tile of another size.
    pub fn put_tile(
        &mut self,
        tile: TileId,
        size: [u32; 2],
        rgba: &[u8],
    ) -> Result<Option<TileId>, RendererError> {
        self.tiles.put_colour(&self.gpu, tile, size, rgba)
    }

    /// As [`Renderer::put_tile`], for values of a band or a region map.
    ///
    /// # Errors
    /// A tile of another size.
    pub fn put_tile_values(
        &mut self,
        tile: TileId,
        size: [u32; 2],
        samples: Samples<'_>,
    ) -> Result<Option<TileId>, RendererError> {
        self.tiles.put_values(&self.gpu, tile, size, samples)
    }

    /// As [`Renderer::put_tile`], for colour that the browser has decoded.
    ///
    /// # Errors
    /// A tile of another size.
    #[cfg(target_arch = "wasm32")]
    pub fn put_tile_bitmap(
        &mut self,
        tile: TileId,
        bitmap: &web_sys::ImageBitmap,
    ) -> Result<Option<TileId>, RendererError> {
        self.tiles.put_bitmap(&self.gpu, tile, bitmap)
    }

    /// The finest level that is here at a place of an image in tiles; nothing where only the base is.
    #[must_use]
    pub fn tile_level(&self, id: TextureId, uv: [f32; 2]) -> Option<u32> {
        self.tiles.texel(id, uv).map(|(_, _, level)| level)
    }
}

/// What the pipeline has that says which tiles a frame needs.
pub(super) fn wanted_parts(frame: &Frame) -> Parts {
    let rich = frame.section.is_some();
    Parts {
        rich,
        plain: !rich,
        ..Parts::default()
    }
}
