// The paint of a patch: what is told of it, its images, and a place on them.
#import lib/tiles

// The Rust twin is `ganosis_renderer::SurfaceUniform`. Two of a kind: left, right.
struct SurfacePaint {
    // Multiplied with the lowest layer in linear light; the colour where there is no layer.
    factor: array<vec4<f32>, 2>,
    // Rows of the 2x3 matrix from UV to texture.
    uv_u: array<vec4<f32>, 2>,
    uv_v: array<vec4<f32>, 2>,
    // Layers from the lowest up, first the left ones: x: LAYER_* + 4 · row of the tone map + 32 · lines
    // of one value, y: weight 0..1, z and w: lower and upper end of a band (0..1 of its range; the
    // other way round inverts it).
    layers: array<vec4<f32>, 8>,
    // x, y: layers of the left, of the right; z: shown in left 1, right 2; w: FLAG_*.
    flags: vec4<u32>,
    // x: alpha below which nothing is drawn; y: number of the sheet.
    cutoff: vec4<f32>,
    // Of each layer, and of the region map, how it is cut into tiles: see `level_size`.
    tiled: array<vec4<u32>, 9>,
    // Of each level of the lowest layer on the left, see `level_of`: counted beforehand, where most are alike.
    levels: array<vec4<f32>, 10>,
};

// Whether all images of both sides have one size and lie alike, so that a place on one is the place on all.
override ALIKE: bool = false;

// The one layer is a material of the mesh, with its own alpha.
const FLAG_MATERIAL_LEFT: u32 = 64u;
const FLAG_MATERIAL_RIGHT: u32 = 128u;

// A sheet without an image; `ganosis_viewer::content` has the same.
const BARE: vec3<f32> = vec3<f32>(0.6, 0.6, 0.6);

@group(1) @binding(0) var<uniform> paint: SurfacePaint;
@group(1) @binding(1) var left_0: texture_2d<f32>;
@group(1) @binding(2) var left_1: texture_2d<f32>;
@group(1) @binding(3) var left_2: texture_2d<f32>;
@group(1) @binding(4) var left_3: texture_2d<f32>;
@group(1) @binding(5) var sampler_left: sampler;
@group(1) @binding(6) var right_0: texture_2d<f32>;
@group(1) @binding(7) var right_1: texture_2d<f32>;
@group(1) @binding(8) var right_2: texture_2d<f32>;
@group(1) @binding(9) var right_3: texture_2d<f32>;
@group(1) @binding(10) var sampler_right: sampler;
@group(1) @binding(11) var labels: texture_2d<u32>;

// A layer over what is below it.
fn laid_over(below: vec4<f32>, top: vec4<f32>, weight: f32) -> vec4<f32> {
    return vec4(mix(below.rgb, top.rgb, top.a * weight), below.a);
}

// The lowest layer of a side (0 left, 1 right). A material is as it is; a layer of a dossier lies over the bare
// surface.
fn grounded(ground: vec4<f32>, side: u32) -> vec4<f32> {
    let laid = laid_over(vec4(BARE, 1.0), ground, paint.layers[4u * side].y);
    return select(laid, ground, (paint.flags.w & (FLAG_MATERIAL_LEFT << side)) != 0u);
}
