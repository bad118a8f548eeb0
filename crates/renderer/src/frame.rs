//! What holds for a whole frame: camera, comparison, light.

use bytemuck::{Pod, Zeroable};
use ganosis_colorimetry::LabD50;
use glam::{Mat4, Vec3};

use crate::paint::Side;

/// How the left and the right appearance share the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Compare {
    /// One side alone.
    One(Side),
    /// Left of a divider the left one, right of it the right one.
    Swipe {
        /// Place of the divider across the picture, 0..1.
        position: f32,
        /// Angle of its normal from the x axis, clockwise (rad).
        angle_rad: f32,
        /// What is drawn of the picture, from and to across it; [`WHOLE`] of it as a rule.
        within: [f32; 2],
    },
    /// Strips beside one another: left, right, then those of the second pair.
    Strips {
        /// Places of the dividers across the picture, each at or after the one before; beyond 1 there
        /// is none.
        positions: [f32; 3],
        /// Angle of their normal from the x axis, clockwise (rad).
        angle_rad: f32,
    },
    /// Mixed in linear light; 0 shows the left one.
    Blend {
        /// Share of the right one, 0..1.
        position: f32,
    },
    /// Three mixed in linear light: left, right, and the first of the second pair.
    Mix {
        /// Their shares, which add up to 1.
        shares: [f32; 3],
    },
    /// Inside a round glass the right one, around it the left one.
    Loupe {
        /// Middle of the glass, 0..1 of the picture's width and height.
        centre: [f32; 2],
        /// Its radius, in shares of the picture's shorter side.
        radius: f32,
        /// Share of the radius over which the two are mixed in linear light, 0..1.
        softness: f32,
    },
    /// Panes of the same size, each with one side whole: two beside one another (left, right), or
    /// four (left, right, then those of the second pair).
    Panes {
        /// Columns and rows.
        grid: [u32; 2],
    },
    /// CIEDE2000 between the two, through the band map.
    Difference {
        /// Below it the left one's lightness is shown.
        threshold: f32,
        /// Difference at the upper end of the band map.
        full_scale: f32,
    },
}

/// All of a picture across its divider: far beyond 0 and 1, where a turned one's corners lie.
pub const WHOLE: [f32; 2] = [-4.0, 4.0];

/// A lamp, as seen from the origin of the scene.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lamp {
    /// Towards it, of length 1.
    pub direction: Vec3,
    /// How far away it stands (m); 0 is so far that its light is parallel.
    pub distance_m: f32,
    /// Sine of its angular radius, 0 for a point.
    pub softness: f32,
    /// Its light on what faces it at the origin: 1 shows a surface in its own colour, 0 is off.
    pub strength: f32,
}

/// Light on the object; without one the picture is unlit and shows colour as measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Light {
    /// Two lamps.
    pub lamps: [Lamp; 2],
    /// Light from everywhere.
    pub ambient: f32,
    /// Light of an overcast sky on what faces its middle.
    pub sky: f32,
    /// Towards the middle of the sky, of length 1.
    pub sky_direction: Vec3,
    /// Share of the sky's light that the ground gives back.
    pub ground: f32,
    /// How many times as strong relief is drawn; 1 as it is.
    pub relief: f32,
    /// How much counts what the object hides of sky and surroundings, 0..1.
    pub occlusion: f32,
}

/// A plane: what lies on the side to which its normal points is cut away.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Of length 1.
    pub normal: Vec3,
    /// From the origin of the scene along the normal (m).
    pub offset_m: f32,
}

/// A rectangle of a larger picture, drawn so that it shows what the whole picture shows there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// Width and height of the whole picture (px).
    pub whole_px: [u32; 2],
    /// Where the target's upper left corner lies in it (px).
    pub origin_px: [u32; 2],
    /// How far beyond the target triangles are followed (px): one that is cut off has its edge moved a
    /// little, and must be cut where that is not seen.
    pub reach_px: [u32; 2],
}

impl Cut {
    /// What of `pane` (x, y, width, height of the picture) a target of `size` and its surroundings hold.
    fn around(&self, pane: [u32; 4], size: [u32; 2]) -> [u32; 4] {
        let from = [0, 1].map(|axis| self.origin_px[axis].saturating_sub(self.reach_px[axis]));
        let reached =
            [0, 1].map(|axis| self.origin_px[axis] + size[axis] + self.reach_px[axis] - from[axis]);
        shared(pane, from, reached)
    }

    /// The same as a viewport of the target: x, y, width, height (px).
    pub(crate) fn viewport(&self, pane: [u32; 4], size: [u32; 2]) -> [f32; 4] {
        let [x, y, width, height] = self.around(pane, size).map(|v| v as f32);
        let [left, top] = self.origin_px.map(|v| v as f32);
        [x - left, y - top, width, height]
    }
}

