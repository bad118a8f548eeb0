// Encoding for the target, which is sRGB or Display P3.
#import frame
#import lib/transfer

// Primaries of both by W3C CSS Color Module Level 4, as in `lib/adaptation`; the white is the same.
fn linear_p3_from_linear_srgb(rgb: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(0.8224619687, 0.0331941989, 0.0170826307),
        vec3f(0.1775380313, 0.9668058011, 0.0723974407),
        vec3f(0.0000000000, 0.0000000000, 0.9105199286),
    );
    return m * rgb;
}

// Encoded for the target.
fn for_display(colour: vec4<f32>) -> vec4<f32> {
    var rgb = colour.rgb;
    if (frame.mode.z & MODE_WIDE) != 0u {
        rgb = linear_p3_from_linear_srgb(rgb);
    }
    return vec4(encode_srgb(clamp(rgb, vec3(0.0), vec3(1.0))), colour.a);
}
