// Group 0: what holds for a whole frame. The Rust twin is `ganosis_renderer::frame::FrameUniform`;
// a test compares offsets and sizes, so the two cannot drift apart.
struct Frame {
    clip_from_scene: mat4x4<f32>,
    // xyz: the eye in scene coordinates (m); w: device pixels per CSS pixel.
    eye: vec4<f32>,
    // xy: size of the target (px); zw: what is drawn in a swipe, from and to across the divider.
    target_px: vec4<f32>,
    // xy: unit normal of the divider; z: extent of the target along it (px); w: position 0..1.
    // In a loupe xy: its middle, z: its radius, w: width of its soft edge (px). In a blend xyz: shares
    // of up to three pictures, w: that of the right one.
    divider: vec4<f32>,
    // x: light from everywhere, y: how much what the object hides counts, z: the sky's light, w: the
    // ground's share of it.
    light: vec4<f32>,
    // xyz: direction towards a lamp from the origin of the scene; w: its distance (m), 0 for parallel light.
    lamps: array<vec4<f32>, 2>,
    // Sine of a lamp's angular radius from the origin, and its strength; of the first, of the second.
    shine: vec4<f32>,
    // xyz: towards the middle of the sky; w: how much stronger relief is than it is.
    sky: vec4<f32>,
    // What lies on the side of this plane to which its normal (xyz) points is cut away; w: its distance
    // from the origin (m).
    section: vec4<f32>,
    // Of the difference x: threshold, y: upper end of the scale (CIEDE2000); z: strength of the overlay.
    difference: vec4<f32>,
    // x: comparison (COMPARE_*); y: selected region number, 0 none; z: MODE_*; w: side drawn alone.
    mode: vec4<u32>,
    // Of a picture drawn in parts: what is drawn of a pane (of the picture, where that has none), xy: its
    // corner in the pane, zw: its size (px), both of what the viewport holds.
    cut: vec4<f32>,
    // xy: size of the pane, 0 on the canvas; zw: corner of the target in the picture (px).
    pane: vec4<f32>,
};

const COMPARE_ONE: u32 = 0u;
const COMPARE_SWIPE: u32 = 1u;
const COMPARE_BLEND: u32 = 2u;
const COMPARE_DIFFERENCE: u32 = 3u;
const COMPARE_LOUPE: u32 = 4u;
// Lit by lamps or a sky.
const MODE_LIT: u32 = 1u;
// Colours as under the lamp in the region table.
const MODE_LAMP: u32 = 2u;
// Encoded for a canvas of Display P3.
const MODE_WIDE: u32 = 4u;
// Patterns of the region table drawn over the paint.
const MODE_OVERLAY: u32 = 8u;
// Cut open by the plane.
const MODE_SECTION: u32 = 16u;

@group(0) @binding(0) var<uniform> frame: Frame;
// Tone maps, a row each: 256 colours, sRGB encoded.
@group(0) @binding(1) var band_colours: texture_2d<f32>;
// What holds for whole regions, by their number: see `table_row` in `draw/surface.wgsl`.
@group(0) @binding(2) var region_table: texture_2d<f32>;
