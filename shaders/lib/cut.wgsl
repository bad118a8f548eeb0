// Pictures drawn in parts: what is drawn of them, and where a pixel lies in the whole.

// Places of vertices are rounded to this share of a pixel before the part is cut out, so that a part has
// the same edges as the whole. A device need keep no more than 4 bits (OpenGL ES 3.0, SUBPIXEL_BITS; Vulkan,
// subPixelPrecisionBits): finer places would be rounded once more, and not alike.
const STEPS: f32 = 16.0;

// Clip space of a pane to that of the part of it that is drawn.
fn in_cut(clip: vec4<f32>) -> vec4<f32> {
    if frame.pane.x <= 0.0 {
        return clip;
    }
    let scale = frame.pane.xy / frame.cut.zw;
    let shift = scale - 2.0 * frame.cut.xy / frame.cut.zw - 1.0;
    // Upwards in clip space, downwards in pixels.
    var place = clip.xy * vec2(1.0, -1.0);
    if clip.w > 0.0 {
        let px = round((place / clip.w + 1.0) * 0.5 * frame.pane.xy * STEPS) / STEPS;
        let part = (px - frame.cut.xy) / frame.cut.zw * 2.0 - 1.0;
        place = part * clip.w;
    } else {
        place = place * scale + shift * clip.w;
    }
    return vec4(place * vec2(1.0, -1.0), clip.zw);
}

// A pixel of the target in the whole picture.
fn in_picture(pixel: vec2<f32>) -> vec2<f32> {
    return pixel + frame.pane.zw;
}
