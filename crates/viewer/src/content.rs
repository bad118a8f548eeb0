//! What is shown: document, surface, and the images that cover it.

use ganosis_dossier::document::{Dossier, Layer, LayerKind, Sheet, State, SurfaceRecord};
use ganosis_dossier::read;
use ganosis_renderer::{
    LayerContent, LayerPaint, MOST_LAYERS, PatchPaint, SidePaint, TextureId, UvTransform, Wrap,
};
use ganosis_surface::{self as surface, AlphaMode, ImageSource, Surface};
use glam::DVec3;

use crate::camera::{Ball, Basis};
use crate::paths::beside;
use crate::view::Known;

/// Something that could not be shown, in words for a curator.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The file it is about.
    pub file: String,
    /// What is wrong and what to do.
    pub message: String,
}

/// Nothing can be shown at all.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{file}: {message}")]
pub struct OpenError {
    /// The file it is about.
    pub file: String,
    /// What is wrong and what to do.
    pub message: String,
}

/// What an image holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ImageKind {
    /// Encoded colour.
    Colour,
    /// One number a texel.
    Band,
    /// Region numbers.
    Labels,
}

/// Where an image comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum Source {
    /// A file, from the dossier's folder.
    File(String),
    /// Inside the mesh file, as the base colour of this sheet of the mesh.
    Embedded(usize),
}

/// How far an image is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Progress {
    /// To be fetched.
    Wanted,
    /// On the GPU.
    Here(TextureId),
    /// Not to be had.
    Failed,
}

/// One image over one sheet.
#[derive(Clone, Debug)]
pub struct Image {
    /// What it holds.
    pub kind: ImageKind,
    /// Index of its layer in the document; none for the region map and for images of the mesh itself.
    pub layer: Option<usize>,
    /// Index of its sheet in the mesh.
    pub sheet: usize,
    /// Where it comes from.
    pub source: Source,
    /// How far it is.
    pub progress: Progress,
    /// Values kept for the probe.
    pub values: Option<Values>,
}

/// Band values or region numbers, rows from the top.
#[derive(Clone, Debug)]
pub struct Values {
    /// Width and height (px).
    pub size: [u32; 2],
    /// A number a texel.
    pub texels: Vec<u16>,
    /// The number that stands for the upper end of the range.
    pub full_scale: u16,
}

impl Values {
    /// The value at `uv` (v = 0 is the top row), repeated beyond the border.
    #[must_use]
    pub fn at(&self, uv: [f32; 2]) -> u16 {
        let texel = |x: f32, n: u32| ((x.rem_euclid(1.0) * n as f32) as usize).min(n as usize - 1);
        let index = texel(uv[1], self.size[1]) * self.size[0] as usize + texel(uv[0], self.size[0]);
        self.texels.get(index).copied().unwrap_or(0)
    }
}

/// What a side can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Appearance {
    /// A state, by its index.
    State(usize),
    /// A band layer, by its index.
    Band(usize),
}

/// Where the mesh comes from and how far it is.
#[derive(Debug)]
enum SurfaceProgress {
    /// The file itself is to be fetched.
    Wanted,
    /// Files it names are to be fetched.
    Buffers {
        bytes: Vec<u8>,
        files: Vec<(String, Option<Vec<u8>>)>,
    },
    /// Read.
    Here(Box<Surface>),
    /// Not to be had.
    Failed,
}

/// Document, surface and images.
#[derive(Debug)]
pub struct Content {
    /// The dossier; for a plain mesh one made up for it.
    pub document: Dossier,
    /// Images, in the order of their making.
    pub images: Vec<Image>,
    /// What could not be shown.
    pub problems: Vec<Problem>,
    /// The dossier was made up for a plain mesh file.
    pub plain_mesh: bool,
    surface_file: String,
    progress: SurfaceProgress,
    variant_of_state: Vec<Option<usize>>,
    sheet_of_mesh: Vec<Option<usize>>,
}

/// A sheet without an image: a light stone grey, shown as relief.
pub const BARE: [f32; 4] = [0.6, 0.6, 0.6, 1.0];

impl Content {
    /// Opens `dossier.json` or a mesh file by its bytes.
    ///
    /// # Errors
    /// When the bytes are neither, or when a mesh file cannot be read.
    pub fn open(name: &str, bytes: &[u8]) -> Result<Self, OpenError> {
        if bytes.starts_with(b"glTF") || is_gltf_json(bytes) {
            return Self::open_mesh(name, bytes);
        }
        let reading = read::document_from_bytes(bytes).map_err(|error| OpenError {
            file: name.to_owned(),
            message: error.to_string(),
        })?;
        let mut content = Self::empty(reading.document);
        content.problems = reading
            .findings
            .iter()
            .map(|f| Problem {
                file: f.file.clone(),
                message: format!("{}: {}. {}", f.path, f.message, f.advice),
            })
            .collect();
        content.note_deep_stacks();
        content.surface_file = content.document.surface.file.clone();
        if content.surface_file.is_empty() {
            return Err(OpenError {
                file: name.to_owned(),
                message: "the dossier names no surface: give the path of a .glb or .gltf file at surface.file".into(),
            });
        }
        content.variant_of_state = vec![None; content.document.states.len()];
        Ok(content)
    }