/// Everything a picture depends on besides geometry and paint.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    /// Scene (metres, relative to the origin given with the geometry) to clip space, z 0..1.
    pub clip_from_scene: Mat4,
    /// The eye in scene coordinates.
    pub eye_in_scene_m: Vec3,
    /// Device pixels per CSS pixel: widths of lines follow it.
    pub device_pixel_ratio: f32,
    /// How the sides share the picture.
    pub compare: Compare,
    /// A light, or none for colour as measured.
    pub light: Option<Light>,
    /// The plane that the object is cut open by.
    pub section: Option<Section>,
    /// The surface is closed and seen from outside: its triangles seen from behind need not be drawn.
    pub backs_hidden: bool,
    /// Number of the region to outline, 0 for none.
    pub selected_region: u32,
    /// Lightness L* of the neutral surround, 0..100.
    pub surround_l: f32,
    /// Colours are shown as the region table has them under a lamp.
    pub under_lamp: bool,
    /// Strength 0..1 of the region table's patterns over the paint.
    pub overlay: f32,
    /// The target is a canvas of Display P3.
    pub wide_gamut: bool,
    /// Whether the line of the divider is drawn.
    pub divider_line: bool,
    /// The target is a part of a picture; none where it is all of it, on the canvas.
    pub cut: Option<Cut>,
}

impl Frame {
    /// Whether colours are replaced by how far they are apart.
    pub(crate) fn is_difference(&self) -> bool {
        matches!(self.compare, Compare::Difference { .. })
    }

    /// Whether there is more to draw than plain paint, its differences or light on it (`RICH` of the shader).
    pub(crate) fn is_rich(&self) -> bool {
        self.section.is_some() || self.selected_region > 0 || self.under_lamp || self.overlay > 0.0
    }
}

/// Twin of `Frame` in `shaders/frame.wgsl`.
#[repr(C)]
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
pub struct FrameUniform {
    clip_from_scene: [[f32; 4]; 4],
    eye: [f32; 4],
    target_px: [f32; 4],
    divider: [f32; 4],
    light: [f32; 4],
    lamps: [[f32; 4]; 2],
    shine: [f32; 4],
    sky: [f32; 4],
    section: [f32; 4],
    difference: [f32; 4],
    mode: [u32; 4],
    cut: [f32; 4],
    pane: [f32; 4],
}

/// `COMPARE_*` of the shader.
const COMPARE_ONE: u32 = 0;
const COMPARE_SWIPE: u32 = 1;
const COMPARE_BLEND: u32 = 2;
const COMPARE_DIFFERENCE: u32 = 3;
const COMPARE_LOUPE: u32 = 4;

/// `MODE_*` of the shader.
const MODE_LIT: u32 = 1;
const MODE_LAMP: u32 = 2;
const MODE_WIDE: u32 = 4;
const MODE_OVERLAY: u32 = 8;
const MODE_SECTION: u32 = 16;

