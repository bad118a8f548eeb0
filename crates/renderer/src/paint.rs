//! What covers each patch in the two appearances.

use bytemuck::{Pod, Zeroable};

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

/// The cover of a patch on one side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SidePaint {
    /// Whether the patch is there at all.
    pub shown: bool,
    /// Its image; none shows `factor` as plain relief.
    pub texture: Option<TextureId>,
    /// The texture is one number a texel, shown through the band map.
    pub band: bool,
    /// The texture's primaries are those of Display P3.
    pub display_p3: bool,
    /// Multiplied in linear light.
    pub factor: [f32; 4],
    /// Where on the texture.
    pub uv: UvTransform,
    /// Reads the UVs as the file has them, not those of the patch's own sheet.
    pub raw_uvs: bool,
    /// Beyond the border, along u and v.
    pub wrap: [Wrap; 2],
    /// Nearest texel instead of an average.
    pub nearest: bool,
}

impl Default for SidePaint {
    fn default() -> Self {
        Self {
            shown: true,
            texture: None,
            band: false,
            display_p3: false,
            factor: [1.0; 4],
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
    /// Below this alpha nothing is drawn.
    pub alpha_cutoff: f32,
    /// Drawn after the rest and mixed by its alpha.
    pub translucent: bool,
}

/// Twin of `SurfacePaint` in `shaders/draw/surface.wgsl`.
#[repr(C)]
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
pub struct SurfaceUniform {
    factor_left: [f32; 4],
    factor_right: [f32; 4],
    uv_left_u: [f32; 4],
    uv_left_v: [f32; 4],
    uv_right_u: [f32; 4],
    uv_right_v: [f32; 4],
    flags: [u32; 4],
}

const FLAG_UV1_LEFT: u32 = 1;
const FLAG_UV1_RIGHT: u32 = 2;
const FLAG_RELIEF: u32 = 4;
const FLAG_LABELS: u32 = 8;
const FLAG_P3_LEFT: u32 = 16;
const FLAG_P3_RIGHT: u32 = 32;
const FLAG_VERTEX_COLOUR: u32 = 64;

impl SurfaceUniform {
    /// The uniform of a patch.
    #[must_use]
    pub fn new(paint: &PatchPaint, vertex_colours: bool) -> Self {
        let [left, right] = &paint.sides;
        let row = |r: [f32; 3], w: f32| [r[0], r[1], r[2], w];
        let kind = |s: &SidePaint| match (s.texture, s.band) {
            (None, _) => 0,
            (Some(_), false) => 1,
            (Some(_), true) => 2,
        };
        let flag = |on: bool, bit: u32| if on { bit } else { 0 };
        let relief = left.texture.is_none() && right.texture.is_none() && !vertex_colours;
        Self {
            factor_left: left.factor,
            factor_right: right.factor,
            uv_left_u: row(left.uv.0[0], 0.0),
            uv_left_v: row(left.uv.0[1], paint.alpha_cutoff),
            uv_right_u: row(right.uv.0[0], 0.0),
            uv_right_v: row(right.uv.0[1], 0.0),
            flags: [
                kind(left),
                kind(right),
                u32::from(left.shown) | (u32::from(right.shown) << 1),
                flag(left.raw_uvs, FLAG_UV1_LEFT)
                    | flag(right.raw_uvs, FLAG_UV1_RIGHT)
                    | flag(relief, FLAG_RELIEF)
                    | flag(paint.labels.is_some(), FLAG_LABELS)
                    | flag(left.display_p3, FLAG_P3_LEFT)
                    | flag(right.display_p3, FLAG_P3_RIGHT)
                    | flag(vertex_colours, FLAG_VERTEX_COLOUR),
            ],
        }
    }

    /// Names and offsets of the members, to be compared with the shader's.
    #[must_use]
    pub fn layout() -> (Vec<(&'static str, usize)>, usize) {
        use std::mem::{offset_of, size_of};
        (
            vec![
                ("factor_left", offset_of!(Self, factor_left)),
                ("factor_right", offset_of!(Self, factor_right)),
                ("uv_left_u", offset_of!(Self, uv_left_u)),
                ("uv_left_v", offset_of!(Self, uv_left_v)),
                ("uv_right_u", offset_of!(Self, uv_right_u)),
                ("uv_right_v", offset_of!(Self, uv_right_v)),
                ("flags", offset_of!(Self, flags)),
            ],
            size_of::<Self>(),
        )
    }
}
