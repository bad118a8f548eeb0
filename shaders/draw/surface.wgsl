// The object: composes the left and the right appearance and decides between them, in one draw.
#import frame
#import lib/adaptation
#import lib/transfer
#import lib/lab
#import lib/delta_e_2000
#import lib/compose
#import lib/patterns
#import lib/cut
#import lib/light
#import lib/tiles

// The Rust twin is `ganosis_renderer::SurfaceUniform`. Two of a kind: left, right.
struct SurfacePaint {
    // Multiplied with the lowest layer in linear light; the colour where there is no layer.
    factor: array<vec4<f32>, 2>,
    // Rows of the 2x3 matrix from UV to texture.
    uv_u: array<vec4<f32>, 2>,
    uv_v: array<vec4<f32>, 2>,
    // Layers from the lowest up, first the left ones: x: LAYER_* + 4 · row of the tone map + 32 · lines
    // of one value, y: weight 0..1, z and w: lower and upper end of a band (0..1 of its range; the
    // other way round inverts it).
    layers: array<vec4<f32>, 8>,
    // x, y: layers of the left, of the right; z: shown in left 1, right 2; w: FLAG_*.
    flags: vec4<u32>,
    // x: alpha below which nothing is drawn; y: number of the sheet.
    cutoff: vec4<f32>,
    // Of each layer, and of the region map, how it is cut into tiles: see `level_size`.
    tiled: array<vec4<u32>, 9>,
};

// Whether a layer may be a band or in Display P3, whether a side may have more than one layer, whether there may
// be light, whether differences are shown, and whether there may be anything else but plain paint: a lamp's colours,
// patterns, an outline, a section, lines of one value. Pipelines without are smaller, and faster, most where a
// processor draws.
override CONVERTED: bool = true;
override DEEP: bool = true;
override LIT: bool = true;
override DIFFERENCE: bool = true;
override RICH: bool = true;
// Whether nothing but a place on the sheet is needed of a vertex: every patch has its layers on the first UVs, no
// colours of its own, and what is drawn is not lit. A pipeline of the plain entry points has less to hand on.
override PLAIN: bool = false;
// Whether all images of both sides have one size and lie alike, so that a place on one is the place on all.
override ALIKE: bool = false;

const LAYER_COLOUR: u32 = 0u;
const LAYER_P3: u32 = 1u;
const LAYER_BAND: u32 = 2u;
const SHOWN_LEFT: u32 = 1u;
const SHOWN_RIGHT: u32 = 2u;
const FLAG_UV1_LEFT: u32 = 1u;
const FLAG_UV1_RIGHT: u32 = 2u;
const FLAG_RELIEF_LEFT: u32 = 4u;
const FLAG_RELIEF_RIGHT: u32 = 8u;
const FLAG_LABELS: u32 = 16u;
const FLAG_VERTEX_COLOUR: u32 = 32u;
// The one layer is a material of the mesh, with its own alpha.
const FLAG_MATERIAL_LEFT: u32 = 64u;
const FLAG_MATERIAL_RIGHT: u32 = 128u;
// A sheet without an image; `ganosis_viewer::content` has the same.
const BARE: vec3<f32> = vec3<f32>(0.6, 0.6, 0.6);

@group(1) @binding(0) var<uniform> paint: SurfacePaint;
@group(1) @binding(1) var left_0: texture_2d<f32>;
@group(1) @binding(2) var left_1: texture_2d<f32>;
@group(1) @binding(3) var left_2: texture_2d<f32>;
@group(1) @binding(4) var left_3: texture_2d<f32>;
@group(1) @binding(5) var sampler_left: sampler;
@group(1) @binding(6) var right_0: texture_2d<f32>;
@group(1) @binding(7) var right_1: texture_2d<f32>;
@group(1) @binding(8) var right_2: texture_2d<f32>;
@group(1) @binding(9) var right_3: texture_2d<f32>;
@group(1) @binding(10) var sampler_right: sampler;
@group(1) @binding(11) var labels: texture_2d<u32>;

