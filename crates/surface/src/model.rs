//! The surface as plain data.

use std::sync::Arc;

use glam::{Affine2, Mat2, Vec2, Vec3};

/// A mesh in world coordinates (metres, +Y up, right-handed, as in glTF 2.0 section 3.4).
#[derive(Debug, Clone, Default)]
pub struct Surface {
    /// One sheet per material of the file, in its order; a last one is added
    /// where a primitive names no material.
    pub sheets: Vec<Sheet>,
    /// One patch per drawn primitive of each node, in scene order.
    pub patches: Vec<Patch>,
    /// Names of the material variants (`KHR_materials_variants`).
    pub variants: Vec<String>,
    /// What was left out or mended on reading, one sentence each.
    pub notes: Vec<String>,
}

/// What a part of the surface looks like by itself: a glTF material.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The material's name, unique within the surface.
    pub name: String,
    /// Linear RGBA factor, 0..1.
    pub base_colour: [f32; 4],
    /// Base colour image.
    pub texture: Option<Texture>,
    /// How alpha is used.
    pub alpha: AlphaMode,
    /// Whether the back is drawn too.
    pub double_sided: bool,
}

impl Sheet {
    /// White, opaque and without an image, as glTF 2.0 has a material that says nothing (3.9).
    #[must_use]
    pub fn plain(name: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            base_colour: [1.0; 4],
            texture: None,
            alpha: AlphaMode::Opaque,
            double_sided: false,
        }
    }
}

/// Use of alpha (glTF 2.0 section 3.9.4).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AlphaMode {
    /// Alpha is ignored.
    Opaque,
    /// Drawn where alpha is at least this cutoff.
    Mask(f32),
    /// Blended over what lies behind.
    Blend,
}

/// A base colour texture.
#[derive(Debug, Clone, PartialEq)]
pub struct Texture {
    /// Where the picture is.
    pub image: ImageSource,
    /// Which UV set it uses: 0 = [`Patch::uvs`], 1 = [`Patch::uvs_1`].
    pub uv_set: usize,
    /// `KHR_texture_transform`.
    pub transform: UvTransform,
    /// Beyond 0..1 in u.
    pub wrap_s: Wrap,
    /// Beyond 0..1 in v.
    pub wrap_t: Wrap,
    /// Whether the file asks for nearest-texel magnification.
    pub nearest: bool,
}

/// Where a picture's encoded bytes are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ImageSource {
    /// Within the file.
    Embedded {
        /// Media type, such as `image/png`; empty where the file does not say.
        mime: String,
        /// The encoded picture.
        bytes: Arc<[u8]>,
    },
    /// A file beside the glTF: relative path, percent-decoded.
    Uri(String),
}

/// Offset, rotation and scale of UVs (`KHR_texture_transform`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UvTransform {
    /// Added last.
    pub offset: [f32; 2],
    /// Counter-clockwise about the origin, in radians.
    pub rotation_rad: f32,
    /// Applied first.
    pub scale: [f32; 2],
}

impl Default for UvTransform {
    fn default() -> Self {
        Self {
            offset: [0.0; 2],
            rotation_rad: 0.0,
            scale: [1.0; 2],
        }
    }
}

impl UvTransform {
    /// As one affine map: translation × rotation × scale, with the matrix of the
    /// `KHR_texture_transform` specification (its rotation is clockwise in a
    /// v-down frame, hence the sign).
    pub fn affine(&self) -> Affine2 {
        let (sin, cos) = self.rotation_rad.sin_cos();
        let rotation = Mat2::from_cols(Vec2::new(cos, -sin), Vec2::new(sin, cos));
        Affine2 {
            matrix2: rotation * Mat2::from_diagonal(Vec2::from(self.scale)),
            translation: Vec2::from(self.offset),
        }
    }
}

/// Behaviour of a texture outside 0..1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Wrap {
    /// Tiles.
    #[default]
    Repeat,
    /// Tiles, every other one mirrored.
    Mirror,
    /// Holds the edge.
    Clamp,
}

/// A run of triangles on one sheet. All vertex arrays have the same length.
#[derive(Debug, Clone, Default)]
pub struct Patch {
    /// Index into [`Surface::sheets`].
    pub sheet: usize,
    /// Names of the nodes from the root to the one that holds the mesh.
    pub node_path: Vec<String>,
    /// World positions in metres, all finite.
    pub positions: Vec<Vec3>,
    /// Unit normals; zero only where no triangle gives one.
    pub normals: Vec<Vec3>,
    /// First UV set, v = 0 at the top row of the image; zeros where the file has none.
    pub uvs: Vec<Vec2>,
    /// Second UV set.
    pub uvs_1: Option<Vec<Vec2>>,
    /// Linear RGBA per vertex.
    pub colours: Option<Vec<[f32; 4]>>,
    /// Three vertex numbers a triangle, counter-clockwise seen from the front, all in range.
    pub indices: Vec<u32>,
    /// (variant, sheet) pairs that replace [`Patch::sheet`].
    pub variant_sheets: Vec<(usize, usize)>,
}

