//! Images in tiles: what is added, asked for and put into the pool.

use super::{Renderer, begin_object_pass};
use crate::RendererError;
use crate::frame::{Compare, Cut, Frame};
use crate::paint::Side;
use crate::pipelines::{Parts, Use};
use crate::readback::Readback;
use crate::target::{Target, attachment, picture};
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
}

impl Renderer {
    /// Says that a colour texture is the base of an image of `size` px that is cut into tiles.
    pub fn set_tiled_colour(&mut self, id: TextureId, size: [u32; 2]) {
        self.set_tiled(id, PoolKind::Colour, size);
    }

    /// As [`Renderer::set_tiled_colour`], for a band.
    pub fn set_tiled_band(&mut self, id: TextureId, size: [u32; 2]) {
        self.set_tiled(id, PoolKind::Band, size);
    }

    /// As [`Renderer::set_tiled_colour`], for a region map.
    pub fn set_tiled_labels(&mut self, id: TextureId, size: [u32; 2]) {
        self.set_tiled(id, PoolKind::Labels, size);
    }

    fn set_tiled(&mut self, id: TextureId, kind: PoolKind, size: [u32; 2]) {
        self.tiles.add(&self.gpu, id, kind, size);
        for pair in &mut self.pairs {
            pair.draws = None;
        }
    }

    /// Draws which tiles the part of `size` px at `origin` of a picture of `whole` px needs, and starts
    /// reading it; see [`Renderer::tiles_wanted`]. Of panes one is drawn, which the others are like.
    ///
    /// # Errors
    /// [`RendererError::TooLarge`] for a size the device cannot hold.
    pub fn ask_for_tiles(
        &mut self,
        frame: &Frame,
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
        self.parts = Parts {
            rich: frame.section.is_some(),
            ..Parts::default()
        };
        self.prepare(Use::Wanted);
        let texture = picture(&self.gpu, size, self.format);
        let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
        let target = Target::new(&self.gpu, size, self.format, 1);
        self.write_frame(frame, size);
        let mut encoder = self
            .gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let nothing = wgpu::LoadOp::Clear(wgpu::Color::WHITE);
        let mut pass = begin_object_pass(&mut encoder, attachment(&view, None, nothing), &target);
        if let Some(cut) = frame.cut {
            let [x, y, width, height] = cut.viewport([0, 0, whole[0], whole[1]], size);
            pass.set_viewport(x, y, width, height, 0.0, 1.0);
        }
        self.draw_patches(&mut pass, Use::Wanted, 0, &|paint| {
            paint.sides.iter().any(|s| s.shown)
        });
        drop(pass);
        self.gpu.queue.submit([encoder.finish()]);
        Ok(Asked {
            readback: Readback::of_texture(&self.gpu, &texture, [0; 3], size, 4),
            size,
        })
    }

    /// Tiles of the images `asks` that are needed and not here: `rgba` is the answer to `asked`. Those that are here count as looked at.
    pub fn tiles_wanted(&mut self, asked: &Asked, asks: &[Ask], rgba: &[u8]) -> Vec<Wanted> {
        self.tiles.wanted(asks, rgba, asked.size, PIXELS as f32)
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