struct VertexIn {
    @location(0) position: vec3<f32>,
    @location(1) normal: vec4<f32>,
    @location(2) uv: vec2<f32>,
    @location(3) uv1: vec2<f32>,
    @location(4) colour: vec4<f32>,
    @location(5) smooth_normal: vec2<f32>,
};

struct VertexOut {
    @builtin(position) clip: vec4<f32>,
    @location(0) position: vec3<f32>,
    // w: share of the sky that nothing of the object hides.
    @location(1) normal: vec4<f32>,
    @location(2) uv: vec2<f32>,
    @location(3) uv1: vec2<f32>,
    @location(4) colour: vec4<f32>,
    @location(5) smooth_normal: vec3<f32>,
};

// A direction from two numbers: the octahedron's faces unfolded onto a square (Q. Meyer et al., "On
// floating-point normal vectors", EGSR 2010).
fn unfolded(at: vec2<f32>) -> vec3<f32> {
    let z = 1.0 - abs(at.x) - abs(at.y);
    let back = max(-z, 0.0);
    return normalize(vec3(at - select(vec2(-back), vec2(back), at >= vec2(0.0)), z));
}

@vertex
fn vertex(in: VertexIn) -> VertexOut {
    var out: VertexOut;
    out.clip = in_cut(frame.clip_from_scene * vec4(in.position, 1.0));
    out.position = in.position;
    out.normal = in.normal;
    out.uv = in.uv;
    out.uv1 = in.uv1;
    out.colour = in.colour;
    out.smooth_normal = unfolded(in.smooth_normal);
    return out;
}

// What plain paint needs of a vertex.
struct PlainOut {
    @builtin(position) clip: vec4<f32>,
    @location(0) uv: vec2<f32>,
};

@vertex
fn vertex_plain(@location(0) position: vec3<f32>, @location(2) uv: vec2<f32>) -> PlainOut {
    return PlainOut(in_cut(frame.clip_from_scene * vec4(position, 1.0)), uv);
}

// What the rest of a vertex would be: nothing asks for it.
fn filled(in: PlainOut) -> VertexOut {
    return VertexOut(in.clip, vec3(0.0), vec4(0.0, 0.0, 1.0, 1.0), in.uv, in.uv, vec4(1.0), vec3(0.0, 0.0, 1.0));
}

// Modes that only rich pipelines have.
fn has_mode(mode: u32) -> bool {
    return RICH && (frame.mode.z & mode) != 0u;
}

// Flags that ask for more of a vertex than its place on the sheet.
fn has_flag(flag: u32) -> bool {
    return !PLAIN && (paint.flags.w & flag) != 0u;
}

fn transformed(u: vec4<f32>, v: vec4<f32>, uv: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, uv) + u.z, dot(v.xy, uv) + v.z);
}

fn turned(u: vec4<f32>, v: vec4<f32>, d: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, d), dot(v.xy, d));
}

// A tone map (its row) at a value 0..1, in linear light.
fn band_colour(value: f32, row: i32) -> vec3<f32> {
    let x = clamp(value, 0.0, 1.0) * 255.0;
    let low = i32(floor(x));
    let a = textureLoad(band_colours, vec2(low, row), 0).rgb;
    let b = textureLoad(band_colours, vec2(min(low + 1, 255), row), 0).rgb;
    return mix(a, b, x - f32(low));
}

// Half the width of a line of one value (CSS px); a choice of ours.
const LINE: f32 = 0.6;

// Ink of the lines of one value: `lines` equal parts of the values 0..1, of which `around` are those a
// pixel away. The steepest way counts: values in steps have places without any slope.
fn value_line(value: f32, around: vec4<f32>, lines: f32) -> f32 {
    let level = value * lines;
    let nearest = clamp(round(level), 1.0, max(lines - 1.0, 1.0));
    let away = abs(around - value);
    let slope = length(max(away.xy, away.zw)) * lines;
    if slope < 1e-5 {
        return 0.0;
    }
    return clamp(LINE * frame.eye.w + 0.5 - abs(level - nearest) / slope, 0.0, 1.0);
}

