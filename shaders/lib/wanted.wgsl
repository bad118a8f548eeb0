// Which tiles a picture needs, in numbers: where on which sheet, and how fine. Two sides of a hundred
// layers ask for the same, since all share the places. The last sheet is no surface.
#import lib/paint

// 10 bits each of u and v, 7 bits of eight times the binary logarithm of the footprint's inverse, 5 of
// the sheet.
fn wanted_at(uv: vec2<f32>) -> vec4<f32> {
    let fine = u32(clamp(-8.0 * log2(narrow_side(dpdx(uv), dpdy(uv))), 0.0, 127.0));
    let place = vec2<u32>(fract(uv) * 1024.0);
    let bytes = vec4(
        place.x & 255u,
        place.y & 255u,
        (place.x >> 8u) | ((place.y >> 8u) << 2u) | ((fine & 15u) << 4u),
        (fine >> 4u) | (u32(paint.cutoff.y) << 3u),
    );
    return vec4<f32>(bytes) / 255.0;
}