    fn empty(document: Dossier) -> Self {
        Self {
            document,
            images: Vec::new(),
            problems: Vec::new(),
            plain_mesh: false,
            surface_file: String::new(),
            progress: SurfaceProgress::Wanted,
            variant_of_state: Vec::new(),
            sheet_of_mesh: Vec::new(),
        }
    }

    /// Says which states have more layers than are drawn at once.
    fn note_deep_stacks(&mut self) {
        let problems: Vec<Problem> = self
            .document
            .states
            .iter()
            .filter(|state| state.layers.len() > MOST_LAYERS)
            .map(|state| Problem {
                file: "dossier.json".to_owned(),
                message: format!(
                    "the state {} has {} layers; the lowest {MOST_LAYERS} are shown. Join some of them into one image",
                    state.id,
                    state.layers.len()
                ),
            })
            .collect();
        self.problems.extend(problems);
    }

    fn open_mesh(name: &str, bytes: &[u8]) -> Result<Self, OpenError> {
        let mut content = Self::empty(Dossier {
            format: ganosis_dossier::document::FORMAT.to_owned(),
            id: name.to_owned(),
            title: name.to_owned().into(),
            surface: SurfaceRecord {
                file: name.to_owned(),
                ..SurfaceRecord::default()
            },
            ..Dossier::default()
        });
        content.surface_file = name.to_owned();
        content.plain_mesh = true;
        content.supply_surface(bytes.to_vec())?;
        Ok(content)
    }

    /// The mesh, once it is here.
    #[must_use]
    pub fn surface(&self) -> Option<&Surface> {
        match &self.progress {
            SurfaceProgress::Here(surface) => Some(surface),
            _ => None,
        }
    }

    /// Files of the mesh that are to be fetched: id, path, and whether it is a buffer.
    #[must_use]
    pub fn wanted_files(&self) -> Vec<(String, String, bool)> {
        match &self.progress {
            SurfaceProgress::Wanted => {
                vec![("surface".to_owned(), self.surface_file.clone(), false)]
            }
            SurfaceProgress::Buffers { files, .. } => files
                .iter()
                .filter(|(_, bytes)| bytes.is_none())
                .map(|(uri, _)| {
                    (
                        format!("buffer:{uri}"),
                        beside(&self.surface_file, uri),
                        true,
                    )
                })
                .collect(),
            _ => Vec::new(),
        }
    }

    /// Takes the bytes of the mesh file; true when the surface is complete with them.
    ///
    /// # Errors
    /// When the mesh cannot be read.
    pub fn supply_surface(&mut self, bytes: Vec<u8>) -> Result<bool, OpenError> {
        let files = surface::gltf_in::needed_files(&bytes).map_err(|e| self.refused(e))?;
        self.progress = SurfaceProgress::Buffers {
            bytes,
            files: files.into_iter().map(|f| (f, None)).collect(),
        };
        self.read_when_complete()
    }

    /// Takes the bytes of a buffer of the mesh file; true when the surface is complete with them.
    ///
    /// # Errors
    /// When the mesh cannot be read.
    pub fn supply_buffer(&mut self, uri: &str, bytes: Vec<u8>) -> Result<bool, OpenError> {
        if let SurfaceProgress::Buffers { files, .. } = &mut self.progress
            && let Some(file) = files.iter_mut().find(|(name, _)| name == uri)
        {
            file.1 = Some(bytes);
        }
        self.read_when_complete()
    }

    /// The mesh, or a file it needs, is not to be had.
    pub fn fail_surface(&mut self) {
        self.progress = SurfaceProgress::Failed;
    }

    fn refused(&mut self, error: impl std::fmt::Display) -> OpenError {
        self.progress = SurfaceProgress::Failed;
        OpenError {
            file: self.surface_file.clone(),
            message: error.to_string(),
        }
    }

