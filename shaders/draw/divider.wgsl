// The line of the divider: a light core between dark edges, drawn last.
#import frame

struct VertexOut {
    @builtin(position) clip: vec4<f32>,
    // Distance from the line (px).
    @location(0) distance_px: f32,
};

// Half the width of the core and of the whole line (CSS px).
const CORE: f32 = 0.75;
const WHOLE: f32 = 1.75;

@vertex
fn vertex(@builtin(vertex_index) index: u32) -> VertexOut {
    let normal = frame.divider.xy;
    let along = vec2(-normal.y, normal.x);
    let reach = frame.target_px.x + frame.target_px.y;
    let side = select(-1.0, 1.0, (index & 1u) != 0u);
    let end = select(-1.0, 1.0, (index & 2u) != 0u);
    let distance_px = side * (WHOLE * frame.eye.w + 1.0);
    let centre = 0.5 * frame.target_px.xy + normal * (frame.divider.w - 0.5) * frame.divider.z;
    let pixel = centre + along * end * reach + normal * distance_px;
    var out: VertexOut;
    let ndc = pixel / frame.target_px.xy * 2.0 - 1.0;
    out.clip = vec4(ndc.x, -ndc.y, 0.0, 1.0);
    out.distance_px = distance_px;
    return out;
}

@fragment
fn fragment(in: VertexOut) -> @location(0) vec4<f32> {
    let distance = abs(in.distance_px) / frame.eye.w;
    if distance > WHOLE {
        discard;
    }
    return vec4(vec3(select(0.08, 1.0, distance <= CORE)), 1.0);
}
