//! What the states of a dossier look like on its mesh, in the terms that files
//! for other programs know: meshes, materials with one picture each, and which
//! material each mesh has in which state.
//!
//! What is simplified: layers of a state are flattened into one picture a
//! sheet, in sRGB; what a band image holds is not colour and stays out; parts
//! that a state does not show are hidden there.

mod pictures;
mod reduced;
mod tiled;

use std::collections::HashMap;

use ganosis_dossier::document::{Anchor, LayerKind, State};
use ganosis_dossier::{Dossier, Store};
use ganosis_surface::area::SheetMap;
use ganosis_surface::{AlphaMode, ImageSource, Surface, gltf_in};
use glam::{DMat3, DVec3, Vec2};

use crate::error::ExportError;
pub use pictures::Picture;
pub(crate) use reduced::told as told_reduced;
pub use reduced::{Reduced, reduce};
pub(crate) use tiled::image_of;

/// What a file is for, which decides the size of its pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Purpose {
    /// For pages: pictures up to 2048 px, JPEG; up to a million triangles.
    #[default]
    Web,
    /// For looking at it in a room through a telephone: up to 1024 px, JPEG; up to a hundred thousand triangles.
    Room,
    /// To be kept: pictures as large as the layers, PNG, every code value kept.
    Archive,
}

impl Purpose {
    /// Largest side of a picture, px. Choices of ours: a state of two sheets
    /// takes 43 MiB of graphics memory at 2048 px and 11 MiB at 1024 px, and a
    /// file has several.
    #[must_use]
    pub fn largest_px(self) -> u32 {
        match self {
            Self::Web => 2048,
            Self::Room => 1024,
            Self::Archive => u32::MAX,
        }
    }

    /// Most triangles, see [`reduce`]. Choices of ours: at 32 bytes a vertex and about half as many
    /// vertices as triangles a million are 28 MB to fetch and a hundred thousand 3 MB.
    #[must_use]
    pub fn most_triangles(self) -> usize {
        match self {
            Self::Web => 1_000_000,
            Self::Room => 100_000,
            Self::Archive => usize::MAX,
        }
    }
}

/// Roughness of paint and stone where nothing is measured. A choice of ours: no highlight competes
/// with the colour.
pub(crate) const ROUGHNESS: f32 = 0.9;

/// A mesh of one material in any one state.
#[derive(Debug, Clone, Default)]
pub struct Mesh {
    /// Name of its node.
    pub name: String,
    /// Positions in metres, in the coordinates of the surface.
    pub positions: Vec<[f32; 3]>,
    /// Unit normals.
    pub normals: Vec<[f32; 3]>,
    /// Texture coordinates on the picture, v = 0 at its top row.
    pub uvs: Vec<[f32; 2]>,
    /// Three a triangle.
    pub indices: Vec<u32>,
    /// Index of its look where there are no states, and as a default.
    pub usual: usize,
    /// Index of its look in each state; `None`: hidden.
    pub in_states: Vec<Option<usize>>,
    /// Ids of the parts it belongs to.
    pub parts: Vec<String>,
    /// Id of its sheet.
    pub sheet: String,
}

/// How a mesh looks: a picture or a colour.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Name for people and for reading back.
    pub name: String,
    /// Index of its picture.
    pub picture: Option<usize>,
    /// Linear RGBA where there is no picture.
    pub colour: [f32; 4],
    /// Seen from behind too.
    pub double_sided: bool,
    /// Ids of the layers that its picture is made of; empty for what the mesh brings.
    pub layers: Vec<String>,
    /// Id of the sheet.
    pub sheet: String,
}

