// The object: composes the left and the right appearance and decides between them, in one draw.
#import frame
#import lib/adaptation
#import lib/transfer
#import lib/compose

// The Rust twin is `ganosis_renderer::scene::SurfaceUniform`.
struct SurfacePaint {
    factor_left: vec4<f32>,
    factor_right: vec4<f32>,
    // Rows of the 2x3 matrix from UV to texture; w of the second row: alpha cutoff.
    uv_left_u: vec4<f32>,
    uv_left_v: vec4<f32>,
    uv_right_u: vec4<f32>,
    uv_right_v: vec4<f32>,
    // x: kind of the left paint, y: of the right (PAINT_*); z: shown in left 1, right 2;
    // w: FLAG_*.
    flags: vec4<u32>,
};

const PAINT_FLAT: u32 = 0u;
const PAINT_COLOUR: u32 = 1u;
const PAINT_BAND: u32 = 2u;
const SHOWN_LEFT: u32 = 1u;
const SHOWN_RIGHT: u32 = 2u;
const FLAG_UV1_LEFT: u32 = 1u;
const FLAG_UV1_RIGHT: u32 = 2u;
const FLAG_RELIEF: u32 = 4u;
const FLAG_LABELS: u32 = 8u;
const FLAG_P3_LEFT: u32 = 16u;
const FLAG_P3_RIGHT: u32 = 32u;
const FLAG_VERTEX_COLOUR: u32 = 64u;

@group(1) @binding(0) var<uniform> paint: SurfacePaint;
@group(1) @binding(1) var texture_left: texture_2d<f32>;
@group(1) @binding(2) var sampler_left: sampler;
@group(1) @binding(3) var texture_right: texture_2d<f32>;
@group(1) @binding(4) var sampler_right: sampler;
@group(1) @binding(5) var labels: texture_2d<u32>;

struct VertexIn {
    @location(0) position: vec3<f32>,
    @location(1) normal: vec4<f32>,
    @location(2) uv: vec2<f32>,
    @location(3) uv1: vec2<f32>,
    @location(4) colour: vec4<f32>,
};

struct VertexOut {
    @builtin(position) clip: vec4<f32>,
    @location(0) position: vec3<f32>,
    @location(1) normal: vec3<f32>,
    @location(2) uv: vec2<f32>,
    @location(3) uv1: vec2<f32>,
    @location(4) colour: vec4<f32>,
};

@vertex
fn vertex(in: VertexIn) -> VertexOut {
    var out: VertexOut;
    out.clip = frame.clip_from_scene * vec4(in.position, 1.0);
    out.position = in.position;
    out.normal = in.normal.xyz;
    out.uv = in.uv;
    out.uv1 = in.uv1;
    out.colour = in.colour;
    return out;
}

fn transformed(u: vec4<f32>, v: vec4<f32>, uv: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, uv) + u.z, dot(v.xy, uv) + v.z);
}

fn turned(u: vec4<f32>, v: vec4<f32>, d: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, d), dot(v.xy, d));
}

// The band map at a value 0..1, in linear light.
fn band_colour(value: f32) -> vec3<f32> {
    let x = clamp((value - frame.target_px.z) / max(frame.target_px.w - frame.target_px.z, 1e-6), 0.0, 1.0) * 255.0;
    let low = i32(floor(x));
    let a = textureLoad(band_colours, vec2(low, 0), 0).rgb;
    let b = textureLoad(band_colours, vec2(min(low + 1, 255), 0), 0).rgb;
    return mix(a, b, x - f32(low));
}

// Linear light of one side; a texel of `kind` as sampled.
fn painted(kind: u32, texel: vec4<f32>, factor: vec4<f32>, p3: bool) -> vec4<f32> {
    if kind == PAINT_BAND {
        return vec4(band_colour(texel.r), 1.0);
    }
    var colour = texel * factor;
    if p3 {
        colour = vec4(linear_srgb_from_linear_p3(colour.rgb), colour.a);
    }
    return colour;
}

fn label_at(uv: vec2<f32>) -> u32 {
    let size = vec2<f32>(textureDimensions(labels));
    let texel = clamp(floor(uv * size), vec2(0.0), size - 1.0);
    return textureLoad(labels, vec2<i32>(texel), 0).r;
}

