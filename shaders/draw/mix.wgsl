// Blends finished pictures in linear light: three states, or two that show different parts.
#import frame
#import lib/transfer

@group(1) @binding(0) var picture_left: texture_2d<f32>;
@group(1) @binding(1) var picture_right: texture_2d<f32>;
@group(1) @binding(2) var picture_third: texture_2d<f32>;

@vertex
fn vertex(@builtin(vertex_index) index: u32) -> @builtin(position) vec4<f32> {
    let corner = vec2(f32((index << 1u) & 2u), f32(index & 2u));
    return vec4(corner * 2.0 - 1.0, 0.0, 1.0);
}

@fragment
fn fragment(@builtin(position) place: vec4<f32>) -> @location(0) vec4<f32> {
    let pixel = vec2<i32>(place.xy);
    let left = decode_srgb(textureLoad(picture_left, pixel, 0).rgb);
    let right = decode_srgb(textureLoad(picture_right, pixel, 0).rgb);
    let third = decode_srgb(textureLoad(picture_third, pixel, 0).rgb);
    let shares = frame.divider.xyz;
    return vec4(encode_srgb(left * shares.x + right * shares.y + third * shares.z), 1.0);
}