// A texel that covers more pixels than this is shown with sharp edges; from half as many on its edges
// begin to sharpen. Choices of ours.
const CRISP: f32 = 8.0;

// A place on the images like this one. Enlarged far, a texel is an even square with an edge of one pixel.
fn place_on(tiled: vec4<u32>, image: texture_2d<f32>, uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> Footprint {
    let size = select(vec2<f32>(tiled.yz), vec2<f32>(textureDimensions(image)), tiled.x == 0u);
    // Texels that a pixel covers, along u and v.
    let wide = (abs(dx) + abs(dy)) * size;
    let place = uv * size - 0.5;
    let edge = mix(vec2(1.0), max(wide, vec2(1e-4)), clamp(2.0 - CRISP * wide, vec2(0.0), vec2(1.0)));
    let between = clamp((fract(place) - 0.5) / edge + 0.5, vec2(0.0), vec2(1.0));
    let crisp = (floor(place) + 0.5 + between) / size;
    return footprint(tiled, select(crisp, uv, max(wide.x, wide.y) >= 2.0 / CRISP), dx, dy);
}

// A place on the textures of one side, and the same found on the images of both, where they are alike.
struct Place {
    uv: vec2<f32>,
    dx: vec2<f32>,
    dy: vec2<f32>,
    alike: Footprint,
};

// Linear light of a layer at a place of its texture.
fn painted(number: u32, image: texture_2d<f32>, by: sampler, place: Place) -> vec4<f32> {
    let layer = paint.layers[number];
    let tiled = paint.tiled[number];
    let code = u32(layer.x);
    let kind = code & 3u;
    let band = CONVERTED && kind == LAYER_BAND;
    let lines = f32(code >> 5u);
    // For lines of one value those a pixel away are needed too.
    var around = vec4(0.0);
    if RICH {
        for (var i = 0u; i < 4u && band && lines > 1.0; i += 1u) {
            let step = select(place.dx, place.dy, (i & 1u) == 1u) * select(1.0, -1.0, i > 1u);
            let near = place_on(tiled, image, place.uv + step, place.dx, place.dy);
            around[i] = image_at(tiled, band, image, by, near).r;
        }
    }
    var foot = place.alike;
    if !ALIKE {
        foot = place_on(tiled, image, place.uv, place.dx, place.dy);
    }
    let texel = image_at(tiled, band, image, by, foot);
    if band {
        let span = layer.w - layer.z;
        let scale = 1.0 / select(span, 1e-6, abs(span) < 1e-6);
        let value = (texel.r - layer.z) * scale;
        var rgb = band_colour(value, i32((code >> 2u) & 7u));
        if lines > 1.0 {
            let dark = dot(rgb, vec3(0.2126, 0.7152, 0.0722)) > EVEN_CONTRAST;
            let ink = value_line(value, (around - layer.z) * scale, lines);
            rgb = mix(rgb, select(vec3(1.0), vec3(0.0), dark), ink);
        }
        return vec4(rgb, 1.0);
    }
    if CONVERTED && kind == LAYER_P3 {
        return vec4(linear_srgb_from_linear_p3(texel.rgb), texel.a);
    }
    return texel;
}

// Lines over paint are black where it is lighter than this, white elsewhere: the luminance whose contrast to
// both is the same by WCAG 2.2, (1 + 0.05) / (Y + 0.05) = (Y + 0.05) / 0.05.
const EVEN_CONTRAST: f32 = 0.179;

// A layer over what is below it.
fn laid_over(below: vec4<f32>, top: vec4<f32>, weight: f32) -> vec4<f32> {
    return vec4(mix(below.rgb, top.rgb, top.a * weight), below.a);
}

fn left_side(place: Place, tint: vec4<f32>) -> vec4<f32> {
    let factor = paint.factor[0] * tint;
    let count = paint.flags.x;
    if count == 0u {
        return factor;
    }
    let ground = painted(0u, left_0, sampler_left, place) * factor;
    // A material is as it is; the lowest layer of a dossier lies over the bare surface.
    var colour = select(laid_over(vec4(BARE, 1.0), ground, paint.layers[0].y), ground, (paint.flags.w & FLAG_MATERIAL_LEFT) != 0u);
    if DEEP && count > 1u {
        colour = laid_over(colour, painted(1u, left_1, sampler_left, place), paint.layers[1].y);
    }
    if DEEP && count > 2u {
        colour = laid_over(colour, painted(2u, left_2, sampler_left, place), paint.layers[2].y);
    }
    if DEEP && count > 3u {
        colour = laid_over(colour, painted(3u, left_3, sampler_left, place), paint.layers[3].y);
    }
    return colour;
}

fn right_side(place: Place, tint: vec4<f32>) -> vec4<f32> {
    let factor = paint.factor[1] * tint;
    let count = paint.flags.y;
    if count == 0u {
        return factor;
    }
    let ground = painted(4u, right_0, sampler_right, place) * factor;
    // A material is as it is; the lowest layer of a dossier lies over the bare surface.
    var colour = select(laid_over(vec4(BARE, 1.0), ground, paint.layers[4].y), ground, (paint.flags.w & FLAG_MATERIAL_RIGHT) != 0u);
    if DEEP && count > 1u {
        colour = laid_over(colour, painted(5u, right_1, sampler_right, place), paint.layers[5].y);
    }
    if DEEP && count > 2u {
        colour = laid_over(colour, painted(6u, right_2, sampler_right, place), paint.layers[6].y);
    }
    if DEEP && count > 3u {
        colour = laid_over(colour, painted(7u, right_3, sampler_right, place), paint.layers[7].y);
    }
    return colour;
}

fn label_at(uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> u32 {
    return number_at(paint.tiled[8], labels, uv, dx, dy);
}

// Rows of the region table: two of three rows for the lamp (left, right), one for the overlay.
const TABLE_ROWS: u32 = 7u;
const TABLE_WIDTH: u32 = 256u;

fn table_row(region: u32, row: u32) -> vec4<f32> {
    let y = (region / TABLE_WIDTH) * TABLE_ROWS + row;
    return textureLoad(region_table, vec2<i32>(i32(region % TABLE_WIDTH), i32(y)), 0);
}

// Light of one side (0 left, 1 right) under the chosen lamp.
fn under_lamp(colour: vec4<f32>, region: u32, side: u32) -> vec4<f32> {
    if !RICH || (frame.mode.z & MODE_LAMP) == 0u {
        return colour;
    }
    let row = side * 3u;
    return vec4(
        dot(table_row(region, row).xyz, colour.rgb),
        dot(table_row(region, row + 1u).xyz, colour.rgb),
        dot(table_row(region, row + 2u).xyz, colour.rgb),
        colour.a,
    );
}

// Outline of the selected region: light inside, dark outside, so that it is seen on any paint.
// 0 none, 1 light, 2 dark.
fn outline(uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> u32 {
    let chosen = frame.mode.y;
    let inside = label_at(uv, dx, dy) == chosen;
    let reach = 1.5 * frame.eye.w;
    var crossing = false;
    for (var i = 0; i < 8; i += 1) {
        let angle = f32(i) * 0.7853981633974483;
        let step = (dx * cos(angle) + dy * sin(angle)) * reach;
        crossing = crossing || ((label_at(uv + step, dx, dy) == chosen) != inside);
    }
    if !crossing {
        return 0u;
    }
    return select(2u, 1u, inside);
}

// Everything both entry points need of a pixel.
struct Sides {
    left: vec4<f32>,
    right: vec4<f32>,
    region: u32,
};

// On the textures of a side (0 left, 1 right).
fn place_of(in: VertexOut, side: u32, second_uvs: u32) -> Place {
    let base = select(in.uv, in.uv1, has_flag(second_uvs));
    let u = paint.uv_u[side];
    let v = paint.uv_v[side];
    var place: Place;
    place.uv = transformed(u, v, base);
    place.dx = turned(u, v, dpdx(base));
    place.dy = turned(u, v, dpdy(base));
    if ALIKE {
        place.alike = place_on(paint.tiled[0], left_0, place.uv, place.dx, place.dy);
    }
    return place;
}

// `wanted`: SHOWN_LEFT, SHOWN_RIGHT or both.
fn sides_at(in: VertexOut, wanted: u32) -> Sides {
    // Derivatives before any branch: neighbours may take the other one.
    let left = place_of(in, 0u, FLAG_UV1_LEFT);
    var right = left;
    if !ALIKE {
        right = place_of(in, 1u, FLAG_UV1_RIGHT);
    }
    var tint = vec4(1.0);
    if has_flag(FLAG_VERTEX_COLOUR) {
        tint = in.colour;
    }
    var sides: Sides;
    let dx_labels = dpdx(in.uv);
    let dy_labels = dpdy(in.uv);
    if (RICH || LIT) && (paint.flags.w & FLAG_LABELS) != 0u {
        sides.region = label_at(in.uv, dx_labels, dy_labels);
    }
    // Without an image there is nothing measured to show: plain relief, lit from the eye.
    let facing = abs(dot(normalize(in.normal.xyz), normalize(frame.eye.xyz - in.position)));
    let relief = 0.25 + 0.75 * facing;
    let lit = (frame.mode.z & MODE_LIT) != 0u;
    if (wanted & SHOWN_LEFT) != 0u {
        sides.left = under_lamp(left_side(left, tint), sides.region, 0u);
        if has_flag(FLAG_RELIEF_LEFT) && !lit {
            sides.left = vec4(sides.left.rgb * relief, sides.left.a);
        }
    }
    if (wanted & SHOWN_RIGHT) != 0u {
        sides.right = under_lamp(right_side(right, tint), sides.region, 1u);
        if has_flag(FLAG_RELIEF_RIGHT) && !lit {
            sides.right = vec4(sides.right.rgb * relief, sides.right.a);
        }
    }
    return sides;
}

fn difference_of(left: vec3<f32>, sides: Sides) -> f32 {
    // Most of an object is the same in two states.
    if all(sides.left.rgb == sides.right.rgb) {
        return 0.0;
    }
    return delta_e_2000(left, lab_from_linear_srgb(sides.right.rgb));
}

// Differences through the band map; below the threshold the left side's lightness alone, so that
// the object can still be read.
fn difference_colour(sides: Sides) -> vec4<f32> {
    let left = lab_from_linear_srgb(sides.left.rgb);
    let difference = difference_of(left, sides);
    if difference < frame.difference.x {
        // A grey of this lightness, which is above that of CIELAB's straight part.
        let root = (35.0 + 0.4 * left.x + 16.0) / 116.0;
        return vec4(vec3(root * root * root), 1.0);
    }
    return vec4(band_colour(difference / max(frame.difference.y, 1e-3), 0), 1.0);
}

// A side in the light there is.
fn in_light(colour: vec4<f32>, in: VertexOut, front: bool, finish: f32) -> vec4<f32> {
    // Relief is what the normal departs from the smoothed one.
    let even = normalize(in.smooth_normal);
    var normal = normalize(even + frame.sky.w * (normalize(in.normal.xyz) - even));
    if !front {
        normal = -normal;
    }
    let open = mix(1.0, clamp(in.normal.w, 0.0, 1.0), frame.light.y);
    let to_eye = normalize(frame.eye.xyz - in.position);
    return vec4(lit(colour.rgb, in.position, normal, to_eye, open, u32(finish)), colour.a);
}

// Light of the inner side of what is cut open, and of the line of the cut: neutral greys, choices of ours.
const INNER: f32 = 0.16;
// Width of the line, half of it dark (CSS px); a choice of ours.
const CUT_LINE: f32 = 2.5;

// Encoded for the target.
fn for_display(colour: vec4<f32>) -> vec4<f32> {
    var rgb = colour.rgb;
    if (frame.mode.z & MODE_WIDE) != 0u {
        rgb = linear_p3_from_linear_srgb(rgb);
    }
    return vec4(encode_srgb(clamp(rgb, vec3(0.0), vec3(1.0))), colour.a);
}

@fragment
fn fragment(in: VertexOut, @builtin(front_facing) front: bool) -> @location(0) vec4<f32> {
    return drawn(in, front);
}

@fragment
fn fragment_plain(in: PlainOut) -> @location(0) vec4<f32> {
    return drawn(filled(in), true);
}

fn drawn(in: VertexOut, front: bool) -> vec4<f32> {
    let dx = dpdx(in.uv);
    let dy = dpdy(in.uv);
    // How far before the plane of a section, in metres and in pixels.
    var away = 0.0;
    var away_px = 0.0;
    if has_mode(MODE_SECTION) {
        away = dot(frame.section.xyz, in.position) - frame.section.w;
        away_px = away / max(length(vec2(dpdx(away), dpdy(away))), 1e-9);
    }
    let pixel = in_picture(in.clip.xy);
    let shown = paint.flags.z;
    var right = 0.0;
    if !DIFFERENCE {
        right = share_of_right(pixel);
    }
    var wanted = select(SHOWN_LEFT, SHOWN_RIGHT, right > 0.5);
    if !DIFFERENCE && frame.mode.x == COMPARE_SWIPE && !in_strip(pixel) {
        wanted = 0u;
    }
    if !DIFFERENCE && frame.mode.x == COMPARE_BLEND {
        // Parts in one appearance only are drawn alone, each with its own pass.
        right = select(right, 1.0, (shown & SHOWN_LEFT) == 0u);
        right = select(right, 0.0, (shown & SHOWN_RIGHT) == 0u);
        wanted = select(0u, SHOWN_LEFT, right < 1.0) | select(0u, SHOWN_RIGHT, right > 0.0);
    }
    if !DIFFERENCE && frame.mode.x == COMPARE_LOUPE {
        // What is there in one of the two only ends at the middle of the soft edge.
        if shown != (SHOWN_LEFT | SHOWN_RIGHT) {
            right = select(0.0, 1.0, right > 0.5);
        }
        wanted = select(0u, SHOWN_LEFT, right < 1.0) | select(0u, SHOWN_RIGHT, right > 0.0);
    }
    if DIFFERENCE {
        wanted = SHOWN_LEFT | SHOWN_RIGHT;
    }
    var sides = sides_at(in, wanted);
    if has_mode(MODE_SECTION) && away > 0.0 {
        discard;
    }
    if LIT && (frame.mode.z & MODE_LIT) != 0u && !DIFFERENCE {
        var finish = vec2(0.0);
        if (paint.flags.w & FLAG_LABELS) != 0u {
            finish = table_row(sides.region, 6u).zw;
        }
        if (wanted & SHOWN_LEFT) != 0u {
            sides.left = in_light(sides.left, in, front, finish.x);
        }
        if (wanted & SHOWN_RIGHT) != 0u {
            sides.right = in_light(sides.right, in, front, finish.y);
        }
    }
    if frame.mode.x != COMPARE_BLEND && !DIFFERENCE && (shown & wanted) == 0u {
        discard;
    }
    var colour = vec4(0.0);
    if DIFFERENCE {
        if shown == (SHOWN_LEFT | SHOWN_RIGHT) {
            colour = difference_colour(sides);
        } else {
            // There in one of the two only: no colour to compare.
            let ink = hatching(pixel / frame.eye.w, PATTERN_DIAGONAL, 1.0 / frame.eye.w);
            colour = vec4(vec3(mix(0.75, 0.05, ink)), 1.0);
        }
    } else {
        colour = (1.0 - right) * sides.left + right * sides.right;
        if colour.a < paint.cutoff.x {
            discard;
        }
    }
    if has_mode(MODE_SECTION) {
        let half_line = max(0.5 * CUT_LINE * frame.eye.w, 1.0);
        if away_px > -2.0 * half_line {
            let ink = select(0.0, 1.0, away_px > -half_line);
            return vec4(vec3(ink), 1.0);
        }
        if !front {
            let facing = abs(dot(normalize(in.normal.xyz), normalize(frame.eye.xyz - in.position)));
            return for_display(vec4(vec3(INNER * (0.5 + 0.5 * facing)), 1.0));
        }
    }
    if has_mode(MODE_OVERLAY) && (paint.flags.w & FLAG_LABELS) != 0u {
        let side = select(0u, 1u, right > 0.5);
        let row = table_row(sides.region, 6u);
        let pattern = u32(select(row.x, row.y, side == 1u));
        let ink = hatching(pixel / frame.eye.w, pattern, 1.0 / frame.eye.w);
        // Dark or light, whichever the paint below is not: seen on every colour.
        let dark = dot(colour.rgb, vec3(0.2126, 0.7152, 0.0722)) > EVEN_CONTRAST;
        colour = vec4(mix(colour.rgb, select(vec3(1.0), vec3(0.0), dark), ink * frame.difference.z), colour.a);
    }
    if RICH && frame.mode.y != 0u && (paint.flags.w & FLAG_LABELS) != 0u {
        let line = outline(in.uv, dx, dy);
        if line == 1u {
            return vec4(1.0, 1.0, 1.0, 1.0);
        }
        if line == 2u {
            return vec4(0.0, 0.0, 0.0, 1.0);
        }
    }
    return for_display(colour);
}

// Numbers instead of colours, for statistics: the difference in hundredths (low byte, high byte),
// then the region's number. 65535 in both is no surface.
@fragment
fn fragment_measure(in: VertexOut) -> @location(0) vec4<f32> {
    let sides = sides_at(in, SHOWN_LEFT | SHOWN_RIGHT);
    if has_mode(MODE_SECTION) && dot(frame.section.xyz, in.position) > frame.section.w {
        discard;
    }
    if paint.flags.z != (SHOWN_LEFT | SHOWN_RIGHT) {
        discard;
    }
    let hundredths = u32(clamp(round(difference_of(lab_from_linear_srgb(sides.left.rgb), sides) * 100.0), 0.0, 65534.0));
    let bytes = vec4(hundredths & 255u, hundredths >> 8u, sides.region & 255u, sides.region >> 8u);
    return vec4<f32>(bytes) / 255.0;
}

// Which tiles a picture needs, in numbers: where on which sheet, and how fine. Two sides of a hundred
// layers ask for the same, since all share the places. The last sheet is no surface.
// 10 bits each of u and v, 7 bits of eight times the binary logarithm of the footprint's inverse, 5 of
// the sheet.
@fragment
fn fragment_wanted(in: VertexOut) -> @location(0) vec4<f32> {
    return wanted_of(in);
}

@fragment
fn fragment_wanted_plain(in: PlainOut) -> @location(0) vec4<f32> {
    return wanted_of(filled(in));
}

fn wanted_of(in: VertexOut) -> vec4<f32> {
    let dx = dpdx(in.uv);
    let dy = dpdy(in.uv);
    if has_mode(MODE_SECTION) && dot(frame.section.xyz, in.position) > frame.section.w {
        discard;
    }
    let fine = u32(clamp(-8.0 * log2(narrow_side(dx, dy)), 0.0, 127.0));
    let place = vec2<u32>(fract(in.uv) * 1024.0);
    let bytes = vec4(
        place.x & 255u,
        place.y & 255u,
        (place.x >> 8u) | ((place.y >> 8u) << 2u) | ((fine & 15u) << 4u),
        (fine >> 4u) | (u32(paint.cutoff.y) << 3u),
    );
    return vec4<f32>(bytes) / 255.0;
}