impl Patch {
    /// Number of triangles.
    pub fn triangle_count(&self) -> usize {
        self.indices.len() / 3
    }

    /// Vertex numbers of triangle `triangle`, if there is one and they are in range.
    pub fn triangle(&self, triangle: usize) -> Option<[usize; 3]> {
        let corner = |k: usize| {
            let vertex = *self.indices.get(triangle.checked_mul(3)? + k)? as usize;
            (vertex < self.positions.len()).then_some(vertex)
        };
        Some([corner(0)?, corner(1)?, corner(2)?])
    }

    /// Corner positions of a triangle.
    pub fn corners(&self, triangle: usize) -> Option<[Vec3; 3]> {
        self.triangle(triangle)
            .map(|t| t.map(|v| self.positions[v]))
    }
}

impl Surface {
    /// The smallest axis-parallel box around all positions; `None` without any.
    pub fn bounds(&self) -> Option<Bounds> {
        Bounds::of(
            self.patches
                .iter()
                .flat_map(|p| p.positions.iter().copied()),
        )
    }

    /// UV of a vertex on the image of the patch's own sheet: the UV set that the
    /// sheet's texture names, moved by the texture's transform; without a texture
    /// the first UV set as it is. Zero where there is no such vertex.
    ///
    /// Layers and anchors lie in this frame, so that they hold when a file is
    /// written again with quantised UVs.
    pub fn sheet_uv(&self, patch: &Patch, vertex: usize) -> Vec2 {
        let texture = self
            .sheets
            .get(patch.sheet)
            .and_then(|s| s.texture.as_ref());
        let set = match texture.map(|t| t.uv_set) {
            Some(1) => patch.uvs_1.as_deref().unwrap_or_default(),
            _ => &patch.uvs,
        };
        let uv = set.get(vertex).copied().unwrap_or_default();
        texture.map_or(uv, |t| t.transform.affine().transform_point2(uv))
    }

    /// Index of the sheet with this name.
    pub fn sheet_named(&self, name: &str) -> Option<usize> {
        self.sheets.iter().position(|s| s.name == name)
    }

    /// Number of triangles of all patches.
    pub fn triangle_count(&self) -> usize {
        self.patches.iter().map(Patch::triangle_count).sum()
    }
}

/// An axis-parallel box in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Least corner.
    pub min_m: Vec3,
    /// Greatest corner.
    pub max_m: Vec3,
}

impl Bounds {
    /// Around points; `None` without any.
    pub fn of(points: impl IntoIterator<Item = Vec3>) -> Option<Self> {
        points.into_iter().fold(None, |bounds, p| {
            let b = bounds.unwrap_or(Self { min_m: p, max_m: p });
            Some(Self {
                min_m: b.min_m.min(p),
                max_m: b.max_m.max(p),
            })
        })
    }

    /// Middle of the box.
    pub fn centre_m(&self) -> Vec3 {
        self.min_m * 0.5 + self.max_m * 0.5
    }

    /// Half its diagonal.
    pub fn radius_m(&self) -> f32 {
        (self.max_m * 0.5 - self.min_m * 0.5).length()
    }
}

/// What a file holds, each primitive counted once however often it is placed,
/// points and lines included among the vertices and draw calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Triangles, degenerate ones too.
    pub triangles: u64,
    /// Vertices.
    pub vertices: u64,
    /// Primitives.
    pub draw_calls: u64,
    /// Materials of the file.
    pub materials: u64,
    /// Pictures of the file (`images`), used or not; several textures may share one.
    pub images: u64,
}

/// The path of a file that the mesh file at `file` names, from the folder that `file` counts from.
/// Paths are plain; whoever makes an address of one encodes it (RFC 3986, section 2.1).
#[must_use]
pub fn beside(file: &str, name: &str) -> String {
    match file.rsplit_once('/') {
        Some((folder, _)) => format!("{folder}/{name}"),
        None => name.to_owned(),
    }
}

/// What vertices at one place have in common; adding zero makes -0 and +0 one place.
pub(crate) fn place_key(position: Vec3) -> [u32; 3] {
    (position + Vec3::ZERO).to_array().map(f32::to_bits)
}

/// Unit normal of a counter-clockwise triangle; zero for a degenerate one.
/// In double precision, since facets of a tenth of a millimetre underflow otherwise.
pub(crate) fn face_normal(p: [Vec3; 3]) -> Vec3 {
    let [a, b, c] = p.map(|v| v.as_dvec3());
    (b - a).cross(c - a).normalize_or_zero().as_vec3()
}
