// Whether a display can show a colour. CPU twin: colorimetry `gamut`. Components are encoded.

// Half of an 8-bit code.
const HALF_CODE: f32 = 0.5 / 255.0;

fn in_gamut(encoded: vec3f) -> bool {
    return all(encoded >= vec3f(-HALF_CODE)) && all(encoded <= vec3f(1.0 + HALF_CODE));
}
