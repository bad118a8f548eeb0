//! The images that cover the surface, and which of them an appearance needs.

use ganosis_dossier::document::{LayerImage, LayerKind};
use ganosis_surface::beside;
use ganosis_surface::{ImageSource, Surface};
use ganosis_tiles::{BORDER_PX, TILE_PX};

use super::{Appearance, Content, Image, ImageKind, Progress, Source, Tiled};

fn file(image: &LayerImage) -> Source {
    Source::File(image.file.clone())
}

fn tiled(image: &LayerImage) -> Option<Tiled> {
    let size = [image.width_px, image.height_px];
    let tiles = image.tiles.as_ref().filter(|_| !size.contains(&0))?;
    Some(Tiled {
        size,
        index: tiles.index.clone(),
    })
}

impl Content {
    /// Every image there may be: region maps, layers, and the mesh's own.
    pub(super) fn list_images(&mut self, surface: &Surface) {
        let mut images = Vec::new();
        let mut add = |kind, layer, sheet, source, tiled| {
            images.push(Image {
                kind,
                layer,
                sheet,
                source,
                progress: Progress::Wanted,
                values: None,
                tiled,
            });
        };
        let mesh_sheet = |id: &str| {
            let own = self
                .document
                .surface
                .sheets
                .iter()
                .position(|s| s.id == id)?;
            self.sheet_of_mesh.iter().position(|s| *s == Some(own))
        };
        for (index, layer) in self.document.layers.iter().enumerate() {
            let kind = if layer.kind == LayerKind::Band {
                ImageKind::Band
            } else {
                ImageKind::Colour
            };
            for image in &layer.images {
                if let Some(sheet) = mesh_sheet(&image.sheet) {
                    add(kind, Some(index), sheet, file(image), tiled(image));
                }
            }
        }
        for image in self.document.region_map.iter().flat_map(|m| &m.images) {
            if let Some(sheet) = mesh_sheet(&image.sheet) {
                add(ImageKind::Labels, None, sheet, file(image), tiled(image));
            }
        }
        if self
            .document
            .states
            .iter()
            .any(|s| self.ground_layer(s).is_none())
        {
            for (index, sheet) in surface.sheets.iter().enumerate() {
                match sheet.texture.as_ref().map(|t| &t.image) {
                    Some(ImageSource::Uri(uri)) => {
                        add(
                            ImageKind::Colour,
                            None,
                            index,
                            Source::File(beside(&self.surface_file, uri)),
                            None,
                        );
                    }
                    Some(ImageSource::Embedded { .. }) => {
                        add(
                            ImageKind::Colour,
                            None,
                            index,
                            Source::Embedded(index),
                            None,
                        );
                    }
                    None => {}
                }
            }
        }
        self.images = images;
    }

    /// Bytes and media type of an image inside the mesh file.
    #[must_use]
    pub fn embedded(&self, image: usize) -> Option<(&[u8], &str)> {
        let Source::Embedded(sheet) = self.images.get(image)?.source else {
            return None;
        };
        match &self.surface()?.sheets.get(sheet)?.texture.as_ref()?.image {
            ImageSource::Embedded { mime, bytes } => Some((bytes, mime)),
            ImageSource::Uri(_) => None,
        }
    }

    /// Index of the image of a layer (or of the mesh itself) over a sheet.
    #[must_use]
    pub fn image_of(&self, layer: Option<usize>, sheet: usize, kind: ImageKind) -> Option<usize> {
        self.images
            .iter()
            .position(|i| i.layer == layer && i.sheet == sheet && i.kind == kind)
    }

    /// Images that an appearance needs before it can be shown.
    #[must_use]
    pub fn images_for(&self, appearance: Appearance) -> Vec<usize> {
        let fits = |image: &Image| match appearance {
            Appearance::Band(layer) => image.kind == ImageKind::Band && image.layer == Some(layer),
            Appearance::State(state) => {
                let state = &self.document.states[state];
                let own = self.ground_layer(state).is_none() && image.layer.is_none();
                image.kind != ImageKind::Labels
                    && ((own && image.kind == ImageKind::Colour)
                        || image
                            .layer
                            .is_some_and(|l| self.shown_layers(state).any(|c| c == l)))
            }
        };
        (0..self.images.len())
            .filter(|&i| fits(&self.images[i]))
            .collect()
    }

    /// Region number at a place on a sheet of the mesh, 0 for none.
    #[must_use]
    pub fn region_number(&self, sheet: usize, uv: [f32; 2]) -> u16 {
        let image = self.image_of(None, sheet, ImageKind::Labels);
        image
            .and_then(|i| self.value_at(i, uv))
            .map_or(0, |(v, _)| v)
    }

    /// The value of an image at a place, from the finest of it that is here, and the number that stands for
    /// the upper end of its range.
    #[must_use]
    pub fn value_at(&self, image: usize, uv: [f32; 2]) -> Option<(u16, u16)> {
        let record = &self.images[image];
        let pyramid = record.tiled.as_ref().map(Tiled::pyramid);
        let levels = pyramid
            .into_iter()
            .flat_map(|p| (0..p.base_level()).map(move |l| (p, l)));
        let tile = levels.into_iter().find_map(|(pyramid, level)| {
            let (place, texel) = pyramid.at(level, uv);
            let wanted = [image as u32, pyramid.number(place)?];
            let (_, values) = self.tile_values.iter().find(|(tile, _)| *tile == wanted)?;
            let [x, y] = [[place.x, texel[0]], [place.y, texel[1]]]
                .map(|[tile, at]| at - tile * TILE_PX + BORDER_PX);
            let value = values.texels.get((y * values.size[0] + x) as usize)?;
            Some((*value, values.full_scale))
        });
        tile.or_else(|| record.values.as_ref().map(|v| (v.at(uv), v.full_scale)))
    }

    /// After the loss of the device: every image is to be fetched again, except those that failed.
    pub fn want_images_again(&mut self) {
        self.tile_values.clear();
        for image in &mut self.images {
            if matches!(image.progress, Progress::Here(_)) {
                image.progress = Progress::Wanted;
            }
        }
    }
}
