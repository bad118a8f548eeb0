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

fn transformed(u: vec4<f32>, v: vec4<f32>, uv: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, uv) + u.z, dot(v.xy, uv) + v.z);
}

fn turned(u: vec4<f32>, v: vec4<f32>, d: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, d), dot(v.xy, d));
}

// A texel that covers more pixels than this is shown with sharp edges; from half as many on its edges
// begin to sharpen. Choices of ours.
const CRISP: f32 = 8.0;

// A place on the images like this one. Enlarged far, a texel is an even square with an edge of one pixel.
fn place_on(tiled: vec4<u32>, image: texture_2d<f32>, uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> Footprint {
    let size = select(vec2<f32>(tiled.yz), vec2<f32>(textureDimensions(image)), tiled.x == 0u);
    // Texels that a pixel covers, along u and v.
    let wide = (abs(dx) + abs(dy)) * size;
    let place = uv * size - 0.5;
    let edge = mix(vec2(1.0), max(wide, vec2(1e-4)), clamp(2.0 - CRISP * wide, vec2(0.0), vec2(1.0)));
    let between = clamp((fract(place) - 0.5) / edge + 0.5, vec2(0.0), vec2(1.0));
    let crisp = (floor(place) + 0.5 + between) / size;
    return footprint(tiled, select(crisp, uv, max(wide.x, wide.y) >= 2.0 / CRISP), dx, dy);
}

// A place on the textures of one side, and the same found on the images of both, where they are alike.
struct Place {
    uv: vec2<f32>,
    dx: vec2<f32>,
    dy: vec2<f32>,
    alike: Footprint,
};

// On the textures of a side (0 left, 1 right), from a vertex's UVs.
fn place_of(base: vec2<f32>, side: u32) -> Place {
    let u = paint.uv_u[side];
    let v = paint.uv_v[side];
    var place: Place;
    place.uv = transformed(u, v, base);
    place.dx = turned(u, v, dpdx(base));
    place.dy = turned(u, v, dpdy(base));
    if ALIKE {
        place.alike = place_on(paint.tiled[0], left_0, place.uv, place.dx, place.dy);
    }
    return place;
}

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
