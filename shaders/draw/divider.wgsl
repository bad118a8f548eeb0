// The line of the divider, or the rim of the loupe: a light core between dark edges, drawn last.
#import frame
#import lib/cut

struct VertexOut {
    @builtin(position) clip: vec4<f32>,
};

// Half the width of the core and of the whole line (CSS px).
const CORE: f32 = 0.75;
const WHOLE: f32 = 1.75;

// Corner of a strip along the divider.
fn along_divider(across: f32, end: f32) -> vec2<f32> {
    let normal = frame.divider.xy;
    let along = vec2(-normal.y, normal.x);
    let reach = frame.target_px.x + frame.target_px.y;
    let centre = 0.5 * frame.target_px.xy + normal * (frame.divider.w - 0.5) * frame.divider.z;
    return centre + along * end * reach + normal * across * (WHOLE * frame.eye.w + 1.0);
}

// Corner of a square around the loupe.
fn around_loupe(x: f32, y: f32) -> vec2<f32> {
    return frame.divider.xy + vec2(x, y) * (frame.divider.z + WHOLE * frame.eye.w + 1.0);
}

// Distance of a pixel from the line or the rim (px).
fn distance_px(pixel: vec2<f32>) -> f32 {
    if frame.mode.x == COMPARE_LOUPE {
        return abs(distance(pixel, frame.divider.xy) - frame.divider.z);
    }
    let from_centre = dot(pixel - 0.5 * frame.target_px.xy, frame.divider.xy);
    return abs(from_centre - (frame.divider.w - 0.5) * frame.divider.z);
}

@vertex
fn vertex(@builtin(vertex_index) index: u32) -> VertexOut {
    let one = select(-1.0, 1.0, (index & 1u) != 0u);
    let other = select(-1.0, 1.0, (index & 2u) != 0u);
    var pixel = along_divider(one, other);
    if frame.mode.x == COMPARE_LOUPE {
        pixel = around_loupe(one, other);
    }
    let ndc = pixel / frame.target_px.xy * 2.0 - 1.0;
    var out: VertexOut;
    out.clip = in_cut(vec4(ndc.x, -ndc.y, 0.0, 1.0));
    return out;
}

@fragment
fn fragment(in: VertexOut) -> @location(0) vec4<f32> {
    let away = distance_px(in_picture(in.clip.xy)) / frame.eye.w;
    if away > WHOLE {
        discard;
    }
    return vec4(vec3(select(0.08, 1.0, away <= CORE)), 1.0);
}