/// All of it.
#[derive(Debug, Clone, Default)]
pub struct Solid {
    /// Meshes, in the order of the surface.
    pub meshes: Vec<Mesh>,
    /// Looks.
    pub looks: Vec<Look>,
    /// Encoded pictures.
    pub pictures: Vec<Picture>,
    /// Ids of the states.
    pub states: Vec<String>,
    /// Places of pins and observations, metres; by kind and id.
    pub places: HashMap<(&'static str, String), DVec3>,
    /// What could not be taken along, and why.
    pub notes: Vec<String>,
    /// What [`reduce`] has come to, if it took triangles away.
    pub reduced: Option<Reduced>,
}

/// Puts it together.
///
/// # Errors
/// [`ExportError`] if the surface or a picture that a state needs cannot be used.
pub fn solid(
    document: &Dossier,
    store: &dyn Store,
    purpose: Purpose,
) -> Result<Solid, ExportError> {
    let surface = surface_of(document, store)?;
    let mut maker = Maker {
        document,
        store,
        purpose,
        surface: &surface,
        solid: Solid {
            states: document
                .states
                .iter()
                .map(|state| state.id.clone())
                .collect(),
            notes: surface.notes.clone(),
            ..Solid::default()
        },
        known: HashMap::new(),
    };
    maker.meshes()?;
    maker.places();
    Ok(maker.solid)
}

/// Reads the mesh of a dossier.
pub(crate) fn surface_of(document: &Dossier, store: &dyn Store) -> Result<Surface, ExportError> {
    let file = &document.surface.file;
    let unusable = |reason: String| ExportError::Unusable {
        file: file.clone(),
        reason,
    };
    let bytes = store.read(file)?;
    let beside = |name: &str| store.read(&ganosis_surface::beside(file, name)).ok();
    let surface = gltf_in::read(&bytes, &beside).map_err(|e| unusable(e.to_string()))?;
    if surface.triangle_count() == 0 {
        return Err(unusable("it has no triangles".to_owned()));
    }
    Ok(surface)
}

struct Maker<'a> {
    document: &'a Dossier,
    store: &'a dyn Store,
    purpose: Purpose,
    surface: &'a Surface,
    solid: Solid,
    /// Looks by sheet (of the surface) and layers.
    known: HashMap<(usize, Vec<String>), usize>,
}

impl Maker<'_> {
    fn meshes(&mut self) -> Result<(), ExportError> {
        for (number, patch) in self.surface.patches.iter().enumerate() {
            if patch.indices.is_empty() {
                continue;
            }
            let parts: Vec<String> = self
                .document
                .surface
                .parts
                .iter()
                .filter(|part| patch.node_path.contains(&part.node))
                .map(|part| part.id.clone())
                .collect();
            let mut in_states = Vec::new();
            for state in &self.document.states {
                let shown = parts.iter().all(|part| state.parts.contains(part));
                in_states.push(if shown {
                    Some(self.look(patch.sheet, state)?)
                } else {
                    None
                });
            }
            let usual = match in_states.iter().flatten().next() {
                Some(look) => *look,
                None => self.own_look(patch.sheet)?,
            };
            let name = patch.node_path.last().cloned().unwrap_or_default();
            let uvs = (0..patch.positions.len())
                .map(|vertex| self.surface.sheet_uv(patch, vertex).to_array())
                .collect();
            let normal = |n: &glam::Vec3| n.try_normalize().unwrap_or(glam::Vec3::Y).to_array();
            self.solid.meshes.push(Mesh {
                name: if name.is_empty() {
                    format!("mesh-{number}")
                } else {
                    name
                },
                positions: patch.positions.iter().map(|p| p.to_array()).collect(),
                normals: patch.normals.iter().map(normal).collect(),
                uvs,
                indices: patch.indices.clone(),
                usual,
                in_states,
                parts,
                sheet: self.sheet_id(patch.sheet),
            });
        }
        Ok(())
    }

    /// Id in the dossier of a sheet of the surface, or else its own name.
    fn sheet_id(&self, sheet: usize) -> String {
        let name = self
            .surface
            .sheets
            .get(sheet)
            .map_or("", |s| s.name.as_str());
        let sheets = &self.document.surface.sheets;
        let known = sheets.iter().find(|known| known.material == name);
        known.map_or(name, |known| known.id.as_str()).to_owned()
    }

    fn look(&mut self, sheet: usize, state: &State) -> Result<usize, ExportError> {
        let id = self.sheet_id(sheet);
        let layers: Vec<String> = state
            .layers
            .iter()
            .filter(|layer| {
                self.document.layer(layer).is_some_and(|layer| {
                    layer.kind == LayerKind::Colour
                        && layer.images.iter().any(|image| image.sheet == id)
                })
            })
            .cloned()
            .collect();
        if layers.is_empty() {
            return self.own_look(sheet);
        }
        let key = (sheet, layers);
        if let Some(&look) = self.known.get(&key) {
            return Ok(look);
        }
        let own = self.surface.sheets.get(sheet);
        let base = own.map_or([1.0; 4], |own| own.base_colour);
        let mut images = Vec::new();
        for layer in key.1.iter().filter_map(|id| self.document.layer(id)) {
            let image = layer.images.iter().find(|image| image.sheet == id);
            let Some(image) = image else { continue };
            let largest = self.purpose.largest_px();
            let (pixels, note) = tiled::image_of(image, self.store, largest)?;
            let told = note.map(|note| format!("the layer {} on {id}: {note}", layer.id));
            self.solid.notes.extend(told);
            images.push((layer.colour_space.as_ref(), pixels));
        }
        let name = format!("{id}.{}", key.1.join("+"));
        let picture = pictures::flattened(&name, images, base, self.purpose)?;
        self.solid.pictures.push(picture);
        self.solid.looks.push(Look {
            name,
            picture: Some(self.solid.pictures.len() - 1),
            colour: [1.0; 4],
            double_sided: own.is_some_and(|own| own.double_sided),
            layers: key.1.clone(),
            sheet: id,
        });
        let look = self.solid.looks.len() - 1;
        self.known.insert(key, look);
        Ok(look)
    }

    /// As the mesh itself has it.
    fn own_look(&mut self, sheet: usize) -> Result<usize, ExportError> {
        let key = (sheet, Vec::new());
        if let Some(&look) = self.known.get(&key) {
            return Ok(look);
        }
        let id = self.sheet_id(sheet);
        let own = self.surface.sheets.get(sheet);
        let mut picture = None;
        if let Some(texture) = own.and_then(|own| own.texture.as_ref()) {
            let made = match &texture.image {
                ImageSource::Embedded { bytes, .. } => {
                    pictures::own(&id, bytes, self.purpose).map_err(|reason| (id.clone(), reason))
                }
                ImageSource::Uri(uri) => {
                    let file = ganosis_surface::beside(&self.document.surface.file, uri);
                    let bytes = self
                        .store
                        .read(&file)
                        .map_err(|e| (file.clone(), e.to_string()));
                    bytes.and_then(|bytes| {
                        pictures::own(&id, &bytes, self.purpose).map_err(|reason| (file, reason))
                    })
                }
            };
            match made {
                Ok(made) => {
                    self.solid.pictures.push(made);
                    picture = Some(self.solid.pictures.len() - 1);
                }
                Err((file, reason)) => self.solid.notes.push(format!(
                    "the picture of the mesh's own material ({file}) was left out: {reason}"
                )),
            }
        }
        let mut colour = own.map_or([1.0; 4], |own| own.base_colour);
        if own.is_none_or(|own| own.alpha == AlphaMode::Opaque) {
            colour[3] = 1.0;
        }
        self.solid.looks.push(Look {
            name: id.clone(),
            picture,
            colour: colour.map(|value| value.clamp(0.0, 1.0)),
            double_sided: own.is_some_and(|own| own.double_sided),
            layers: Vec::new(),
            sheet: id,
        });
        let look = self.solid.looks.len() - 1;
        self.known.insert(key, look);
        Ok(look)
    }

    /// Where pins and observations are: as said, or else found by their UV.
    fn places(&mut self) {
        let pins = self.document.pins.iter();
        let pins = pins.map(|pin| ("pin", &pin.id, pin.anchor.as_ref()));
        let evidence = self.document.evidence.iter();
        let evidence = evidence.map(|item| ("evidence", &item.id, item.anchor.as_ref()));
        let mut maps: HashMap<usize, SheetMap> = HashMap::new();
        for (kind, id, anchor) in pins.chain(evidence) {
            let Some(anchor) = anchor else { continue };
            let place = match anchor.position_m {
                Some(position) => Some(DVec3::from(position)),
                None => by_uv(self.document, self.surface, anchor, &mut maps),
            };
            if let Some(place) = place.filter(|place| place.is_finite()) {
                self.solid.places.insert((kind, id.clone()), place);
            }
        }
    }
}

