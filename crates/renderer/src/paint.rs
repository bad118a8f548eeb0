//! What covers each patch in the two appearances.

use bytemuck::{Pod, Zeroable};
use ganosis_colorimetry::ToneMap;
use ganosis_tiles::{Pyramid, TILE_PX};

use crate::texture::TextureId;

/// One of the two appearances.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The left one.
    Left,
    /// The right one.
    Right,
}

/// How a texture goes on beyond its border.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Wrap {
    /// Starts again.
    Repeat,
    /// Starts again, reversed.
    Mirror,
    /// Keeps its last texel.
    Clamp,
}

/// Affine map from UV to the texture, rows of a 2×3 matrix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UvTransform(pub [[f32; 3]; 2]);

impl Default for UvTransform {
    fn default() -> Self {
        Self([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    }
}

/// Most layers on one side: with both sides, the region map and the tables they stay below the 16
/// textures that WebGL 2 grants a fragment shader (OpenGL ES 3.0, MAX_TEXTURE_IMAGE_UNITS).
pub const MOST_LAYERS: usize = 4;

/// What the texels of a layer are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LayerContent {
    /// Encoded colour with the primaries of sRGB.
    Srgb,
    /// Encoded colour with the primaries of Display P3.
    DisplayP3,
    /// One number a texel.
    Band(BandLook),
}

/// How the numbers of a band are shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandLook {
    /// From the lower to the upper end, parts of its range 0..1; the other way round inverts it.
    pub ends: [f32; 2],
    /// The colours between them.
    pub map: ToneMap,
    /// Between so many equal parts lines of one value are drawn; 0 draws none.
    pub lines: u8,
}

impl Default for BandLook {
    fn default() -> Self {
        Self {
            ends: [0.0, 1.0],
            map: ToneMap::default(),
            lines: 0,
        }
    }
}

/// A layer over a patch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayerPaint {
    /// Its image.
    pub texture: TextureId,
    /// What the image holds.
    pub content: LayerContent,
    /// Opacity 0..1, times the image's own alpha.
    pub weight: f32,
}

/// The cover of a patch on one side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SidePaint {
    /// Whether the patch is there at all.
    pub shown: bool,
    /// Layers from the lowest up; none at all shows `factor` as plain relief.
    pub layers: [Option<LayerPaint>; MOST_LAYERS],
    /// Multiplied with the lowest layer in linear light.
    pub factor: [f32; 4],
    /// The one layer is a material of the mesh, whose alpha counts; layers of a dossier lie over the
    /// bare surface.
    pub material: bool,
    /// Where on the textures.
    pub uv: UvTransform,
    /// Reads the UVs as the file has them, not those of the patch's own sheet.
    pub raw_uvs: bool,
    /// Beyond the border, along u and v.
    pub wrap: [Wrap; 2],
    /// Nearest texel instead of an average.
    pub nearest: bool,
}

impl SidePaint {
    /// Its layers, from the lowest up.
    pub fn stack(&self) -> impl Iterator<Item = &LayerPaint> {
        self.layers.iter().flatten()
    }
}

impl Default for SidePaint {
    fn default() -> Self {
        Self {
            shown: true,
            layers: [None; MOST_LAYERS],
            factor: [1.0; 4],
            material: false,
            uv: UvTransform::default(),
            raw_uvs: false,
            wrap: [Wrap::Repeat; 2],
            nearest: false,
        }
    }
}

/// The cover of a patch in both appearances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PatchPaint {
    /// Left and right.
    pub sides: [SidePaint; 2],
    /// Region numbers of its sheet.
    pub labels: Option<TextureId>,
    /// Number of its sheet, for the asking for tiles.
    pub sheet: u8,
    /// Below this alpha nothing is drawn.
    pub alpha_cutoff: f32,
    /// Drawn after the rest and mixed by its alpha.
    pub translucent: bool,
}

/// Twin of `SurfacePaint` in `shaders/draw/surface.wgsl`.
#[repr(C)]
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
pub struct SurfaceUniform {
    factor: [[f32; 4]; 2],
    uv_u: [[f32; 4]; 2],
    uv_v: [[f32; 4]; 2],
    layers: [[[f32; 4]; MOST_LAYERS]; 2],
    flags: [u32; 4],
    cutoff: [f32; 4],
    tiled: [[u32; 4]; 2 * MOST_LAYERS + 1],
    levels: [[f32; 4]; MOST_LEVELS],
}

