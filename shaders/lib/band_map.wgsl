// The map from a band value to a colour, in CIELAB (D50). CPU twin: colorimetry `band_map_lab`, whose
// table this repeats (a test compares them).

fn band_map_ab(i: i32) -> vec2f {
    var ab = array<vec2f, 17>(
        vec2f(-8.34, 3.37),
        vec2f(-11.04, -4.12),
        vec2f(-10.10, -12.73),
        vec2f(-6.85, -22.62),
        vec2f(1.38, -30.63),
        vec2f(9.88, -31.70),
        vec2f(16.84, -29.76),
        vec2f(23.23, -26.18),
        vec2f(29.12, -20.54),
        vec2f(33.86, -12.16),
        vec2f(35.64, -1.81),
        vec2f(33.57, 8.24),
        vec2f(28.62, 16.31),
        vec2f(21.69, 21.87),
        vec2f(13.47, 23.85),
        vec2f(5.45, 20.58),
        vec2f(0.45, 12.99),
    );
    return ab[clamp(i, 0, 16)];
}

fn band_map_lab(value: f32) -> vec3f {
    let t = clamp(value, 0.0, 1.0);
    let i = min(i32(t * 16.0), 15);
    let u = t * 16.0 - f32(i);
    let p0 = band_map_ab(i - 1);
    let p1 = band_map_ab(i);
    let p2 = band_map_ab(i + 1);
    let p3 = band_map_ab(i + 2);
    let curve = (2.0 * p0 - 5.0 * p1 + 4.0 * p2 - p3) + u * (3.0 * (p1 - p2) + p3 - p0);
    return vec3f(mix(12.0, 95.0, t), p1 + 0.5 * u * (p2 - p0 + u * curve));
}
