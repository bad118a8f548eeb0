// One level of a mip chain from the one above: the mean of 2x2 texels, in linear light.
@group(0) @binding(0) var above: texture_2d<f32>;
@group(0) @binding(1) var above_sampler: sampler;

struct VertexOut {
    @builtin(position) clip: vec4<f32>,
    @location(0) uv: vec2<f32>,
};

@vertex
fn vertex(@builtin(vertex_index) index: u32) -> VertexOut {
    let corner = vec2(f32((index << 1u) & 2u), f32(index & 2u));
    var out: VertexOut;
    out.clip = vec4(corner * 2.0 - 1.0, 0.0, 1.0);
    out.uv = vec2(corner.x, 1.0 - corner.y);
    return out;
}

@fragment
fn fragment(in: VertexOut) -> @location(0) vec4<f32> {
    return textureSampleLevel(above, above_sampler, in.uv, 0.0);
}
