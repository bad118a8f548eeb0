//! Images in tiles: what the picture needs of them, and what came.

use ganosis_renderer::{Ask, Asked, Renderer, RendererError, TextureId, TileId, Wanted};

use super::{App, OpenError};
use crate::content::{Content, Image, ImageKind, Progress, Values};
use crate::light::Mode;

/// A tile: index of its image, and its number there.
pub type Tile = [u32; 2];

/// Gives a tile to the renderer's pool, which says what had to go for it.
type Put<'a> = &'a dyn Fn(&mut Renderer, TileId) -> Result<Option<TileId>, RendererError>;

impl App {
    /// Images that are cut into tiles: index, path of the list, and kind.
    pub fn tiled(&self) -> impl Iterator<Item = (usize, &str, ImageKind)> {
        let images = self
            .content
            .iter()
            .flat_map(|c| c.images.iter().enumerate());
        images.filter_map(|(i, image)| Some((i, image.tiled.as_ref()?.index.as_str(), image.kind)))
    }

    /// Tells the renderer that an image which is here is the base of one in tiles.
    pub(super) fn note_tiled(&mut self, index: usize) {
        let image = self.content.as_ref().map(|c| &c.images[index]);
        if let Some((Some(tiled), Progress::Here(id))) = image.map(|i| (&i.tiled, &i.progress))
            && let Some(renderer) = &mut self.renderer
        {
            renderer.set_tiled(*id, tiled.size);
        }
    }

    /// Images in tiles that the picture shows, those looked at first in the first rank.
    pub(super) fn asks(&self) -> Vec<Ask> {
        let (Some(content), Some(view)) = (&self.content, &self.view) else {
            return Vec::new();
        };
        let mut ranked: Vec<(usize, u8)> = Vec::new();
        let mut put = |i: usize, rank: u8| {
            if ranked.iter().all(|(known, _)| *known != i) {
                ranked.push((i, rank));
            }
        };
        for id in view.shown() {
            let images = content.appearance(id).map(|a| content.images_for(a));
            images.into_iter().flatten().for_each(|i| put(i, 0));
        }
        let labels = view.region.is_some()
            || view.overlay.is_some()
            || view.lamp.is_some()
            || view.light.mode != Mode::AsMeasured;
        let over = view.over.as_deref();
        for (i, image) in content.images.iter().enumerate() {
            let layer = image.layer.map(|l| content.document.layers[l].id.as_str());
            if (image.kind == ImageKind::Labels && labels) || (over.is_some() && layer == over) {
                put(i, 1);
            }
        }
        let ask = |(i, rank): (usize, u8)| {
            let image = &content.images[i];
            let (Some(_), Progress::Here(id)) = (&image.tiled, &image.progress) else {
                return None;
            };
            let sheet = u8::try_from(image.sheet).ok()?;
            Some(Ask {
                image: *id,
                sheet,
                rank,
            })
        };
        ranked.into_iter().filter_map(ask).collect()
    }

    /// Whether what the picture needs can be asked without making first what frames to come will make.
    #[must_use]
    pub fn can_ask_for_tiles(&self) -> bool {
        let frame = self.frame(self.aspect(), self.pixel_ratio);
        let (Some(frame), Some(renderer)) = (frame, &self.renderer) else {
            return false;
        };
        renderer.can_ask_for_tiles(&frame) || (self.ready() && !self.wants_frame())
    }

    /// Tiles to be brought, by the answer to what was asked; of each its rank and its weight in 64ths too.
    pub fn tiles_wanted(&mut self, asked: &Asked, rgba: &[u8]) -> Vec<[u32; 4]> {
        let (Some(content), Some(renderer)) = (&self.content, &mut self.renderer) else {
            return Vec::new();
        };
        let wanted = renderer.tiles_wanted(asked, rgba);
        let told = |w: &Wanted| {
            let image = content.image_with(w.tile.image)? as u32;
            let weight = (w.weight * 64.0) as u32;
            Some([image, w.tile.number, u32::from(w.rank), weight])
        };
        wanted.iter().filter_map(told).collect()
    }

    /// Tiles of the finest level at a point of the canvas that are not here: what the probe reads there.
    pub fn tiles_at(&mut self, x: f64, y: f64) -> Vec<Tile> {
        let Some(place) = self.place_at(x, y) else {
            return Vec::new();
        };
        let (Some(content), Some(renderer)) = (&self.content, &self.renderer) else {
            return Vec::new();
        };
        let missing = |(i, image): (usize, &Image)| {
            content.missing_tile(i, image, place.sheet, place.uv, renderer)
        };
        content
            .images
            .iter()
            .enumerate()
            .filter_map(missing)
            .collect()
    }

    /// Takes a colour tile through `put`, which gives it to the pool; false where there is no room, since
    /// everything in the pool is looked at.
    ///
    /// # Errors
    /// A tile that is not of this image.
    pub fn supply_tile(&mut self, [index, number]: Tile, put: Put<'_>) -> Result<bool, OpenError> {
        let id = self
            .content
            .as_ref()
            .and_then(|c| c.texture_here(Some(index as usize)));
        let (Some(image), Some(renderer)) = (id, &mut self.renderer) else {
            return Ok(true);
        };
        let own = TileId { image, number };
        let gone = put(renderer, own).map_err(|e| OpenError {
            file: String::new(),
            message: e.to_string(),
        })?;
        if let Some((gone, content)) = gone.zip(self.content.as_mut())
            && let Some(image) = content.image_with(gone.image)
        {
            let gone = [image as u32, gone.number];
            content.tile_values.retain(|(tile, _)| *tile != gone);
        }
        self.dirty = true;
        Ok(gone != Some(own))
    }

    /// As [`App::supply_tile`], for the numbers of a tile of a band or a region map.
    ///
    /// # Errors
    /// A tile that is not of this image.
    pub fn supply_tile_values(&mut self, tile: Tile, values: Values) -> Result<bool, OpenError> {
        let put = |renderer: &mut Renderer, id| {
            values.with_samples(|samples| renderer.put_tile_values(id, values.size, samples))
        };
        let kept = self.supply_tile(tile, &put)?;
        if let Some(content) = self.content.as_mut().filter(|_| kept) {
            content.tile_values.retain(|(known, _)| *known != tile);
            content.tile_values.push((tile, values));
        }
        Ok(kept)
    }
}

impl Content {
    /// Index of the image with this texture.
    fn image_with(&self, id: TextureId) -> Option<usize> {
        self.images
            .iter()
            .position(|i| i.progress == Progress::Here(id))
    }

    /// The finest tile of an image at a place, when it is not here.
    pub(super) fn missing_tile(
        &self,
        index: usize,
        image: &Image,
        sheet: usize,
        uv: [f32; 2],
        renderer: &Renderer,
    ) -> Option<Tile> {
        let Progress::Here(id) = image.progress else {
            return None;
        };
        let tiled = image.tiled.as_ref().filter(|_| image.sheet == sheet)?;
        if renderer.tile_level(id, uv) == Some(0) {
            return None;
        }
        let pyramid = tiled.pyramid();
        Some([index as u32, pyramid.number(pyramid.at(0, uv).0)?])
    }
}