    fn read_when_complete(&mut self) -> Result<bool, OpenError> {
        let SurfaceProgress::Buffers { bytes, files } = &self.progress else {
            return Ok(false);
        };
        if files.iter().any(|(_, bytes)| bytes.is_none()) {
            return Ok(false);
        }
        let find = |uri: &str| {
            files
                .iter()
                .find(|(name, _)| name == uri)
                .and_then(|(_, bytes)| bytes.clone())
        };
        let surface = match surface::gltf_in::read(bytes, &find) {
            Ok(surface) => surface,
            Err(error) => return Err(self.refused(error)),
        };
        let file = self.surface_file.clone();
        let notes = surface.notes.iter().map(|note| Problem {
            file: file.clone(),
            message: note.clone(),
        });
        self.problems.extend(notes);
        if surface.patches.iter().all(|p| p.indices.is_empty()) {
            return Err(self.refused("there is no triangle in this file: nothing to show"));
        }
        if self.plain_mesh {
            self.describe_mesh(&surface);
        }
        self.sheet_of_mesh = surface
            .sheets
            .iter()
            .map(|s| self.sheet_for(&s.name))
            .collect();
        self.list_images(&surface);
        self.progress = SurfaceProgress::Here(Box::new(surface));
        Ok(true)
    }

    /// States and sheets of a plain mesh: its variants, or its materials as they are.
    fn describe_mesh(&mut self, surface: &Surface) {
        self.document.surface.sheets = surface
            .sheets
            .iter()
            .map(|s| Sheet {
                id: s.name.clone(),
                material: s.name.clone(),
                ..Sheet::default()
            })
            .collect();
        let state = |id: &str| State {
            id: id.to_owned(),
            title: id.to_owned().into(),
            ..State::default()
        };
        if surface.variants.is_empty() {
            self.document.states = vec![state("materials")];
            self.variant_of_state = vec![None];
        } else {
            self.document.states = surface.variants.iter().map(|name| state(name)).collect();
            self.variant_of_state = (0..surface.variants.len()).map(Some).collect();
        }
    }

    fn sheet_for(&self, material: &str) -> Option<usize> {
        self.document
            .surface
            .sheets
            .iter()
            .position(|s| s.material == material)
    }