fn by_uv<'s>(
    document: &Dossier,
    surface: &'s Surface,
    anchor: &Anchor,
    maps: &mut HashMap<usize, SheetMap<'s>>,
) -> Option<DVec3> {
    let uv = anchor.uv?;
    let known = &document.surface.sheets;
    let sheet = known.iter().find(|sheet| sheet.id == anchor.sheet)?;
    let index = surface.sheet_named(&sheet.material)?;
    let map = maps
        .entry(index)
        .or_insert_with(|| SheetMap::new(surface, index));
    let point = map.at(Vec2::new(uv[0] as f32, uv[1] as f32))?;
    Some(point.position_m.as_dvec3())
}

/// Turns the surface's own up and front to +Y and +Z (glTF 2.0 section 3.4,
/// and what USD files for looking at in a room expect): rows of a rotation;
/// `None` if they are there already.
#[must_use]
pub fn upright(document: &Dossier) -> Option<[[f64; 3]; 3]> {
    let orientation = document.object.orientation.clone().unwrap_or_default();
    let up = DVec3::from(orientation.up).normalize_or(DVec3::Y);
    let front = DVec3::from(orientation.front);
    let front = (front - up * front.dot(up)).normalize_or_zero();
    let front = if front == DVec3::ZERO {
        up.any_orthonormal_vector()
    } else {
        front
    };
    let right = up.cross(front);
    let turned = DMat3::from_cols(right, up, front);
    // Far below what a direction of unit length in doubles is rounded by, were it written in a file.
    let is_there = turned.abs_diff_eq(DMat3::IDENTITY, 1e-12);
    (!is_there).then(|| turned.to_cols_array_2d())
}
