//! What covers each patch on either side.

use std::collections::BTreeMap;

use ganosis_dossier::document::LayerKind;
use ganosis_renderer::{
    BandLook, LayerContent, LayerPaint, MOST_LAYERS, NO_SHEET, PatchPaint, SidePaint, TextureId,
    UvTransform, Wrap,
};
use ganosis_surface::{self as surface, AlphaMode, Surface};

use super::{Appearance, BARE, Content, ImageKind, Progress};
use crate::view::LayerLook;

/// How layers are shown, and what lies over all of them.
#[derive(Clone, Copy, Debug)]
pub struct Looks<'a> {
    /// By the ids of the layers; those not named as they are.
    pub layers: &'a BTreeMap<String, LayerLook>,
    /// Index of a band layer.
    pub over: Option<usize>,
}

/// Layers as they are.
pub const PLAIN: Looks<'static> = Looks {
    layers: &BTreeMap::new(),
    over: None,
};

impl Content {
    /// Images that cover a patch in a state, the lowest first.
    #[must_use]
    pub fn images_over(&self, state: usize, patch: &surface::Patch) -> Vec<usize> {
        let sheet = self.sheet_of_patch(Appearance::State(state), patch);
        let record = &self.document.states[state];
        if self.ground_layer(record).is_none() {
            let own = self.image_of(None, sheet, ImageKind::Colour);
            return own.into_iter().collect();
        }
        self.shown_layers(record)
            .filter_map(|layer| {
                self.image_of(Some(layer), sheet, ImageKind::Colour)
                    .or_else(|| self.image_of(Some(layer), sheet, ImageKind::Band))
            })
            .collect()
    }

    /// Cover of every patch on one side.
    #[must_use]
    pub fn side_paints(&self, appearance: Appearance, looks: &Looks<'_>) -> Vec<SidePaint> {
        let Some(surface) = self.surface() else {
            return Vec::new();
        };
        surface
            .patches
            .iter()
            .map(|patch| self.side_paint(appearance, patch, surface, looks))
            .collect()
    }

    /// Cover of one patch on one side.
    #[must_use]
    pub fn side_paint(
        &self,
        appearance: Appearance,
        patch: &surface::Patch,
        surface: &Surface,
        looks: &Looks<'_>,
    ) -> SidePaint {
        let sheet_index = self.sheet_of_patch(appearance, patch);
        let bare = SidePaint {
            shown: self.shows(appearance, patch),
            factor: BARE,
            ..SidePaint::default()
        };
        let stack = |layers: &mut dyn Iterator<Item = usize>| {
            let paint = |l| self.layer_paint(l, sheet_index, looks);
            let mut found: Vec<LayerPaint> = layers.filter_map(paint).collect();
            let over = looks
                .over
                .filter(|over| appearance != Appearance::Band(*over));
            if let Some(over) = over.and_then(paint) {
                // Where there is no room it takes the place of the uppermost.
                found.truncate(MOST_LAYERS - 1);
                found.push(over);
            }
            let mut found = found.into_iter();
            std::array::from_fn(|_| found.next())
        };
        match appearance {
            Appearance::Band(layer) => covered(SidePaint {
                layers: stack(&mut std::iter::once(layer)),
                factor: [1.0; 4],
                ..bare
            }),
            Appearance::State(state) => {
                let record = &self.document.states[state];
                if self.ground_layer(record).is_some() {
                    return covered(SidePaint {
                        layers: stack(&mut self.shown_layers(record)),
                        factor: [1.0; 4],
                        ..bare
                    });
                }
                let own = material(surface.sheets.get(sheet_index), sheet_index == patch.sheet);
                let texture =
                    self.texture_here(self.image_of(None, sheet_index, ImageKind::Colour));
                SidePaint {
                    shown: bare.shown,
                    material: true,
                    layers: std::array::from_fn(|i| {
                        texture.filter(|_| i == 0).map(|texture| LayerPaint {
                            texture,
                            content: LayerContent::Srgb,
                            weight: 1.0,
                        })
                    }),
                    ..own
                }
            }
        }
    }

