// Images of the paint at a place of the surface, whole or in tiles.
#import lib/paint
#import lib/tiles

// Where on images of one size, cut alike, a footprint lies.
struct Footprint {
    uv: vec2<f32>,
    dx: vec2<f32>,
    dy: vec2<f32>,
    // The finer of the two levels it lies between, and its share of the other.
    level: u32,
    share: f32,
    // Number within the image of the tile at either level.
    number: vec2<u32>,
};

// A level of an image: x, y: its tiles across and down, the last of which may be a part; z: number of its first tile
// in the image; w: tiles in a row. Whole numbers that f32 holds exactly.
fn level_of(tiled: vec4<u32>, level: u32) -> vec4<f32> {
    if ALIKE {
        return paint.levels[level];
    }
    let size = vec2<f32>(level_size(tiled, level)) / f32(TILE_PX);
    return vec4(size, f32(first_of_level(tiled, level)), ceil(size.x));
}

// A place on an image that goes on beyond its borders. Rounding may bring it to 1, which is no place in the image.
fn inside_of(uv: vec2<f32>) -> vec2<f32> {
    return min(fract(uv), vec2(0.9999999));
}

fn transformed(u: vec4<f32>, v: vec4<f32>, uv: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, uv) + u.z, dot(v.xy, uv) + v.z);
}

fn turned(u: vec4<f32>, v: vec4<f32>, d: vec2<f32>) -> vec2<f32> {
    return vec2(dot(u.xy, d), dot(v.xy, d));
}

// A texel that covers more pixels than this is shown with sharp edges; from half as many on its edges
// begin to sharpen. Choices of ours.
const CRISP: f32 = 8.0;

// A place on the images like this one. Enlarged far, a texel is an even square with an edge of one pixel.
fn place_on(tiled: vec4<u32>, image: texture_2d<f32>, uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> Footprint {
    let size = select(vec2<f32>(tiled.yz), vec2<f32>(textureDimensions(image)), tiled.x == 0u);
    // Texels that a pixel covers, along u and v.
    let wide = (abs(dx) + abs(dy)) * size;
    var at = uv;
    if max(wide.x, wide.y) < 2.0 / CRISP {
        let place = uv * size - 0.5;
        let edge = mix(vec2(1.0), max(wide, vec2(1e-4)), clamp(2.0 - CRISP * wide, vec2(0.0), vec2(1.0)));
        let between = clamp((fract(place) - 0.5) / edge + 0.5, vec2(0.0), vec2(1.0));
        at = (floor(place) + 0.5 + between) / size;
    }
    return footprint(tiled, at, dx, dy);
}

// A place on the textures of one side, and the same found on the images of both, where they are alike.
struct Place {
    uv: vec2<f32>,
    dx: vec2<f32>,
    dy: vec2<f32>,
    alike: Footprint,
};

// On the textures of a side (0 left, 1 right), from a vertex's UVs.
fn place_of(base: vec2<f32>, side: u32) -> Place {
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

// Number within the image of the tile of a level that has a place.
fn number_of_tile(tiled: vec4<u32>, number: u32, uv: vec2<f32>) -> u32 {
    let level = level_of(tiled, number);
    let cell = floor(inside_of(uv) * level.xy);
    return u32(level.z + cell.y * level.w + cell.x);
}

fn footprint(tiled: vec4<u32>, uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> Footprint {
    var foot: Footprint;
    foot.uv = uv;
    foot.dx = dx;
    foot.dy = dy;
    if TILED && tiled.x != 0u {
        let size = vec2<f32>(tiled.yz);
        let lod = clamp(log2(narrow_side(dx * size, dy * size)), 0.0, f32(tiled.w));
        foot.level = u32(lod);
        foot.share = lod - f32(foot.level);
        foot.number = vec2(number_of_tile(tiled, foot.level, uv), number_of_tile(tiled, foot.level + 1u, uv));
    }
    return foot;
}

// An image at a place, filtered as a whole texture is (Vulkan 1.3, 16.5.7 "Texel Anisotropic Filtering"):
// between the two levels that lie nearest to the footprint.
fn image_at(tiled: vec4<u32>, band: bool, image: texture_2d<f32>, by: sampler, foot: Footprint) -> vec4<f32> {
    if !TILED || tiled.x == 0u {
        return textureSampleGrad(image, by, foot.uv, foot.dx, foot.dy);
    }
    var colour = vec4(0.0);
    // What is left to the base, which has levels of its own.
    var rest = 1.0;
    // A loop, since drawing in software takes both ways of a branch.
    for (var next = 0u; next < 2u && foot.level + next < tiled.w; next += 1u) {
        let further = next == 1u;
        let weight = select(1.0 - foot.share, foot.share, further);
        if weight <= 0.0 {
            continue;
        }
        let tile = tile_at(tiled, select(foot.number.x, foot.number.y, further));
        if tile.level >= tiled.w {
            continue;
        }
        let there = level_of(tiled, tile.level).xy * f32(TILE_PX);
        let at = (inside_of(foot.uv) * there + tile.offset) / PAGE_PX;
        let step = there / PAGE_PX;
        if band {
            colour += weight * textureSampleGrad(band_tiles, tile_sampler, at, tile.page, foot.dx * step, foot.dy * step);
        } else {
            colour += weight * textureSampleGrad(colour_tiles, tile_sampler, at, tile.page, foot.dx * step, foot.dy * step);
        }
        rest -= weight;
    }
    if rest > 0.0 {
        colour += rest * textureSampleGrad(image, by, foot.uv, foot.dx, foot.dy);
    }
    return colour;
}
