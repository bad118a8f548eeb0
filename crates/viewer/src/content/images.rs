//! The images that cover the surface, and which of them an appearance needs.

use ganosis_dossier::document::LayerKind;
use ganosis_surface::gltf_in::beside;
use ganosis_surface::{ImageSource, Surface};

use super::{Appearance, Content, Image, ImageKind, Progress, Source};

impl Content {
    /// Every image there may be: region maps, layers, and the mesh's own.
    pub(super) fn list_images(&mut self, surface: &Surface) {
        let mut images = Vec::new();
        let mut add = |kind, layer, sheet, source| {
            images.push(Image {
                kind,
                layer,
                sheet,
                source,
                progress: Progress::Wanted,
                values: None,
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
                    add(kind, Some(index), sheet, Source::File(image.file.clone()));
                }
            }
        }
        for image in self.document.region_map.iter().flat_map(|m| &m.images) {
            if let Some(sheet) = mesh_sheet(&image.sheet) {
                add(
                    ImageKind::Labels,
                    None,
                    sheet,
                    Source::File(image.file.clone()),
                );
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
                        );
                    }
                    Some(ImageSource::Embedded { .. }) => {
                        add(ImageKind::Colour, None, index, Source::Embedded(index));
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
        let image = self
            .image_of(None, sheet, ImageKind::Labels)
            .map(|i| &self.images[i]);
        image
            .and_then(|i| i.values.as_ref())
            .map_or(0, |v| v.at(uv))
    }

    /// After the loss of the device: every image is to be fetched again, except those that failed.
    pub fn want_images_again(&mut self) {
        for image in &mut self.images {
            if matches!(image.progress, Progress::Here(_)) {
                image.progress = Progress::Wanted;
            }
        }
    }
}