impl FrameUniform {
    /// The uniform of `frame` for a target of the given size.
    #[must_use]
    pub fn new(frame: &Frame, width_px: u32, height_px: u32) -> Self {
        let whole = frame.cut.map_or([width_px, height_px], |c| c.whole_px);
        let [width, height] = whole.map(|s| s as f32);
        let (mode, side, position, angle) = match frame.compare {
            Compare::One(side) => (COMPARE_ONE, u32::from(side == Side::Right), 0.0, 0.0),
            Compare::Swipe {
                position,
                angle_rad,
                ..
            } => (COMPARE_SWIPE, 0, position, angle_rad),
            Compare::Blend { position } => (COMPARE_BLEND, 0, position, 0.0),
            Compare::Difference { .. } => (COMPARE_DIFFERENCE, 0, 0.0, 0.0),
            Compare::Loupe { .. } => (COMPARE_LOUPE, 0, 0.0, 0.0),
            // Drawn piece by piece, each as something simpler.
            Compare::Panes { .. } | Compare::Strips { .. } | Compare::Mix { .. } => {
                (COMPARE_ONE, 0, 0.0, 0.0)
            }
        };
        let [threshold, full_scale] = match frame.compare {
            Compare::Difference {
                threshold,
                full_scale,
            } => [threshold, full_scale],
            _ => [0.0, 1.0],
        };
        let flag = |on: bool, bit: u32| if on { bit } else { 0 };
        let normal = [angle.cos(), angle.sin()];
        let extent = width * normal[0].abs() + height * normal[1].abs();
        let divider = match frame.compare {
            Compare::Loupe {
                centre,
                radius,
                softness,
            } => {
                let radius = radius * width.min(height);
                [
                    centre[0] * width,
                    centre[1] * height,
                    radius,
                    softness * radius,
                ]
            }
            Compare::Blend { position } => [1.0 - position, position, 0.0, position],
            Compare::Mix {
                shares: [left, right, third],
            } => [left, right, third, 0.0],
            _ => [normal[0], normal[1], extent, position],
        };
        let within = match frame.compare {
            Compare::Swipe { within, .. } => within,
            _ => WHOLE,
        };
        let mut uniform = Self::zeroed();
        if let Some(light) = frame.light {
            let [first, second] = light.lamps;
            uniform.light = [light.ambient, light.occlusion, light.sky, light.ground];
            uniform.lamps =
                [first, second].map(|lamp| lamp.direction.extend(lamp.distance_m).to_array());
            uniform.shine = [
                first.softness,
                first.strength,
                second.softness,
                second.strength,
            ];
            uniform.sky = light.sky_direction.extend(light.relief).to_array();
        }
        if let Some(section) = frame.section {
            uniform.section = section.normal.extend(section.offset_m).to_array();
        }
        Self {
            clip_from_scene: frame.clip_from_scene.to_cols_array_2d(),
            eye: frame
                .eye_in_scene_m
                .extend(frame.device_pixel_ratio)
                .to_array(),
            target_px: [width, height, within[0], within[1]],
            divider,
            difference: [threshold, full_scale, frame.overlay, 0.0],
            mode: [
                mode,
                frame.selected_region,
                flag(frame.light.is_some(), MODE_LIT)
                    | flag(frame.under_lamp, MODE_LAMP)
                    | flag(frame.wide_gamut, MODE_WIDE)
                    | flag(frame.overlay > 0.0, MODE_OVERLAY)
                    | flag(frame.section.is_some(), MODE_SECTION),
                side,
            ],
            ..uniform
        }
        .cut_from(frame.cut, [0, 0, whole[0], whole[1]], [width_px, height_px])
    }

    /// Drawn is what a target of `size` shows of `pane` (x, y, width, height of the picture).
    #[must_use]
    pub(crate) fn cut_from(mut self, cut: Option<Cut>, pane: [u32; 4], size: [u32; 2]) -> Self {
        let Some(cut) = cut else {
            return self;
        };
        let [x, y, width, height] = cut.around(pane, size).map(|v| v as f32);
        let [pane_x, pane_y, pane_width, pane_height] = pane.map(|v| v as f32);
        self.cut = [x - pane_x, y - pane_y, width, height];
        let [left, top] = cut.origin_px.map(|v| v as f32);
        self.pane = [pane_width, pane_height, left, top];
        self
    }

    /// Names and offsets of the members, to be compared with the shader's.
    #[must_use]
    pub fn layout() -> (Vec<(&'static str, usize)>, usize) {
        use std::mem::{offset_of, size_of};
        (
            vec![
                ("clip_from_scene", offset_of!(Self, clip_from_scene)),
                ("eye", offset_of!(Self, eye)),
                ("target_px", offset_of!(Self, target_px)),
                ("divider", offset_of!(Self, divider)),
                ("light", offset_of!(Self, light)),
                ("lamps", offset_of!(Self, lamps)),
                ("shine", offset_of!(Self, shine)),
                ("sky", offset_of!(Self, sky)),
                ("section", offset_of!(Self, section)),
                ("difference", offset_of!(Self, difference)),
                ("mode", offset_of!(Self, mode)),
                ("cut", offset_of!(Self, cut)),
                ("pane", offset_of!(Self, pane)),
            ],
            size_of::<Self>(),
        )
    }
}

/// What `pane` (x, y, width, height) and a target of `size` at `origin` share; no width or height where
/// they share nothing.
pub(crate) fn shared(pane: [u32; 4], origin: [u32; 2], size: [u32; 2]) -> [u32; 4] {
    let [from, to] = [0, 1].map(|axis| {
        let from = pane[axis].max(origin[axis]);
        let to = (pane[axis] + pane[axis + 2]).min(origin[axis] + size[axis]);
        [from, to.saturating_sub(from)]
    });
    [from[0], to[0], from[1], to[1]]
}

/// The neutral grey of lightness `l` (0..100) as an encoded sRGB value 0..1.
#[must_use]
pub(crate) fn neutral_grey(l: f32) -> f32 {
    LabD50::new(f64::from(l.clamp(0.0, 100.0)), 0.0, 0.0)
        .to_srgb()
        .g as f32
}
