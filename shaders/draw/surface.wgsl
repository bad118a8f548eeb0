// The object: composes the left and the right appearance and decides between them, in one draw. Its text follows
// that of `draw/plain`, which draws most pictures by itself.
#import draw/plain
#import lib/adaptation
#import lib/lab
#import lib/delta_e_2000
#import lib/patterns
#import lib/light
#import lib/numbers

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
// colours of its own, and what is drawn is not lit. A pipeline of these entry points has less to hand on.
override PLAIN: bool = false;

const LAYER_COLOUR: u32 = 0u;
const LAYER_P3: u32 = 1u;
const LAYER_BAND: u32 = 2u;
const FLAG_UV1_LEFT: u32 = 1u;
const FLAG_UV1_RIGHT: u32 = 2u;
const FLAG_RELIEF_LEFT: u32 = 4u;
const FLAG_RELIEF_RIGHT: u32 = 8u;
const FLAG_LABELS: u32 = 16u;
const FLAG_VERTEX_COLOUR: u32 = 32u;

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

// `wanted`: SHOWN_LEFT, SHOWN_RIGHT or both.
fn sides_at(in: VertexOut, wanted: u32) -> Sides {
    // Derivatives before any branch: neighbours may take the other one.
    let left = place_of(select(in.uv, in.uv1, has_flag(FLAG_UV1_LEFT)), 0u);
    var right = left;
    if !ALIKE {
        right = place_of(select(in.uv, in.uv1, has_flag(FLAG_UV1_RIGHT)), 1u);
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

@fragment
fn fragment(in: VertexOut, @builtin(front_facing) front: bool) -> @location(0) vec4<f32> {
    return drawn(in, front);
}

// Of a vertex only its place on the sheet, as plain paint has it, but more than that to draw.
@fragment
fn fragment_by_place(in: PlainOut) -> @location(0) vec4<f32> {
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
    var shares = Shares(0.0, SHOWN_LEFT | SHOWN_RIGHT);
    if !DIFFERENCE {
        shares = shares_at(pixel, shown);
    }
    let right = shares.right;
    let wanted = shares.wanted;
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

// Which tiles a picture needs.
@fragment
fn fragment_wanted(in: VertexOut) -> @location(0) vec4<f32> {
    let wanted = wanted_at(in.uv);
    if has_mode(MODE_SECTION) && dot(frame.section.xyz, in.position) > frame.section.w {
        discard;
    }
    return wanted;
}