    pub(crate) fn texture_here(&self, image: Option<usize>) -> Option<TextureId> {
        match image.map(|i| &self.images[i].progress) {
            Some(Progress::Here(id)) => Some(*id),
            _ => None,
        }
    }

    /// A layer over a sheet, once its image is here.
    fn layer_paint(&self, layer: usize, sheet: usize, looks: &Looks<'_>) -> Option<LayerPaint> {
        let record = &self.document.layers[layer];
        let look = looks.layers.get(&record.id).copied().unwrap_or_default();
        let band = record.kind == LayerKind::Band;
        let kind = if band {
            ImageKind::Band
        } else {
            ImageKind::Colour
        };
        let texture = self.texture_here(self.image_of(Some(layer), sheet, kind))?;
        let p3 = record.colour_space.as_ref();
        let content = if band {
            LayerContent::Band(BandLook {
                ends: look.ends.map(|end| end as f32),
                map: look.map,
                lines: look.lines,
            })
        } else if p3.is_some_and(|s| s.as_str() == "display-p3") {
            LayerContent::DisplayP3
        } else {
            LayerContent::Srgb
        };
        Some(LayerPaint {
            texture,
            content,
            weight: look.opacity as f32,
        })
    }

    /// Cover of every patch on both sides.
    #[must_use]
    pub fn paints(
        &self,
        left: Appearance,
        right: Appearance,
        looks: &Looks<'_>,
    ) -> Vec<PatchPaint> {
        let Some(surface) = self.surface() else {
            return Vec::new();
        };
        let sides = self
            .side_paints(left, looks)
            .into_iter()
            .zip(self.side_paints(right, looks));
        let labels = |sheet| self.texture_here(self.image_of(None, sheet, ImageKind::Labels));
        sides
            .zip(&surface.patches)
            .map(|((left_side, right_side), patch)| {
                // Layers of a dossier cover the surface; only a mesh's own materials can be see-through.
                let alpha = surface
                    .sheets
                    .get(patch.sheet)
                    .filter(|_| self.plain_mesh)
                    .map(|s| &s.alpha);
                PatchPaint {
                    sides: [left_side, right_side],
                    labels: labels(patch.sheet),
                    sheet: u8::try_from(patch.sheet).unwrap_or(NO_SHEET).min(NO_SHEET),
                    alpha_cutoff: match alpha {
                        Some(AlphaMode::Mask(cutoff)) => *cutoff,
                        _ => 0.0,
                    },
                    translucent: matches!(alpha, Some(AlphaMode::Blend)),
                }
            })
            .collect()
    }
}

/// A side; without any image it shows plain relief.
fn covered(side: SidePaint) -> SidePaint {
    if side.stack().next().is_some() {
        return side;
    }
    SidePaint {
        factor: BARE,
        ..side
    }
}

/// A material of the mesh itself on a patch: `own` when it is the patch's own, whose texture
/// transform its UVs carry already.
fn material(sheet: Option<&surface::Sheet>, own: bool) -> SidePaint {
    let Some(sheet) = sheet else {
        return SidePaint {
            factor: BARE,
            ..SidePaint::default()
        };
    };
    let mut paint = SidePaint {
        factor: sheet.base_colour,
        ..SidePaint::default()
    };
    if let Some(texture) = &sheet.texture {
        let wrap = |w: surface::Wrap| match w {
            surface::Wrap::Repeat => Wrap::Repeat,
            surface::Wrap::Mirror => Wrap::Mirror,
            surface::Wrap::Clamp => Wrap::Clamp,
        };
        paint.wrap = [wrap(texture.wrap_s), wrap(texture.wrap_t)];
        paint.nearest = texture.nearest;
        if !own {
            paint.raw_uvs = true;
            paint.uv = uv_transform(&texture.transform);
        }
    }
    paint
}

fn uv_transform(transform: &surface::UvTransform) -> UvTransform {
    let affine = transform.affine();
    let (x, y, t) = (
        affine.matrix2.x_axis,
        affine.matrix2.y_axis,
        affine.translation,
    );
    UvTransform([[x.x, y.x, t.x], [x.y, y.y, t.y]])
}
