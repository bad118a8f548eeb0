// The differences of N pairs of CIELAB colours, as this device computes them: N by 2 texels in, N
// texels out, each the difference in units of 1e-5 as three bytes, the lowest first.
#import lib/delta_e_2000

@group(0) @binding(0) var pairs: texture_2d<f32>;

@vertex
fn vertex(@builtin(vertex_index) index: u32) -> @builtin(position) vec4<f32> {
    let corner = vec2(f32((index << 1u) & 2u), f32(index & 2u));
    return vec4(corner * 2.0 - 1.0, 0.0, 1.0);
}

@fragment
fn fragment(@builtin(position) place: vec4<f32>) -> @location(0) vec4<f32> {
    let x = i32(place.x);
    let one = textureLoad(pairs, vec2(x, 0), 0).rgb;
    let two = textureLoad(pairs, vec2(x, 1), 0).rgb;
    let units = u32(clamp(round(delta_e_2000(one, two) * 1e5), 0.0, 16777215.0));
    let bytes = vec4(units & 255u, (units >> 8u) & 255u, units >> 16u, 255u);
    return vec4<f32>(bytes) / 255.0;
}
