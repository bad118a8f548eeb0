// The object in plain paint: one sRGB layer a side on the first UVs, not lit, no differences, nothing laid over it.
// Most pictures are, and the first one. A device reads this in a third of the time that all of `draw/surface` takes,
// which does the same and more.
#import frame
#import lib/cut
#import lib/compose
#import lib/display
#import lib/images
#import lib/wanted

// What plain paint needs of a vertex.
struct PlainOut {
    @builtin(position) clip: vec4<f32>,
    @location(0) uv: vec2<f32>,
};

@vertex
fn vertex_plain(@location(0) position: vec3<f32>, @location(2) uv: vec2<f32>) -> PlainOut {
    return PlainOut(in_cut(frame.clip_from_scene * vec4(position, 1.0)), uv);
}

fn plain_side(side: u32, image: texture_2d<f32>, by: sampler, place: Place) -> vec4<f32> {
    let factor = paint.factor[side];
    if paint.flags[side] == 0u {
        return factor;
    }
    let tiled = paint.tiled[4u * side];
    var foot = place.alike;
    if !ALIKE {
        foot = place_on(tiled, image, place.uv, place.dx, place.dy);
    }
    return grounded(image_at(tiled, false, image, by, foot) * factor, side);
}

@fragment
fn fragment_plain(in: PlainOut) -> @location(0) vec4<f32> {
    // Derivatives before any branch: neighbours may take the other one.
    let left = place_of(in.uv, 0u);
    var right = left;
    if !ALIKE {
        right = place_of(in.uv, 1u);
    }
    let shown = paint.flags.z;
    let shares = shares_at(in_picture(in.clip.xy), shown);
    var sides = array<vec4<f32>, 2>();
    if (shares.wanted & SHOWN_LEFT) != 0u {
        sides[0] = plain_side(0u, left_0, sampler_left, left);
    }
    if (shares.wanted & SHOWN_RIGHT) != 0u {
        sides[1] = plain_side(1u, right_0, sampler_right, right);
    }
    if frame.mode.x != COMPARE_BLEND && (shown & shares.wanted) == 0u {
        discard;
    }
    let colour = (1.0 - shares.right) * sides[0] + shares.right * sides[1];
    if colour.a < paint.cutoff.x {
        discard;
    }
    return for_display(colour);
}

@fragment
fn fragment_wanted_plain(in: PlainOut) -> @location(0) vec4<f32> {
    return wanted_at(in.uv);
}