// Outline of the selected region: light inside, dark outside, so that it is seen on any paint.
// 0 none, 1 light, 2 dark.
fn outline(uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> u32 {
    let chosen = frame.mode.y;
    let inside = label_at(uv) == chosen;
    let reach = 1.5 * frame.eye.w;
    var crossing = false;
    for (var i = 0; i < 8; i += 1) {
        let angle = f32(i) * 0.7853981633974483;
        let step = (dx * cos(angle) + dy * sin(angle)) * reach;
        crossing = crossing || ((label_at(uv + step) == chosen) != inside);
    }
    if !crossing {
        return 0u;
    }
    return select(2u, 1u, inside);
}

@fragment
fn fragment(in: VertexOut, @builtin(front_facing) front: bool) -> @location(0) vec4<f32> {
    let base_left = select(in.uv, in.uv1, (paint.flags.w & FLAG_UV1_LEFT) != 0u);
    let base_right = select(in.uv, in.uv1, (paint.flags.w & FLAG_UV1_RIGHT) != 0u);
    let uv_left = transformed(paint.uv_left_u, paint.uv_left_v, base_left);
    let uv_right = transformed(paint.uv_right_u, paint.uv_right_v, base_right);
    // Derivatives before any branch: neighbours may take the other one.
    let dx_left = turned(paint.uv_left_u, paint.uv_left_v, dpdx(base_left));
    let dy_left = turned(paint.uv_left_u, paint.uv_left_v, dpdy(base_left));
    let dx_right = turned(paint.uv_right_u, paint.uv_right_v, dpdx(base_right));
    let dy_right = turned(paint.uv_right_u, paint.uv_right_v, dpdy(base_right));
    let dx = dpdx(in.uv);
    let dy = dpdy(in.uv);
    let pixel = in.clip.xy;

    var right = share_of_right(pixel);
    if frame.mode.x == COMPARE_ONE || frame.mode.x == COMPARE_SWIPE {
        let shown = select(SHOWN_LEFT, SHOWN_RIGHT, right > 0.5);
        if (paint.flags.z & shown) == 0u {
            discard;
        }
    } else {
        // Parts in one appearance only are drawn alone, each with its own pass.
        if (paint.flags.z & SHOWN_LEFT) == 0u {
            right = 1.0;
        }
        if (paint.flags.z & SHOWN_RIGHT) == 0u {
            right = 0.0;
        }
    }
    var tint = vec4(1.0);
    if (paint.flags.w & FLAG_VERTEX_COLOUR) != 0u {
        tint = in.colour;
    }
    var colour = vec4(0.0);
    if right < 1.0 {
        var texel = vec4(1.0);
        if paint.flags.x != PAINT_FLAT {
            texel = textureSampleGrad(texture_left, sampler_left, uv_left, dx_left, dy_left);
        }
        colour += (1.0 - right) * painted(paint.flags.x, texel, paint.factor_left * tint, (paint.flags.w & FLAG_P3_LEFT) != 0u);
    }
    if right > 0.0 {
        var texel = vec4(1.0);
        if paint.flags.y != PAINT_FLAT {
            texel = textureSampleGrad(texture_right, sampler_right, uv_right, dx_right, dy_right);
        }
        colour += right * painted(paint.flags.y, texel, paint.factor_right * tint, (paint.flags.w & FLAG_P3_RIGHT) != 0u);
    }
    if colour.a < paint.uv_left_v.w {
        discard;
    }
    let relief = (paint.flags.w & FLAG_RELIEF) != 0u;
    if frame.mode.z != 0u || relief {
        var normal = normalize(in.normal);
        if !front {
            normal = -normal;
        }
        if frame.mode.z != 0u {
            let ambient = frame.light.w;
            let diffuse = max(dot(normal, frame.light.xyz), 0.0);
            colour = vec4(colour.rgb * (ambient + (1.0 - ambient) * 1.25 * diffuse), colour.a);
        } else {
            // Without an image there is nothing measured to show: plain relief, lit from the eye.
            let facing = max(dot(normal, normalize(frame.eye.xyz - in.position)), 0.0);
            colour = vec4(colour.rgb * (0.25 + 0.75 * facing), colour.a);
        }
    }
    if frame.mode.y != 0u && (paint.flags.w & FLAG_LABELS) != 0u {
        let line = outline(in.uv, dx, dy);
        if line == 1u {
            return vec4(1.0, 1.0, 1.0, 1.0);
        }
        if line == 2u {
            return vec4(0.0, 0.0, 0.0, 1.0);
        }
    }
    return vec4(encode_srgb(clamp(colour.rgb, vec3(0.0), vec3(1.0))), colour.a);
}