    /// Every image there may be: region maps, layers, and the mesh's own.
    fn list_images(&mut self, surface: &Surface) {
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

    /// Layers of a state that are shown, the ground first: from the first colour layer up, at most
    /// [`MOST_LAYERS`].
    pub fn shown_layers<'a>(&'a self, state: &'a State) -> impl Iterator<Item = usize> + 'a {
        let is_band = |l: usize| self.document.layers[l].kind == LayerKind::Band;
        state
            .layers
            .iter()
            .filter_map(|id| self.document.layers.iter().position(|l| l.id == *id))
            .skip_while(move |l| is_band(*l))
            .take(MOST_LAYERS)
    }

    fn ground_layer(&self, state: &State) -> Option<usize> {
        self.shown_layers(state).next()
    }

    /// The state or band layer with this id.
    #[must_use]
    pub fn appearance(&self, id: &str) -> Option<Appearance> {
        let state = self
            .document
            .states
            .iter()
            .position(|s| s.id == id)
            .map(Appearance::State);
        state.or_else(|| {
            let band = |l: &Layer| l.id == id && l.kind == LayerKind::Band;
            self.document
                .layers
                .iter()
                .position(band)
                .map(Appearance::Band)
        })
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

    /// The sheet of a patch in an appearance: variants choose their own.
    #[must_use]
    pub fn sheet_of_patch(&self, appearance: Appearance, patch: &surface::Patch) -> usize {
        let Appearance::State(state) = appearance else {
            return patch.sheet;
        };
        let variant = self.variant_of_state.get(state).copied().flatten();
        patch
            .variant_sheets
            .iter()
            .find(|(v, _)| Some(*v) == variant)
            .map_or(patch.sheet, |(_, sheet)| *sheet)
    }

    /// Ids of the parts that a patch belongs to.
    pub fn parts_of<'a>(&'a self, patch: &'a surface::Patch) -> impl Iterator<Item = &'a str> {
        let parts = &self.document.surface.parts;
        parts
            .iter()
            .filter(|p| patch.node_path.contains(&p.node))
            .map(|p| p.id.as_str())
    }

    /// Whether an appearance shows a patch: a part only where the state names it.
    #[must_use]
    pub fn shows(&self, appearance: Appearance, patch: &surface::Patch) -> bool {
        let mut parts = self.parts_of(patch).peekable();
        if parts.peek().is_none() {
            return true;
        }
        match appearance {
            Appearance::Band(_) => false,
            Appearance::State(state) => {
                let named = &self.document.states[state].parts;
                parts.any(|part| named.iter().any(|n| n == part))
            }
        }
    }

    /// Cover of every patch on one side.
    #[must_use]
    pub fn side_paints(&self, appearance: Appearance) -> Vec<SidePaint> {
        let Some(surface) = self.surface() else {
            return Vec::new();
        };
        surface
            .patches
            .iter()
            .map(|patch| self.side_paint(appearance, patch, surface))
            .collect()
    }

    /// Cover of one patch on one side.
    #[must_use]
    pub fn side_paint(
        &self,
        appearance: Appearance,
        patch: &surface::Patch,
        surface: &Surface,
    ) -> SidePaint {
        let sheet_index = self.sheet_of_patch(appearance, patch);
        let bare = SidePaint {
            shown: self.shows(appearance, patch),
            factor: BARE,
            ..SidePaint::default()
        };
        let stack = |layers: &mut dyn Iterator<Item = usize>| {
            let mut found = layers.filter_map(|l| self.layer_paint(l, sheet_index));
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

    fn texture_here(&self, image: Option<usize>) -> Option<TextureId> {
        match image.map(|i| &self.images[i].progress) {
            Some(Progress::Here(id)) => Some(*id),
            _ => None,
        }
    }

    /// A layer over a sheet, once its image is here.
    fn layer_paint(&self, layer: usize, sheet: usize) -> Option<LayerPaint> {
        let record = &self.document.layers[layer];
        let band = record.kind == LayerKind::Band;
        let kind = if band {
            ImageKind::Band
        } else {
            ImageKind::Colour
        };
        let texture = self.texture_here(self.image_of(Some(layer), sheet, kind))?;
        let p3 = record.colour_space.as_ref();
        let content = if band {
            LayerContent::Band([0.0, 1.0])
        } else if p3.is_some_and(|s| s.as_str() == "display-p3") {
            LayerContent::DisplayP3
        } else {
            LayerContent::Srgb
        };
        Some(LayerPaint {
            texture,
            content,
            weight: 1.0,
        })
    }

    /// Cover of every patch on both sides.
    #[must_use]
    pub fn paints(&self, left: Appearance, right: Appearance) -> Vec<PatchPaint> {
        let Some(surface) = self.surface() else {
            return Vec::new();
        };
        let sides = self
            .side_paints(left)
            .into_iter()
            .zip(self.side_paints(right));
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
                    alpha_cutoff: match alpha {
                        Some(AlphaMode::Mask(cutoff)) => *cutoff,
                        _ => 0.0,
                    },
                    translucent: matches!(alpha, Some(AlphaMode::Blend)),
                }
            })
            .collect()
    }

    /// Sphere around the surface.
    #[must_use]
    pub fn ball(&self) -> Ball {
        let Some(bounds) = self.surface().and_then(Surface::bounds) else {
            return Ball {
                centre_m: DVec3::ZERO,
                radius_m: 1.0,
            };
        };
        let centre_m = (bounds.min_m.as_dvec3() + bounds.max_m.as_dvec3()) / 2.0;
        let patches = self.surface().map_or(&[][..], |s| &s.patches);
        let squared = patches
            .iter()
            .flat_map(|p| &p.positions)
            .map(|p| p.as_dvec3().distance_squared(centre_m))
            .fold(0.0, f64::max);
        Ball {
            centre_m,
            radius_m: squared.sqrt().max(1e-9),
        }
    }

    /// Extent of the surface along the axes of the mesh, in metres.
    #[must_use]
    pub fn size_m(&self) -> DVec3 {
        let bounds = self.surface().and_then(Surface::bounds);
        bounds.map_or(DVec3::ZERO, |b| (b.max_m - b.min_m).as_dvec3())
    }

    /// Directions of the object.
    #[must_use]
    pub fn basis(&self) -> Basis {
        let orientation = self.document.object.orientation.clone().unwrap_or_default();
        Basis::new(
            DVec3::from_array(orientation.up),
            DVec3::from_array(orientation.front),
        )
    }

    /// Name of a sheet of the mesh as the dossier calls it.
    #[must_use]
    pub fn sheet_id(&self, mesh_sheet: usize) -> &str {
        let own = self.sheet_of_mesh.get(mesh_sheet).copied().flatten();
        match own {
            Some(own) => &self.document.surface.sheets[own].id,
            None => self
                .surface()
                .and_then(|s| s.sheets.get(mesh_sheet))
                .map_or("", |s| &s.name),
        }
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

fn is_gltf_json(bytes: &[u8]) -> bool {
    #[derive(serde::Deserialize)]
    struct Head {
        asset: Option<serde::de::IgnoredAny>,
        format: Option<serde::de::IgnoredAny>,
    }
    serde_json::from_slice::<Head>(bytes)
        .is_ok_and(|head| head.asset.is_some() && head.format.is_none())
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

impl Known for Content {
    fn appearance(&self, id: &str) -> bool {
        Content::appearance(self, id).is_some()
    }
    fn pin(&self, id: &str) -> bool {
        self.document.pins.iter().any(|p| p.id == id)
    }
    fn region(&self, id: &str) -> bool {
        self.document.regions.iter().any(|r| r.id == id)
    }
    fn appearances(&self) -> Vec<String> {
        let states = self.document.states.iter().map(|s| s.id.clone());
        let bands = self
            .document
            .layers
            .iter()
            .filter(|l| l.kind == LayerKind::Band)
            .map(|l| l.id.clone());
        states.chain(bands).collect()
    }
}
