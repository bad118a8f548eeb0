// Transfer functions of sRGB and Display P3. CPU twin: colorimetry `rgb::{encode,decode}_srgb`.

// IEC 61966-2-1:1999, light to code, odd symmetry below zero.
fn encode_srgb(linear: vec3f) -> vec3f {
    let v = abs(linear);
    let curved = 1.055 * pow(max(v, vec3f(0.0031308)), vec3f(1.0 / 2.4)) - 0.055;
    return sign(linear) * select(curved, 12.92 * v, v <= vec3f(0.0031308));
}

// IEC 61966-2-1:1999, code to light, odd symmetry below zero.
fn decode_srgb(encoded: vec3f) -> vec3f {
    let v = abs(encoded);
    let curved = pow((max(v, vec3f(0.04045)) + 0.055) / 1.055, vec3f(2.4));
    return sign(encoded) * select(curved, v / 12.92, v <= vec3f(0.04045));
}
