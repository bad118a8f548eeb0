// Group 0: what holds for a whole frame. The Rust twin is `ganosis_renderer::frame::FrameUniform`;
// a test compares offsets and sizes, so the two cannot drift apart.
struct Frame {
    clip_from_scene: mat4x4<f32>,
    // xyz: the eye in scene coordinates (m); w: device pixels per CSS pixel.
    eye: vec4<f32>,
    // xy: size of the target (px); zw: lower and upper end of the band shown (0..1 of its range).
    target_px: vec4<f32>,
    // xy: unit normal of the divider; z: extent of the target along it (px); w: position 0..1.
    divider: vec4<f32>,
    // xyz: direction towards the raking light; w: share of ambient light.
    light: vec4<f32>,
    // x: comparison (COMPARE_*); y: selected region number, 0 none; z: 1 when lit; w: side drawn alone.
    mode: vec4<u32>,
};

const COMPARE_ONE: u32 = 0u;
const COMPARE_SWIPE: u32 = 1u;
const COMPARE_BLEND: u32 = 2u;
const COMPARE_DIFFERENCE: u32 = 3u;

@group(0) @binding(0) var<uniform> frame: Frame;
// The band map: 256 colours, sRGB encoded, a row.
@group(0) @binding(1) var band_colours: texture_2d<f32>;
