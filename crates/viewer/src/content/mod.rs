//! What is shown: document, surface, and the images that cover it.

#[cfg(feature = "files")]
mod files;
mod images;
mod paints;

pub use paints::{Looks, PLAIN};

use ganosis_dossier::document::{Dossier, Layer, LayerKind, Sheet, State, SurfaceRecord};
use ganosis_dossier::read;
use ganosis_renderer::{MOST_LAYERS, Samples, TextureId};
use ganosis_surface::{self as surface, Surface};
use ganosis_tiles::Pyramid;
use glam::DVec3;
use std::collections::BTreeSet;
use std::rc::Rc;

use crate::app::Rect;
use crate::camera::{Ball, Basis};
use crate::lamp::Spectra;
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
    /// Nowhere: a region map that is drawn here.
    Drawn,
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
    /// Values kept for the probe; of an image in tiles those of its base.
    pub values: Option<Values>,
    /// Its finer levels, where it is cut into tiles.
    pub tiled: Option<Tiled>,
}

/// An image that is cut into tiles.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tiled {
    /// Width and height of the whole image (px).
    pub size: [u32; 2],
    /// Path of the list of its tiles.
    pub index: String,
}

impl Tiled {
    /// Its levels.
    #[must_use]
    pub fn pyramid(&self) -> Pyramid {
        Pyramid::new(self.size)
    }
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
    /// The texels as a renderer takes them, in the bits that they have.
    pub fn with_samples<T>(&self, work: impl FnOnce(Samples<'_>) -> T) -> T {
        if self.full_scale == u16::from(u8::MAX) {
            let bytes: Vec<u8> = self.texels.iter().map(|&v| v as u8).collect();
            return work(Samples::Eight(&bytes));
        }
        work(Samples::Sixteen(&self.texels))
    }

    /// The value at `uv` (v = 0 is the top row), repeated beyond the border.
    #[must_use]
    pub fn at(&self, uv: [f32; 2]) -> u16 {
        let texel = |x: f32, n: u32| ((x.rem_euclid(1.0) * n as f32) as usize).min(n as usize - 1);
        let index = texel(uv[1], self.size[1]) * self.size[0] as usize + texel(uv[0], self.size[0]);
        self.texels.get(index).copied().unwrap_or(0)
    }

    /// Writes a part, rows from the top; false, and nothing is written, where it does not fit.
    pub fn write(&mut self, rect: Rect, texels: &[u16]) -> bool {
        let [x, y, width, height] = [rect.x, rect.y, rect.width, rect.height].map(|n| n as usize);
        let [across, down] = self.size.map(|n| n as usize);
        if x + width > across || y + height > down || texels.len() != width * height {
            return false;
        }
        for (row, texels) in texels.chunks(width.max(1)).enumerate() {
            let first = (y + row) * across + x;
            self.texels[first..first + width].copy_from_slice(texels);
        }
        true
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
    #[cfg(feature = "files")]
    Buffers {
        bytes: Vec<u8>,
        files: Vec<(String, Option<Vec<u8>>)>,
    },
    /// Read.
    Here(Rc<Surface>),
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
    /// Which of the surface's levels is here; none where it has none.
    pub level: Option<usize>,
    variant_of_state: Vec<Option<usize>>,
    sheet_of_mesh: Vec<Option<usize>>,
    /// Reflectance of the palette's entries, as far as they came.
    pub spectra: Spectra,
    /// Entries of the palette whose spectrum is not to be had.
    pub failed_spectra: BTreeSet<usize>,
    /// Values of tiles that are in the renderer's pool, by image and number.
    pub tile_values: Vec<([u32; 2], Values)>,
    /// Drawn on region maps that are still on their way: index of the image, where and what.
    pub late_patches: Vec<(usize, Rect, Vec<u16>)>,
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
            level: None,
            variant_of_state: Vec::new(),
            sheet_of_mesh: Vec::new(),
            spectra: Spectra::new(),
            failed_spectra: BTreeSet::new(),
            tile_values: Vec::new(),
            late_patches: Vec::new(),
        }
    }