/// Levels in tiles, and that of the base, of the largest image that the table of tiles has room for: 262,144 px.
const MOST_LEVELS: usize = 10;

/// What the shader knows of each level of an image in tiles: tiles across and down with parts of one, number of the
/// first in the image, tiles in a row.
fn levels_of([_, width, height, _]: [u32; 4]) -> [[f32; 4]; MOST_LEVELS] {
    let mut known = [[1.0, 1.0, 0.0, 1.0]; MOST_LEVELS];
    for (row, level) in known.iter_mut().zip(Pyramid::new([width, height]).levels()) {
        let [across, down] = level.size.map(|side| side as f32 / TILE_PX as f32);
        *row = [across, down, level.first as f32, level.grid[0] as f32];
    }
    known
}

const FLAG_UV1: [u32; 2] = [1, 2];
const FLAG_RELIEF: [u32; 2] = [4, 8];
const FLAG_LABELS: u32 = 16;
const FLAG_VERTEX_COLOUR: u32 = 32;
const FLAG_MATERIAL: [u32; 2] = [64, 128];

impl SurfaceUniform {
    /// The uniform of a patch; `tiled` says how a texture is cut into tiles, 0 where it is not.
    #[must_use]
    pub fn new(
        paint: &PatchPaint,
        vertex_colours: bool,
        tiled: &dyn Fn(TextureId) -> [u32; 4],
    ) -> Self {
        let row = |r: [f32; 3]| [r[0], r[1], r[2], 0.0];
        let flag = |on: bool, bit: u32| if on { bit } else { 0 };
        let count = |s: &SidePaint| s.stack().count() as u32;
        let mut layers = [[[0.0; 4]; MOST_LAYERS]; 2];
        let mut tiles = [[0; 4]; 2 * MOST_LAYERS + 1];
        tiles[2 * MOST_LAYERS] = paint.labels.map_or([0; 4], tiled);
        let mut flags =
            flag(paint.labels.is_some(), FLAG_LABELS) | flag(vertex_colours, FLAG_VERTEX_COLOUR);
        for (i, side) in paint.sides.iter().enumerate() {
            for (slot, layer) in side.stack().enumerate() {
                layers[i][slot] = layer_row(layer);
                tiles[i * MOST_LAYERS + slot] = tiled(layer.texture);
            }
            flags |= flag(side.raw_uvs, FLAG_UV1[i])
                | flag(side.material, FLAG_MATERIAL[i])
                | flag(count(side) == 0 && !vertex_colours, FLAG_RELIEF[i]);
        }
        let [left, right] = &paint.sides;
        Self {
            factor: [left.factor, right.factor],
            uv_u: [row(left.uv.0[0]), row(right.uv.0[0])],
            uv_v: [row(left.uv.0[1]), row(right.uv.0[1])],
            layers,
            flags: [
                count(left),
                count(right),
                u32::from(left.shown) | (u32::from(right.shown) << 1),
                flags,
            ],
            cutoff: [paint.alpha_cutoff, f32::from(paint.sheet), 0.0, 0.0],
            tiled: tiles,
            levels: levels_of(tiles[0]),
        }
    }

    /// Names and offsets of the members, to be compared with the shader's.
    #[must_use]
    pub fn layout() -> (Vec<(&'static str, usize)>, usize) {
        use std::mem::{offset_of, size_of};
        (
            vec![
                ("factor", offset_of!(Self, factor)),
                ("uv_u", offset_of!(Self, uv_u)),
                ("uv_v", offset_of!(Self, uv_v)),
                ("layers", offset_of!(Self, layers)),
                ("flags", offset_of!(Self, flags)),
                ("cutoff", offset_of!(Self, cutoff)),
                ("tiled", offset_of!(Self, tiled)),
                ("levels", offset_of!(Self, levels)),
            ],
            size_of::<Self>(),
        )
    }
}

/// Kind with map and lines, weight, lower and upper end: `LAYER_*` of the shader.
fn layer_row(layer: &LayerPaint) -> [f32; 4] {
    let (kind, look) = match layer.content {
        LayerContent::Srgb => (0, BandLook::default()),
        LayerContent::DisplayP3 => (1, BandLook::default()),
        LayerContent::Band(look) => (2, look),
    };
    // Small whole numbers, which f32 holds exactly.
    let code = kind + 4 * (look.map as u32) + 32 * u32::from(look.lines);
    [code as f32, layer.weight, look.ends[0], look.ends[1]]
}
