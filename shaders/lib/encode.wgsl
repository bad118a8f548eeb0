// Linear light to the encoded values of the canvas, and back.
// IEC 61966-2-1; break points and factors as in W3C CSS Color 4, section 10.2.
fn encoded_srgb(linear: vec3<f32>) -> vec3<f32> {
    let low = 12.92 * linear;
    let high = 1.055 * pow(max(linear, vec3(0.0)), vec3(1.0 / 2.4)) - 0.055;
    return select(high, low, linear <= vec3(0.0031308));
}

fn decoded_srgb(encoded: vec3<f32>) -> vec3<f32> {
    let low = encoded / 12.92;
    let high = pow((max(encoded, vec3(0.0)) + 0.055) / 1.055, vec3(2.4));
    return select(high, low, encoded <= vec3(0.04045));
}

// Product of the exact rational matrices of CSS Color 4 (linear Display P3 -> XYZ D65 -> linear sRGB).
fn linear_srgb_from_linear_p3(p3: vec3<f32>) -> vec3<f32> {
    return vec3(
        1.2249401762805598 * p3.r - 0.2249401762805597 * p3.g,
        -0.042056954709688163 * p3.r + 1.0420569547096881 * p3.g,
        -0.019637554590334432 * p3.r - 0.078636045550631889 * p3.g + 1.0982736001409663 * p3.b,
    );
}