    /// Takes an edited document over the same surface and layers. What is here of images and spectra
    /// stays.
    pub fn replace_document(&mut self, document: Dossier) {
        let before = std::mem::replace(&mut self.document, document);
        let palette = self.document.palette.iter().enumerate();
        let old_entry = |path: &str| {
            let mut entries = before.palette.iter();
            entries.position(|entry| entry.spectrum.as_deref() == Some(path))
        };
        let (mut spectra, mut failed) = (Spectra::new(), BTreeSet::new());
        for (now, was) in palette.filter_map(|(i, e)| Some((i, old_entry(e.spectrum.as_deref()?)?)))
        {
            if let Some(spectrum) = self.spectra.get(&was) {
                spectra.insert(now, spectrum.clone());
            }
            if self.failed_spectra.contains(&was) {
                failed.insert(now);
            }
        }
        (self.spectra, self.failed_spectra) = (spectra, failed);
        self.variant_of_state = vec![None; self.document.states.len()];
        // A map that was saved has a new name and the same numbers.
        for index in 0..self.images.len() {
            if self.images[index].kind != ImageKind::Labels {
                continue;
            }
            let sheet = self.sheet_id(self.images[index].sheet);
            let mut maps = self.document.region_map.iter().flat_map(|m| &m.images);
            if let Some(image) = maps.find(|image| image.sheet == sheet) {
                self.images[index].source = Source::File(image.file.clone());
            }
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

    #[cfg_attr(
        not(feature = "files"),
        expect(unused_variables, reason = "the porter opens it")
    )]
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
        #[cfg(feature = "files")]
        content.supply_surface(bytes.to_vec())?;
        Ok(content)
    }

    /// The mesh, once it is here.
    #[must_use]
    pub fn surface(&self) -> Option<&Rc<Surface>> {
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
                let file = self.file_of_surface(self.first_level());
                vec![("surface".to_owned(), file, false)]
            }
            #[cfg(feature = "files")]
            SurfaceProgress::Buffers { files, .. } => files
                .iter()
                .filter(|(_, bytes)| bytes.is_none())
                .map(|(uri, _)| {
                    (
                        format!("buffer:{uri}"),
                        surface::beside(&self.surface_file, uri),
                        true,
                    )
                })
                .collect(),
            _ => Vec::new(),
        }
    }

    fn first_level(&self) -> Option<usize> {
        (!self.document.surface.levels.is_empty()).then_some(0)
    }

    /// Path of a level of the surface, or of the surface itself.
    #[must_use]
    pub fn file_of_surface(&self, level: Option<usize>) -> String {
        let levels = &self.document.surface.levels;
        match level.and_then(|n| levels.get(n)) {
            Some(level) => level.file.clone(),
            None => self.surface_file.clone(),
        }
    }

    /// The mesh, or a file it needs, is not to be had.
    pub fn fail_surface(&mut self) {
        self.progress = SurfaceProgress::Failed;
    }

    fn refused(&mut self, error: impl std::fmt::Display) -> OpenError {
        self.progress = SurfaceProgress::Failed;
        OpenError {
            file: self.file_of_surface(self.first_level()),
            message: error.to_string(),
        }
    }

    /// Takes the mesh that was wanted first.
    ///
    /// # Errors
    /// When there is nothing to show in it.
    pub fn take_surface(&mut self, surface: Surface) -> Result<Rc<Surface>, OpenError> {
        let level = self.first_level();
        let file = self.file_of_surface(level);
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
        let surface = Rc::new(surface);
        self.progress = SurfaceProgress::Here(Rc::clone(&surface));
        self.level = level;
        Ok(surface)
    }

    /// Whether a level of the surface is of the same build as what is here.
    ///
    /// # Errors
    /// Its sheets or patches are others.
    pub fn fits(&self, level: usize, finer: &Surface) -> Result<(), OpenError> {
        let fits = self.surface().is_some_and(|here| {
            let sheets = here.sheets.iter().zip(&finer.sheets);
            here.sheets.len() == finer.sheets.len()
                && here.patches.len() == finer.patches.len()
                && sheets.clone().all(|(a, b)| a.name == b.name)
        });
        if fits {
            return Ok(());
        }
        Err(OpenError {
            file: self.file_of_surface(Some(level)),
            message: "this level has other sheets or parts than the first; pack the dossier again"
                .to_owned(),
        })
    }

    /// Whether the inner side of the surface that is here is never seen from outside.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        let levels = &self.document.surface.levels;
        let here = self.level.and_then(|level| levels.get(level));
        here.is_some_and(|level| level.closed)
    }

    /// From now on the surface is this level.
    pub fn put_level(&mut self, level: usize, surface: Rc<Surface>) {
        self.progress = SurfaceProgress::Here(surface);
        self.level = Some(level);
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

    /// Spectra of the palette that are to be fetched: index of the entry and path.
    pub fn wanted_spectra(&self) -> impl Iterator<Item = (usize, &str)> {
        let open = |i: &usize| !self.spectra.contains_key(i) && !self.failed_spectra.contains(i);
        let entries = self.document.palette.iter().enumerate();
        entries
            .filter_map(|(i, entry)| Some((i, entry.spectrum.as_deref()?)))
            .filter(move |(i, _)| open(i))
    }

    /// Sphere around the surface.
    #[must_use]
    pub fn ball(&self) -> Ball {
        let Some(bounds) = self.surface().and_then(|s| s.bounds()) else {
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
        let bounds = self.surface().and_then(|s| s.bounds());
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
    fn layer(&self, id: &str) -> Option<bool> {
        let layer = self.document.layers.iter().find(|l| l.id == id)?;
        Some(layer.kind == LayerKind::Band)
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
